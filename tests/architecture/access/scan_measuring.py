"""Who gets what of one scan's numbers, of what is taken from them, and of the scanners' calibrations."""

from curves.models import Roll
from tests.factories.scans import bare_scan, calibration_row, make_scanner, measurement_row

PAGES = """
GET   scan                       read-scan      200 200 200 302 302 302
GET   scan_document              read-scan      200 200 200 302 302 302
GET   scan_place                 read-scan      302 302 302 302 302 302
POST  scan_place                 read-scan      400 400 400 403 403 403
GET   scan_unexposed             read-scan      302 302 302 302 302 302
POST  scan_unexposed             read-scan      400 400 400 403 403 403
GET   scan_turn_over             read-scan      302 302 302 302 302 302
POST  scan_turn_over             read-scan      302 302 302 403 403 403
GET   scan_measure               read-scan      302 302 302 302 302 302
POST  scan_measure               read-scan      302 302 302 403 403 403
GET   scan_calibrate             read-scan      302 302 302 302 302 302
POST  scan_calibrate             read-scan      400 400 400 403 403 403
GET   scan_take                  read-scan      200 403 403 302 302 302
POST  scan_take                  read-scan      400 403 403 403 403 403
GET   scan_take_picture          read-scan      302 302 302 302 302 302
POST  scan_take_picture          read-scan      302 302 302 403 403 403
GET   scanner_list               -              200 200 200 302 302 302
GET   trial_new                  -              200 200 200 302 302 302
POST  trial_new                  -              400 400 400 403 403 403
GET   calibration                read-scan      200 200 200 302 302 302
GET   calibration_download       read-scan      200 200 200 302 302 302
GET   calibration_void           read-scan      403 403 200 302 302 302
POST  calibration_void           read-scan      403 403 400 403 403 403
"""
OPERATIONS = """
GET    api_placements            read-scan      200 200 200 401 401 401
POST   api_placements            read-scan      400 400 400 401 401 401
POST   api_place_unexposed       read-scan      400 400 400 401 401 401
POST   api_turn_over             read-scan      201 201 201 401 401 401
GET    api_measurements          read-scan      200 200 200 401 401 401
GET    api_measurement           read-scan      200 200 200 401 401 401
POST   api_measure_again         read-scan      200 200 200 401 401 401
GET    api_take_densities        read-scan      200 403 403 401 401 401
POST   api_take_densities        read-scan      409 403 403 401 401 401
POST   api_take_picture          read-scan      409 409 409 401 401 401
POST   api_calibrate             read-scan      409 409 409 401 401 401
GET    api_calibrations          -              200 200 200 401 401 401
GET    api_calibration           read-scan      200 200 200 401 401 401
POST   api_calibration_void      read-scan      403 403 400 401 401 401
GET    api_scanner_trials        -              200 200 200 401 401 401
POST   api_scanner_trials        -              400 400 400 401 401 401
"""
# No such measurement: whose roll it is, is asked first.
BODIES = {"api_take_densities": {"measurement_id": 999_999_999}}


def things(lab):
    """A measured scan of the strip of a draft, with the calibration that it was read with."""
    roll = Roll.objects.get(pk=lab.things["draft"]["roll_id"])
    scan = bare_scan(lab.people["owner"], roll, make_scanner(lab.people["admin"]))
    calibration = calibration_row(scan)
    measurement_row(scan, {1: 1.8, 2: 1.7, 0: 0.25})
    return {}, {"read-scan": {"scan_id": scan.pk, "calibration_id": calibration.pk}}
