"""The three kinds of standard as pages: their words, forms and addresses; and the tabs of the area."""

from dataclasses import dataclass

from django.urls import reverse

from curves.pages.control.standard_forms import ExposureForm, ProcessForm, RevisionForm, TabletForm
from curves.queries.exposures import EXPOSURE_CATALOGUE
from curves.queries.processes import PROCESS_CATALOGUE
from curves.queries.revisions import Catalogue
from curves.queries.tablets import TABLET_CATALOGUE
from curves.services.exposures import EXPOSURES
from curves.services.processes import PROCESSES
from curves.services.standard_kinds import StandardKind
from curves.services.tablets import TABLETS
from labsite.common.access import is_member


@dataclass(frozen=True)
class StandardArea:
    """One kind of standard: what the shared views and templates have to know of it."""

    key: str
    kind: StandardKind
    catalogue: Catalogue
    form: type[RevisionForm]
    title: str
    lead: str
    uses_title: str
    revise_label: str = "Revise"

    @property
    def noun(self) -> str:
        """The thing itself, such as process standard."""
        return self.kind.noun

    @property
    def revision_noun(self) -> str:
        """What its versions are called."""
        return self.kind.revision_noun

    @property
    def route(self) -> dict[str, str]:
        """The names of its addresses, for templates."""
        names = ("list", "new", "page", "rename", "revise", "difference")
        per_revision = ("revision", "edit", "enforce", "discard")
        key = self.key
        return {name: key if name == "page" else f"{key}_{name}" for name in names} | {
            name: f"{key}_revision" if name == "revision" else f"{key}_revision_{name}"
            for name in per_revision
        }

    def page_url(self, standard_id: int) -> str:
        """The address of one standard."""
        return reverse(self.route["page"], args=[standard_id])

    def revision_url(self, revision) -> str:
        """The address of one revision."""
        standard = self.kind.standard_of(revision)
        return reverse(self.route["revision"], args=[standard.pk, revision.number])


PROCESS_AREA = StandardArea(
    key="process",
    kind=PROCESSES,
    catalogue=PROCESS_CATALOGUE,
    form=ProcessForm,
    title="Process standards",
    lead="How films are developed so that they can be compared. A revision in force is never edited.",
    uses_title="Rolls",
)
EXPOSURE_AREA = StandardArea(
    key="exposure",
    kind=EXPOSURES,
    catalogue=EXPOSURE_CATALOGUE,
    form=ExposureForm,
    title="Exposure standards",
    lead="How the step tablet gets on the film, and whether its exposure is known in lux seconds.",
    uses_title="Rolls",
)
TABLET_AREA = StandardArea(
    key="tablet",
    kind=TABLETS,
    catalogue=TABLET_CATALOGUE,
    form=TabletForm,
    title="Step tablets",
    lead="Each tablet's densities, as they were calibrated. A strip keeps the calibration it was made with.",
    uses_title="Strips",
    revise_label="Calibrate again",
)


def control_tabs(user, here: str) -> list[dict]:
    """Return the parts of the control area that this person may open."""
    parts = [
        ("control", "Overview", True),
        ("process_list", "Process standards", True),
        ("exposure_list", "Exposure standards", True),
        ("tablet_list", "Step tablets", True),
        ("paper_list", "Papers", True),
        ("reference_list", "House reference", True),
        ("spread", "The lab's own spread", True),
        ("run_list", "Process runs", False),
        ("strip_list", "Control strips", False),
        ("control_charts", "Control charts", False),
        ("instrument_list", "Instruments", False),
        ("agreement_list", "Agreement", False),
        ("scanner_list", "Scanners", False),
    ]
    return [
        {"title": title, "url": reverse(name), "is_current": name == here}
        for name, title, is_for_visitors in parts
        if is_for_visitors or is_member(user)
    ]
