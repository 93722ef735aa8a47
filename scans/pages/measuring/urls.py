"""Addresses: one scan with its areas and numbers; the scanners with their calibrations."""

from django.urls import path

from scans.pages.measuring import scan, scanners, taking

ONE = "scans/<int:scan_id>/"
CALIBRATION = "control/scanners/calibrations/<int:calibration_id>/"

urlpatterns = [
    path(ONE, scan.scan, name="scan"),
    path(f"{ONE}measurement.json", scan.document, name="scan_document"),
    path(f"{ONE}place/", scan.place, name="scan_place"),
    path(f"{ONE}unexposed/", scan.unexposed, name="scan_unexposed"),
    path(f"{ONE}turn-over/", scan.turn_over, name="scan_turn_over"),
    path(f"{ONE}measure/", scan.measure, name="scan_measure"),
    path(f"{ONE}calibrate/", scan.calibrate, name="scan_calibrate"),
    path(f"{ONE}take/", taking.take, name="scan_take"),
    path(f"{ONE}take-picture/", scan.take_measure, name="scan_take_picture"),
    path("control/scanners/", scanners.scanner_list, name="scanner_list"),
    path("control/scanners/trials/new/", scanners.new_trial, name="trial_new"),
    path(CALIBRATION, scanners.calibration, name="calibration"),
    path(f"{CALIBRATION}calibration.json", scanners.download, name="calibration_download"),
    path(f"{CALIBRATION}void/", scanners.void, name="calibration_void"),
]
