"""The three kinds of standard for scripts: their addresses, and what is sent and answered."""

from dataclasses import dataclass

from curves.api import standard_documents as documents
from curves.api import tablet_documents as tablets
from curves.queries.exposures import EXPOSURE_CATALOGUE
from curves.queries.processes import PROCESS_CATALOGUE
from curves.queries.revisions import Catalogue
from curves.queries.tablets import TABLET_CATALOGUE
from curves.services.exposures import EXPOSURES
from curves.services.processes import PROCESSES
from curves.services.standard_kinds import StandardKind
from curves.services.tablets import TABLETS


@dataclass(frozen=True)
class StandardSide:
    """One kind of standard for scripts: its address, and what is sent and answered.

    ``key`` names its routes; ``plural`` and ``revisions`` are its addresses.
    """

    key: str
    plural: str
    revisions: str
    kind: StandardKind
    catalogue: Catalogue
    standard: type
    one_standard: type
    revision: type
    one_revision: type
    new: type
    name: type
    changes: type

    @property
    def words(self) -> dict[str, str]:
        """What the kind calls its things."""
        noun = self.kind.noun
        article = "an" if noun[0] in "aeiou" else "a"
        return {"noun": noun, "a_noun": f"{article} {noun}", "revision_noun": self.kind.revision_noun}


PROCESS_SIDE = StandardSide(
    key="process",
    plural="process-standards",
    revisions="process-revisions",
    kind=PROCESSES,
    catalogue=PROCESS_CATALOGUE,
    standard=documents.ProcessStandardSerializer,
    one_standard=documents.OneProcessStandardSerializer,
    revision=documents.ProcessRevisionSerializer,
    one_revision=documents.OneProcessRevisionSerializer,
    new=documents.NewProcessStandardSerializer,
    name=documents.StandardNameSerializer,
    changes=documents.ProcessDraftChangesSerializer,
)
EXPOSURE_SIDE = StandardSide(
    key="exposure",
    plural="exposure-standards",
    revisions="exposure-revisions",
    kind=EXPOSURES,
    catalogue=EXPOSURE_CATALOGUE,
    standard=documents.ExposureStandardSerializer,
    one_standard=documents.OneExposureStandardSerializer,
    revision=documents.ExposureRevisionSerializer,
    one_revision=documents.OneExposureRevisionSerializer,
    new=documents.NewExposureStandardSerializer,
    name=documents.StandardNameSerializer,
    changes=documents.ExposureDraftChangesSerializer,
)
TABLET_SIDE = StandardSide(
    key="tablet",
    plural="step-tablets",
    revisions="tablet-revisions",
    kind=TABLETS,
    catalogue=TABLET_CATALOGUE,
    standard=tablets.TabletSerializer,
    one_standard=tablets.OneTabletSerializer,
    revision=tablets.CalibrationSerializer,
    one_revision=tablets.OneCalibrationSerializer,
    new=tablets.NewTabletSerializer,
    name=tablets.TabletNameSerializer,
    changes=tablets.CalibrationChangesSerializer,
)
