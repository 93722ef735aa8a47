"""The lab on which the access table is tried: something of every kind, the owner's where it is somebody's."""

from dataclasses import dataclass, field
from functools import cache
from http.cookies import SimpleCookie

from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import URLPattern, get_resolver, reverse

from curves.models import Batch, HouseReference, Roll, StagedImport
from labsite.accounts.models import ApiToken, User
from labsite.accounts.services import create_invite, issue_token, update_lab
from labsite.common.access import MEMBER
from labsite.jobs.models import Job
from tests.architecture.access import areas
from tests.factories.instruments import make_instrument
from tests.factories.rolls import (
    make_accepted_roll,
    make_batch,
    make_roll,
    make_run,
    make_standards,
    make_submitted_roll,
)
from tests.factories.standards import draft_exposure, draft_process, draft_tablet, make_tablet

CAST = ("owner", "labmate", "admin", "open visitor", "closed visitor", "stranger")


@dataclass(frozen=True)
class Row:
    """A line of the table: what is asked for, on which thing, and the status for each of the cast."""

    method: str
    route: str
    thing: str
    statuses: tuple[int, ...]

    def status_for(self, who: str) -> int:
        """The status that this person has to get."""
        return self.statuses[CAST.index(who)]

    def __str__(self) -> str:
        return f"{self.method} {self.route} {self.thing}"


def rows_of(table: str) -> list[Row]:
    """Read a table: method, route, thing and a status for each of the cast."""
    rows = []
    for line in table.strip().splitlines():
        if not line.strip() or line.startswith("#"):
            continue
        method, route, thing, *statuses = line.split()
        assert len(statuses) == len(CAST), line
        rows.append(Row(method, route, thing, tuple(int(status) for status in statuses)))
    return rows


@cache
def named_routes() -> dict[str, URLPattern]:
    """Every named address of the site."""
    return dict(_named(get_resolver().url_patterns, ""))


def _named(patterns, namespace: str):
    for pattern in patterns:
        if isinstance(pattern, URLPattern):
            yield f"{namespace}{pattern.name}", pattern
        else:
            inner = f"{pattern.namespace}:" if pattern.namespace else ""
            yield from _named(pattern.url_patterns, namespace + inner)


@dataclass
class AccessLab:
    """The things of the lab by what the table calls them, and the way to ask for them."""

    people: dict[str, User]
    known: dict[str, object]
    things: dict[str, dict[str, object]]
    secrets: dict[str, str] = field(default_factory=dict)
    _client: Client = field(default_factory=lambda: Client(raise_request_exception=False))

    def address(self, row: Row) -> str:
        """The address of a row's route for its thing."""
        wanted = named_routes()[row.route].pattern.converters
        values = self.known | self.things.get(row.thing, {})
        return reverse(row.route, kwargs={name: values[name] for name in wanted})

    def session_of(self, who: str) -> SimpleCookie:
        """The cookies of a browser in which this person signed in; a visitor's has none."""
        client = Client()
        if who in self.people:
            client.force_login(self.people[who])
        return client.cookies

    def answer(self, row: Row, who: str, session: SimpleCookie):
        """What this person gets: with a browser's session on pages, with a token from the API."""
        address, how = self.address(row), {}
        client = self._client  # one for all, since each sets the site's middleware up
        client.cookies = SimpleCookie() if address.startswith("/api/") else SimpleCookie(session)
        if address.startswith("/api/"):
            if who in self.secrets:
                how["headers"] = {"Authorization": f"Token {self.secrets[who]}"}
            how |= self._body(row)
        else:
            # A form takes no data at all for one that was not sent yet.
            how["data"] = {} if row.method == "GET" else {"sent": "1"}
        answer = getattr(client, row.method.lower())(address, **how)
        if answer.streaming:  # a file, which stays open until the answer is read
            answer.getvalue()
        return answer

    def _body(self, row: Row) -> dict:
        """What tells one's own from somebody else's; else nothing, since a missing value is told first."""
        if row.method in ("GET", "DELETE"):
            return {}
        if row.route == "api_readings_file":
            return {"data": {"file": SimpleUploadedFile("roll.csv", b"step,density\n1,2.3\n2,2.2\n")}}
        for area in areas():
            if row.route in getattr(area, "FILES", {}):
                return {"data": {"file": SimpleUploadedFile(*area.FILES[row.route])}}
        bodies = {
            "api_roll_assign_run": {"run_id": self.known["run_id"]},
            "api_readings": {"readings": []},
            "api_roll_withdraw": {"reasons": "wrong box"},
            "api_run_judge": {"control_state": "in_control", "reason": "strip within 0.02 D"},
            "api_run_correct": {"reason": "misread"},
        }
        for area in areas():
            bodies |= getattr(area, "BODIES", {})
        return {"data": bodies.get(row.route, {}), "content_type": "application/json"}

    def change_who_may(self, who: str) -> None:
        """Open the lab to the visitor of an open one; retire the stranger, whose session and token stay."""
        if who == "open visitor":
            admin = self.people["admin"]
            update_lab(actor=admin, name="Lab", contact="", is_open_to_visitors=True)
        if who == "stranger":
            User.objects.filter(pk=self.people["stranger"].pk).update(is_active=False)


