"""What is remembered of scans, a noun a file: fields, named constraints and query-free properties only."""

from scans.models.calibrations import CalibrationState, ScannerCalibration, ScannerTrial
from scans.models.files import FileState, StoredFile
from scans.models.measurements import Measurement, MeasurementKind, Transfer
from scans.models.placements import Placement
from scans.models.pyramids import TilePyramid
from scans.models.scans import Scan, Shows
from scans.models.uploads import Upload

__all__ = [
    "CalibrationState",
    "FileState",
    "Measurement",
    "MeasurementKind",
    "Placement",
    "Scan",
    "ScannerCalibration",
    "ScannerTrial",
    "Shows",
    "StoredFile",
    "TilePyramid",
    "Transfer",
    "Upload",
]
