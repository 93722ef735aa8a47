"""Who gets what from every operation of the API, with a token. A line as in ``pages``.

A body is sent empty where what is asked for belongs to nobody; then 400 says, to those who may, that a
value is missing.
"""

OPERATIONS = """
# method route                   thing            owner labmate admin open closed stranger
GET    api_me                    -                  200 200 200 401 401 401
PATCH  api_me                    -                  200 200 200 401 401 401
GET    api_jobs                  -                  200 200 200 401 401 401
GET    api_job                   -                  200 200 200 401 401 401
POST   api_job_cancel            -                  409 403 409 401 401 401
POST   api_job_retry             -                  409 403 409 401 401 401
GET    api_measures              -                  200 200 200 200 401 401

GET    api_stocks                -                  200 200 200 200 401 401
POST   api_stocks                -                  400 400 400 401 401 401
GET    api_stock                 -                  200 200 200 200 401 401
PATCH  api_stock                 -                  200 200 200 401 401 401
GET    api_batches               -                  200 200 200 401 401 401
POST   api_batches               -                  400 400 400 401 401 401
GET    api_past_results          -                  200 200 200 200 401 401
GET    api_stock_results         -                  200 200 200 200 401 401
GET    api_stock_result          -                  200 200 200 200 401 401
GET    api_comparison            -                  200 200 200 200 401 401

GET    api_rolls                 -                  200 200 200 200 401 401
POST   api_rolls                 -                  400 400 400 401 401 401
GET    api_roll                  draft              200 200 200 404 401 401
GET    api_roll                  submitted          200 200 200 404 401 401
GET    api_roll                  accepted           200 200 200 200 401 401
PATCH  api_roll                  draft              200 403 403 401 401 401
PATCH  api_roll                  accepted           409 403 403 401 401 401
POST   api_roll_assign_run       draft              200 403 403 401 401 401
POST   api_strips                draft              201 403 403 401 401 401
GET    api_readings              draft              200 200 200 401 401 401
GET    api_readings              accepted           200 200 200 401 401 401
PUT    api_readings              draft              200 403 403 401 401 401
POST   api_readings_file         draft              200 403 403 401 401 401
POST   api_roll_fit              submitted          200 403 200 401 401 401
POST   api_roll_submit           draft              409 403 403 401 401 401
POST   api_roll_recall           submitted          200 403 403 401 401 401
POST   api_remarks               draft              400 400 400 401 401 401
POST   api_roll_accept           submitted          403 403 200 401 401 401
POST   api_roll_return           submitted          403 403 400 401 401 401
POST   api_roll_withdraw         accepted           200 403 200 401 401 401
POST   api_roll_void             accepted           403 403 400 401 401 401
POST   api_roll_override         accepted           403 403 400 401 401 401
GET    api_roll_analysis         submitted          200 200 200 404 401 401
GET    api_roll_analysis         accepted           200 200 200 200 401 401
GET    api_roll_comparison       submitted          200 200 200 404 401 401
GET    api_roll_comparison       accepted           200 200 200 200 401 401
GET    api_analysis              submitted          200 200 200 404 401 401
GET    api_analysis              accepted           200 200 200 200 401 401

GET    api_instruments           -                  200 200 200 401 401 401
POST   api_instruments           -                  403 403 400 401 401 401
GET    api_instrument            -                  200 200 200 401 401 401
PATCH  api_instrument            -                  403 403 200 401 401 401
POST   api_instrument_retire     -                  403 403 200 401 401 401
POST   api_instrument_reactivate -                  403 403 409 401 401 401
GET    api_runs                  -                  200 200 200 401 401 401
POST   api_runs                  -                  400 400 400 401 401 401
GET    api_run                   -                  200 200 200 401 401 401
POST   api_run_judge             -                  200 403 200 401 401 401
POST   api_run_correct           -                  403 403 200 401 401 401
GET    api_references            -                  200 200 200 200 401 401
POST   api_references            -                  403 403 400 401 401 401
GET    api_reference_pair        -                  200 200 200 200 401 401

GET    api_process_standards     -                  200 200 200 200 401 401
POST   api_process_standards     -                  403 403 400 401 401 401
GET    api_process_standard      process-in-force   200 200 200 200 401 401
GET    api_process_standard      process-draft      200 200 200 404 401 401
PATCH  api_process_standard      process-in-force   403 403 200 401 401 401
POST   api_process_revise        process-in-force   403 403 400 401 401 401
GET    api_process_revisions     -                  200 200 200 200 401 401
GET    api_process_revision      process-in-force   200 200 200 200 401 401
GET    api_process_revision      process-draft      200 200 200 404 401 401
PATCH  api_process_revision      process-draft      403 403 200 401 401 401
PATCH  api_process_revision      process-in-force   403 403 409 401 401 401
DELETE api_process_revision      process-draft      403 403 409 401 401 401
POST   api_process_enforce       process-draft      403 403 200 401 401 401
GET    api_exposure_standards    -                  200 200 200 200 401 401
POST   api_exposure_standards    -                  403 403 400 401 401 401
GET    api_exposure_standard     exposure-in-force  200 200 200 200 401 401
GET    api_exposure_standard     exposure-draft     200 200 200 404 401 401
PATCH  api_exposure_standard     exposure-in-force  403 403 200 401 401 401
POST   api_exposure_revise       exposure-in-force  403 403 400 401 401 401
GET    api_exposure_revisions    -                  200 200 200 200 401 401
GET    api_exposure_revision     exposure-in-force  200 200 200 200 401 401
GET    api_exposure_revision     exposure-draft     200 200 200 404 401 401
PATCH  api_exposure_revision     exposure-draft     403 403 200 401 401 401
PATCH  api_exposure_revision     exposure-in-force  403 403 409 401 401 401
DELETE api_exposure_revision     exposure-draft     403 403 409 401 401 401
POST   api_exposure_enforce      exposure-draft     403 403 200 401 401 401
GET    api_tablet_standards      -                  200 200 200 200 401 401
POST   api_tablet_standards      -                  403 403 400 401 401 401
GET    api_tablet_standard       tablet-in-force    200 200 200 200 401 401
GET    api_tablet_standard       tablet-draft       200 200 200 404 401 401
PATCH  api_tablet_standard       tablet-in-force    403 403 200 401 401 401
POST   api_tablet_revise         tablet-in-force    403 403 400 401 401 401
GET    api_tablet_revisions      -                  200 200 200 200 401 401
GET    api_tablet_revision       tablet-in-force    200 200 200 200 401 401
GET    api_tablet_revision       tablet-draft       200 200 200 404 401 401
PATCH  api_tablet_revision       tablet-draft       403 403 200 401 401 401
PATCH  api_tablet_revision       tablet-in-force    403 403 409 401 401 401
DELETE api_tablet_revision       tablet-draft       403 403 409 401 401 401
POST   api_tablet_enforce        tablet-draft       403 403 200 401 401 401
"""
