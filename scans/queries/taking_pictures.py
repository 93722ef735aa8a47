"""Grain and sharpness of a measurement as numbers of its roll: what would be taken, or why nothing can be."""

from django.db.models import CharField, QuerySet, Value
from django.db.models.functions import Cast, Concat

from curves.models.picture_measures import PictureMeasure, PictureMeasureName
from curves.queries.picture_measures import FromPicture
from scans.imaging.flags import REASONS
from scans.models import Measurement, MeasurementKind, Scan
from scans.queries.calibrations import setting_words
from scans.queries.measured import current_measurement, measuring_basis
from scans.queries.setups import setup_digest, setup_of

NAMES = {
    MeasurementKind.GRAIN: PictureMeasureName.GRAIN,
    MeasurementKind.EDGE: PictureMeasureName.SHARPNESS,
}
SOURCE = "measurement "
TRY = "Try the scanner with the same settings first, so that its own part is known."


def takeable_measure(scan: Scan) -> FromPicture | None:
    """Return the number that stands for the scan as its roll would take it; None where there is none."""
    measurement = current_measurement(scan)
    if obstacle_to_taking_picture(scan, measurement):
        return None
    measure = _stated(measurement)
    return FromPicture(
        name=NAMES[measurement.kind].value,
        value=measure["value"],
        low=measure["low"],
        high=measure["high"],
        note=measure["note"],
        rig=rig_words(scan),
        rig_digest=setup_digest(scan),
        source_key=source_key(measurement),
        source_name=scan.code,
        source_url=f"/scans/{scan.pk}/",
        engine_version=measurement.engine_version,
    )


def obstacle_to_taking_picture(scan: Scan, measurement: Measurement | None) -> str:
    """Why a scan has no grain or sharpness for its roll; empty when it has."""
    if measurement is None or measurement.kind not in NAMES:
        return "There is no measurement of grain or sharpness that stands yet."
    if scan.roll is None:
        return "Say first which roll this scan shows; grain and sharpness are a roll's."
    measure = _stated(measurement)
    if measure["value"] is None:
        return " ".join(
            part for part in (REASONS.get(measure["reason"], "It is withheld."), _sentence(measure)) if part
        )
    if measure["low"] is None or measure["high"] is None:
        return f"The number only bounds it from one side. {TRY}"
    if measurement.placement is None or (
        measuring_basis(scan, measurement.placement).digest != measurement.input_digest
    ):
        return "What this measurement rests on has changed since; have the scan measured again first."
    return ""


def taken_from(scan: Scan) -> PictureMeasure | None:
    """Return the roll's standing measure that was read from this scan."""
    keys = [source_key(each) for each in scan.measurements.all()]
    standing = PictureMeasure.objects.filter(source_key__in=keys, is_current=True)
    return standing.select_related("roll", "taken_by").first()


def source_key(measurement: Measurement) -> str:
    """Return what a roll's measure names as its source."""
    return f"{SOURCE}{measurement.pk}"


def taken_measurements() -> QuerySet[Measurement]:
    """Return the measurements that some roll's standing grain or sharpness was read from."""
    keyed = Measurement.objects.annotate(key=Concat(Value(SOURCE), Cast("pk", CharField()))).order_by()
    standing = PictureMeasure.objects.filter(is_current=True).order_by()
    return keyed.filter(key__in=standing.values("source_key")).values("pk")


def rig_words(scan: Scan) -> str:
    """Return the scanner and its settings in words."""
    setup = setup_of(scan)
    told = ", ".join(f"{setting_words(name)} {value}" for name, value in sorted(setup.settings.items()))
    return f"{setup.scanner}: {told}"


def _stated(measurement: Measurement) -> dict:
    if measurement.kind == MeasurementKind.GRAIN:
        return measurement.document["rms_granularity"]
    return measurement.document["edge"]["film_mtf50_cycles_per_mm"]


def _sentence(measure: dict) -> str:
    note = measure["note"].strip()
    return f"{note[0].upper()}{note[1:]}." if note else ""
