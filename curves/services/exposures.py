"""Exposure standards: what a revision fixes about exposing, and what must hold for it."""

from curves.models import ExposureRevision, ExposureStandard, RevisionState
from curves.models.revisions import Revision
from curves.services.standard_kinds import Problems, StandardKind, Values
from labsite.common.errors import WrongState


class ExposureKind(StandardKind):
    """Tablet, light, time, and the exposure itself where it is known in lux seconds."""

    standard_model = ExposureStandard
    revision_model = ExposureRevision
    noun = "exposure standard"
    fields = (
        "method",
        "tablet_id",
        "target",
        "light",
        "colour_temperature_k",
        "exposure_time_s",
        "log_exposure_clear",
        "log_exposure_sd",
        "bracket_spacing_stops",
    )
    bounds = {
        "colour_temperature_k": (1500, 20000, "K"),
        "exposure_time_s": (1e-6, 3600, "s"),
        "log_exposure_clear": (-6, 6, "log lux·s"),
        "log_exposure_sd": (0, 0.5, ""),
        "bracket_spacing_stops": (0.05, 3, "stops"),
    }

    def rule_problems(self, values: Values) -> Problems:
        """Refuse an exposure in lux seconds without its uncertainty, and an uncertainty of nothing."""
        if values["log_exposure_clear"] is None and values["log_exposure_sd"]:
            message = "There is no absolute exposure to be uncertain about. Enter it, or set this to 0."
            return [{"field": "log_exposure_sd", "message": message}]
        if values["log_exposure_clear"] is not None and not values["log_exposure_sd"]:
            message = "No exposure is known exactly. Enter its standard uncertainty, such as 0.03."
            return [{"field": "log_exposure_sd", "message": message}]
        return []

    def refuse_unready(self, revision: Revision) -> None:
        """Ask for a calibration first: strips are exposed by the one that is in force."""
        tablet = revision.tablet
        if not tablet.revisions.filter(state=RevisionState.IN_FORCE).exists():
            raise WrongState(
                f"Tablet {tablet} has no calibration in force. Put one in force first: "
                "without it no step has a known exposure."
            )


EXPOSURES = ExposureKind()