def build_access_lab(owner, labmate, admin, stranger) -> AccessLab:
    """Make something of every kind, through the services."""
    people = {"owner": owner, "labmate": labmate, "admin": admin, "stranger": stranger}
    User.objects.filter(pk=stranger.pk).update(is_active=True)
    stranger.refresh_from_db()
    secrets = {
        name: issue_token(actor=person, name="Script", is_read_only=False).secret
        for name, person in people.items()
    }
    standards = make_standards(admin)
    process, exposure = standards
    batch, run = make_batch(owner), make_run(owner, process)
    draft = make_roll(owner, batch, standards)
    submitted = make_submitted_roll(owner, batch, standards, run=run)
    accepted = make_accepted_roll(owner, admin, batch, standards, run=run, seed=2)
    lab = AccessLab(
        people=people,
        secrets=secrets,
        known=_known(people, batch, run, process, exposure),
        things={
            "draft": {"roll_id": draft.pk},
            "submitted": {"roll_id": submitted.pk, "analysis_id": submitted.current_analysis_id},
            "accepted": {"roll_id": accepted.pk, "analysis_id": accepted.current_analysis_id},
            "staged": {"staged_id": _staged(owner, draft).pk},
            **_standards(admin, process, exposure),
        },
    )
    for area in areas():
        if hasattr(area, "things"):
            known, things = area.things(lab)
            lab.known |= known
            lab.things |= things
    return lab


def _known(people: dict, batch: Batch, run, process, exposure) -> dict:
    owner, admin = people["owner"], people["admin"]
    HouseReference.objects.create(
        stock=batch.stock, process_revision=process, exposure_revision=exposure, appointed_by=admin
    )
    invite = create_invite(actor=admin, role=MEMBER, note="for a friend")
    return {
        "stock_id": batch.stock_id,
        "strip_number": 1,
        "run_id": run.pk,
        "instrument_id": make_instrument(admin).pk,
        "process_revision_id": process.pk,
        "exposure_revision_id": exposure.pk,
        "result_id": batch.stock.results.get().pooled_id,
        "job_id": Job.objects.filter(requested_by=owner, kind="fit_roll").first().pk,
        "person_id": people["labmate"].pk,
        "token_id": ApiToken.objects.get(user=owner).pk,
        "invite_id": invite.invite.pk,
        "token": invite.token,
        "slug": "scripting",
        "address": "nothing",
    }


def _standards(admin, process, exposure) -> dict[str, dict]:
    kinds = {
        "process": (process, draft_process(admin, "Other process"), "standard_id"),
        "exposure": (exposure, draft_exposure(admin, "Other light"), "standard_id"),
        "tablet": (make_tablet(admin, "Tablet B"), draft_tablet(admin, "Tablet C"), "tablet_id"),
    }
    things = {}
    for name, (in_force, draft, link) in kinds.items():
        for state, revision in (("in-force", in_force), ("draft", draft)):
            things[f"{name}-{state}"] = {
                "standard_id": getattr(revision, link),
                "revision_id": revision.pk,
                "number": revision.number,
            }
    return things


def _staged(owner, roll: Roll) -> StagedImport:
    return StagedImport.objects.create(
        strip=roll.strips.get(),
        uploaded_by=owner,
        filename="roll.csv",
        file_digest="0" * 64,
        rows=[{"step": 1, "replicate": 1, "density": 2.1, "row": 2}],
    )
