"""What the lab remembers, a noun a file: fields, named constraints and query-free properties only."""

from curves.models.agreement import AgreementReading, AgreementStudy
from curves.models.comparisons import EquivalenceMargins, FrozenComparison, SavedComparison
from curves.models.control_strips import (
    AimsBasis,
    ChartNote,
    ControlAims,
    ControlStrip,
    StripBatch,
    StripJudgement,
)
from curves.models.exposures import ExposureRevision, ExposureStandard
from curves.models.films import Batch, FilmStock
from curves.models.imports import StagedImport, StagedPatchFile
from curves.models.instrument_checks import InstrumentCheck
from curves.models.instrument_corrections import InstrumentCorrection
from curves.models.instrument_findings import InstrumentFinding
from curves.models.instruments import Instrument, StepTablet, TabletRevision, TabletStep
from curves.models.papers import Paper, PaperPoint, PaperRevision
from curves.models.patches import Patch, PatchFrame, PatchReading, PatchSet
from curves.models.picture_measures import PictureMeasure, PictureMeasureName
from curves.models.prices import PriceEntry, PriceKind
from curves.models.processes import ProcessRevision, ProcessRun, ProcessStandard
from curves.models.readings import UNEXPOSED_STEP, Reading
from curves.models.results import Analysis, HouseReference, PooledAnalysis, SpreadEstimate, StockResult
from curves.models.reviews import Remark, Review
from curves.models.revisions import RevisionState
from curves.models.rolls import EDITABLE_STATES, Roll, RollState, Strip
from curves.models.run_timings import RunTiming
from curves.models.safety_sheets import SafetySheet
from curves.models.sheets import SheetPicture, SheetVersion
from curves.models.verdicts import Purpose, Verdict, VerdictState

__all__ = [
    "EDITABLE_STATES",
    "UNEXPOSED_STEP",
    "AgreementReading",
    "AgreementStudy",
    "AimsBasis",
    "Analysis",
    "Batch",
    "ChartNote",
    "ControlAims",
    "ControlStrip",
    "EquivalenceMargins",
    "ExposureRevision",
    "ExposureStandard",
    "FilmStock",
    "FrozenComparison",
    "HouseReference",
    "Instrument",
    "InstrumentCheck",
    "InstrumentCorrection",
    "InstrumentFinding",
    "Paper",
    "PaperPoint",
    "PaperRevision",
    "Patch",
    "PatchFrame",
    "PatchReading",
    "PatchSet",
    "PictureMeasure",
    "PictureMeasureName",
    "PooledAnalysis",
    "PriceEntry",
    "PriceKind",
    "ProcessRevision",
    "ProcessRun",
    "ProcessStandard",
    "Purpose",
    "Reading",
    "Remark",
    "Review",
    "RevisionState",
    "Roll",
    "RollState",
    "RunTiming",
    "SafetySheet",
    "SavedComparison",
    "SheetPicture",
    "SheetVersion",
    "SpreadEstimate",
    "StagedImport",
    "StagedPatchFile",
    "StepTablet",
    "StockResult",
    "Strip",
    "StripBatch",
    "StripJudgement",
    "TabletRevision",
    "TabletStep",
    "Verdict",
    "VerdictState",
]
