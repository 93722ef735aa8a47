"""Addresses of the scans API, an area a line."""

from django.urls import path

from scans.api import calibrations, disk, measurements, placements, scans, side_by_side, uploads

SCAN = "scans/<int:scan_id>/"
CALIBRATION = "calibrations/<int:calibration_id>/"

urlpatterns = [
    path("uploads/", uploads.Uploads.as_view(), name="api_uploads"),
    path("uploads/<uuid:upload_id>/", uploads.OneUpload.as_view(), name="api_upload"),
    path("scans/", scans.Scans.as_view(), name="api_scans"),
    path(SCAN, scans.OneScan.as_view(), name="api_scan"),
    path(f"{SCAN}placements/", placements.Placements.as_view(), name="api_placements"),
    path(f"{SCAN}placements/unexposed/", placements.PlaceUnexposed.as_view(), name="api_place_unexposed"),
    path(f"{SCAN}placements/turn-over/", placements.TurnOver.as_view(), name="api_turn_over"),
    path(f"{SCAN}measurements/", measurements.Measurements.as_view(), name="api_measurements"),
    path(f"{SCAN}measurement/", measurements.StandingMeasurement.as_view(), name="api_measurement"),
    path(f"{SCAN}measure/", measurements.MeasureAgain.as_view(), name="api_measure_again"),
    path(f"{SCAN}densities/", measurements.TakeDensities.as_view(), name="api_take_densities"),
    path(f"{SCAN}picture-measure/", measurements.TakePicture.as_view(), name="api_take_picture"),
    path(f"{SCAN}calibrate/", calibrations.Calibrate.as_view(), name="api_calibrate"),
    path("calibrations/", calibrations.Calibrations.as_view(), name="api_calibrations"),
    path(CALIBRATION, calibrations.OneCalibration.as_view(), name="api_calibration"),
    path(f"{CALIBRATION}void/", calibrations.VoidCalibration.as_view(), name="api_calibration_void"),
    path("scanner-trials/", calibrations.Trials.as_view(), name="api_scanner_trials"),
    path("side-by-side/", side_by_side.ScansSideBySide.as_view(), name="api_side_by_side"),
    path(f"{SCAN}crop/", side_by_side.ScanCrop.as_view(), name="api_scan_crop"),
    path("disk/", disk.Disk.as_view(), name="api_disk"),
    path("disk/make-room/", disk.MakeRoom.as_view(), name="api_disk_make_room"),
    path(f"{SCAN}discard/", scans.DiscardScan.as_view(), name="api_scan_discard"),
]
