"""Process standards: what a revision fixes about developing, and what must hold for it."""

from curves.models import ProcessRevision, ProcessStandard
from curves.models.processes import TimeRule
from curves.services.standard_kinds import Problems, StandardKind, Values

# Outside these no black-and-white process is run, so a value there is a slip of the pen (200 for 20.0).
# Common practice, no source.
LOWEST_C, HIGHEST_C = 10.0, 45.0
SHORTEST_S, LONGEST_S = 10, 7200


class ProcessKind(StandardKind):
    """Developer, temperature, time, agitation and the baths after it."""

    standard_model = ProcessStandard
    revision_model = ProcessRevision
    noun = "process standard"
    fields = (
        "developer",
        "dilution",
        "temperature_c",
        "temperature_tolerance_c",
        "time_rule",
        "development_time_s",
        "time_tolerance_s",
        "aim_contrast",
        "agitation",
        "stop_bath",
        "fixer",
        "wash",
        "cautions",
        "agitation_initial_s",
        "agitation_every_s",
        "agitation_for_s",
        "stop_s",
        "fix_s",
        "wash_s",
        "developer_keeps_days",
        "developer_films",
    )
    bounds = {
        "temperature_c": (LOWEST_C, HIGHEST_C, "°C"),
        "temperature_tolerance_c": (0.05, 5, "°C"),
        "development_time_s": (SHORTEST_S, LONGEST_S, "s"),
        "time_tolerance_s": (0, 600, "s"),
        "aim_contrast": (0.2, 2.0, ""),
        "agitation_initial_s": (1, 600, "s"),
        "agitation_every_s": (5, 1800, "s"),
        "agitation_for_s": (1, 600, "s"),
        "stop_s": (5, LONGEST_S, "s"),
        "fix_s": (5, LONGEST_S, "s"),
        "wash_s": (5, LONGEST_S, "s"),
        "developer_keeps_days": (1, 1000, "days"),
        "developer_films": (1, 10000, "films"),
    }

    def rule_problems(self, values: Values) -> Problems:
        """Ask for the number that the time rule needs, and for no other."""
        needs = {TimeRule.FIXED: "development_time_s", TimeRule.AIM_CONTRAST: "aim_contrast"}
        needed = needs.get(values["time_rule"])
        problems = []
        if needed and values[needed] is None:
            what = "the developing time" if needed == "development_time_s" else "the contrast to aim at"
            problems.append({"field": needed, "message": f"Enter {what}: this time rule rests on it."})
        for name in set(needs.values()) - {needed}:
            if values[name] is not None:
                rule = TimeRule(values["time_rule"]).label
                message = f"Leave this empty: the time rule is “{rule}”. Or choose the rule it belongs to."
                problems.append({"field": name, "message": message})
        return problems + _agitation_problems(values)


def _agitation_problems(values: Values) -> Problems:
    """A rhythm has its interval and its length, and pauses between."""
    every, length = values["agitation_every_s"], values["agitation_for_s"]
    if (every is None) != (length is None):
        field = "agitation_every_s" if every is None else "agitation_for_s"
        return [{"field": field, "message": "Give both: how often, and for how long each time."}]
    if every is not None and length > every:
        message = "Each agitation lasts longer than from one to the next; equal means without pause."
        return [{"field": "agitation_for_s", "message": message}]
    return []


PROCESSES = ProcessKind()
