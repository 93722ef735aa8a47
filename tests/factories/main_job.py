"""The lab's main job from end to end, as two scripts do it: a member's and an admin's."""

from collections.abc import Callable
from dataclasses import dataclass

from tests.factories.rolls import BASE_FOG, soft_toe_densities
from tests.factories.scripts import Script

LOG_EXPOSURE_CLEAR = 0.9


@dataclass(frozen=True)
class MainJob:
    """Who does it, and how to wait for the jobs that they cause."""

    member: Script
    warden: Script
    finish_jobs: Callable[[], object]

    def run(self) -> None:
        """From no standard to the difference between two stocks, with every answer looked at on the way."""
        process, exposure = self.set_standards()
        results = {}
        for name, speed_point in (("Alder 100", -1.6), ("Birch 200", -1.9)):
            stock = self.member.does(
                "post", "stocks/", {"name": name, "maker": "Fenwick Works", "box_speed": 100}, status=201
            )
            batch = self.member.does(
                "post", f"stocks/{stock['id']}/batches/", {"emulsion_number": "0417"}, status=201
            )
            results[name] = stock["id"]
            roll_id = self.planned_roll(batch, process, exposure)
            self.read_strip(roll_id, speed_point)
            self.accept_roll(roll_id)
        assert self.warden.get("comparison/")["lab_spread"]["standard_deviations"] == {}
        self.warden.does(
            "post",
            "references/",
            {
                "stock_id": results["Alder 100"],
                "process_revision_id": process["id"],
                "exposure_revision_id": exposure["id"],
                "reason": "the film we know best",
            },
            status=201,
        )
        comparison = self.member.get("comparison/", f"stock={results['Birch 200']}")
        assert [stock["stock"]["name"] for stock in comparison["stocks"]] == ["Alder 100", "Birch 200"]
        difference = comparison["stocks"][1]["comparison"]
        shift = difference["measures"]["speed_shift_stops"]
        # Made 0.30 faster in log exposure, which is one stop; the 95 % interval has to hold it.
        assert shift["low"] <= 0.30 / 0.30103 <= shift["high"]
        assert any("faster" in sentence["text"] for sentence in difference["sentences"])

    def set_standards(self) -> tuple[dict, dict]:
        """A process and an exposure standard in force, with a tablet of 21 steps."""
        tablet = self.warden.does(
            "post",
            "step-tablets/",
            {
                "name": "Tablet A",
                "calibrated_on": "2026-03-02",
                "source": "certificate 118",
                "density_sd": 0.01,
                "densities": [round(0.05 + 0.15 * index, 2) for index in range(21)],
            },
            status=201,
        )
        self.enforce("tablet-revisions", tablet)
        exposure = self.warden.does(
            "post",
            "exposure-standards/",
            {
                "name": "Daylight contact",
                "tablet_id": tablet["tablet_id"],
                "light": "lamp with daylight filter",
                "colour_temperature_k": 5500,
                "exposure_time_s": 0.05,
                "log_exposure_clear": LOG_EXPOSURE_CLEAR,
                "log_exposure_sd": 0.03,
            },
            status=201,
        )
        process = self.warden.does(
            "post",
            "process-standards/",
            {
                "name": "House process",
                "purpose": "to compare stocks",
                "developer": "Hearth D",
                "temperature_c": 20.0,
                "temperature_tolerance_c": 0.5,
                "development_time_s": 510,
                "agitation": "first 30 s, then 5 s in every 30 s",
            },
            status=201,
        )
        return self.enforce("process-revisions", process), self.enforce("exposure-revisions", exposure)

    def enforce(self, kind: str, draft: dict) -> dict:
        """Put a draft in force as it was read."""
        return self.warden.does("post", f"{kind}/{draft['id']}/enforce/", {"seen": draft["fingerprint"]})

    def planned_roll(self, batch: dict, process: dict, exposure: dict) -> int:
        """A planned roll with its run."""
        planned = self.member.does(
            "post",
            "rolls/",
            {
                "batch_id": batch["id"],
                "process_revision_id": process["id"],
                "exposure_revision_id": exposure["id"],
                "exposed_on": "2026-05-03",
            },
            status=201,
        )
        assert planned["next_step"] == {"code": "record_run", "is_mine": True}
        run = self.member.does(
            "post",
            "process-runs/",
            {
                "revision_id": process["id"],
                "ran_on": "2026-05-04",
                "temperature_start_c": 20.1,
                "development_time_s": 512,
            },
            status=201,
        )
        assert run["control_state"] == "unproven"
        roll_id = planned["roll"]["id"]
        roll = self.member.does("post", f"rolls/{roll_id}/assign-run/", {"run_id": run["id"]})
        assert roll["next_step"] == {"code": "enter_readings", "is_mine": True}
        return roll_id

    def read_strip(self, roll_id: int, speed_point: float) -> None:
        """Send what a densitometer would read, fit it and look at the curve."""
        address = f"rolls/{roll_id}/strips/1/readings/"
        grid = self.member.get(address)
        assert grid["readings"] == []
        truth = soft_toe_densities([step["log_exposure"] for step in grid["steps"]], speed_point=speed_point)
        cells = [
            {"step": step["step"], "replicate": replicate, "density": round(float(density) + wobble, 2)}
            for step, density in zip(grid["steps"], truth, strict=True)
            for replicate, wobble in ((1, -0.005), (2, 0.005))
        ]
        cells += [{"step": "unexposed", "replicate": n, "density": BASE_FOG} for n in (1, 2, 3)]
        stored = self.member.does("put", address, {"readings": cells, "version": grid["version"]})
        assert len(stored["readings"]) == 45
        assert stored["warnings"] == []
        assert stored["job"]["state"] == "queued"
        self.finish_jobs()
        assert self.member.get(f"jobs/{stored['job']['id']}/")["state"] == "done"
        analysis = self.member.get(f"rolls/{roll_id}/analysis/")
        speed = analysis["measures"]["speed_point_log_exposure"]
        assert speed["low"] <= speed_point <= speed["high"]
        assert analysis["is_standing"]
        assert len(analysis["input_digest"]) == 64
        assert self.member.get(f"analyses/{analysis['id']}/") == analysis

    def accept_roll(self, roll_id: int) -> None:
        """Submit as the member, accept as the admin, and let the stock be pooled."""
        submitted = self.member.does("post", f"rolls/{roll_id}/submit/")
        assert submitted["roll"]["state"] == "submitted"
        seen = self.warden.get(f"rolls/{roll_id}/")
        assert seen["actions"]["can_review"]
        accepted = self.warden.does(
            "post",
            f"rolls/{roll_id}/accept/",
            {"reasons": "clean curve", "seen_analysis_id": seen["roll"]["analysis_id"]},
        )
        assert accepted["roll"]["state"] == "accepted"
        assert [review["decision"] for review in accepted["reviews"]] == ["accepted"]
        self.finish_jobs()
        results = self.member.get("stock-results/", f"stock_id={accepted['roll']['stock']['id']}")["results"]
        whole = self.member.get(f"stock-results/{results[0]['id']}/")
        assert whole["measures"] == results[0]["measures"]
        assert whole["analysis_ids"] == [accepted["roll"]["analysis_id"]]
        assert whole["is_standing"]
