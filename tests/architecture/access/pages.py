"""Who gets what from every page. A line: method, route, thing, then the status for each of the cast.

302 leads a visitor to the sign-in, or on after something is done. A posted form is empty, so where the
person may, 400 says that a value is missing: what matters is that it is not a refusal. The document of
the API is for anybody, but a token of a retired person is refused wherever it is sent.
"""

PAGES = """
# method route                   thing        owner labmate admin open closed stranger
GET   health                     -              200 200 200 200 200 200
GET   jobs_health                -              200 200 200 200 200 200
GET   openapi                    -              200 200 200 200 200 401
GET   api_unknown                -              404 404 404 404 404 404

# --- Arrival and reference
GET   front                      -              302 302 302 200 200 200
GET   bench                      -              200 200 200 302 302 302
GET   lab                        -              200 200 200 200 302 302
GET   measures                   -              200 200 200 200 200 200
GET   safety                     -              200 200 200 200 200 200
GET   help                       -              200 200 200 200 200 200
GET   help_upload_example        -              200 200 200 200 200 200
GET   help_fit_example           -              200 200 200 200 200 200
GET   help_page                  -              200 200 200 200 200 200

# --- One's account
GET   accounts:sign_in           -              302 302 302 200 200 200
POST  accounts:sign_in           -              302 302 302 400 400 400
GET   accounts:sign_in_code      -              302 302 302 302 302 302
POST  accounts:sign_in_code      -              302 302 302 302 302 302
POST  accounts:sign_out          -              302 302 302 302 302 302
POST  accounts:sign_out_everywhere -            302 302 302 403 403 403
POST  accounts:theme             -              400 400 400 400 400 400
GET   accounts:profile           -              200 200 200 302 302 302
POST  accounts:profile           -              400 400 400 403 403 403
GET   accounts:password          -              200 200 200 302 302 302
POST  accounts:password          -              400 400 400 403 403 403
GET   accounts:second_factor     -              200 200 200 302 302 302
GET   accounts:begin_second_factor -            302 302 302 302 302 302
POST  accounts:begin_second_factor -            302 302 302 403 403 403
GET   accounts:confirm_second_factor -          302 302 302 302 302 302
POST  accounts:confirm_second_factor -          400 400 400 403 403 403
GET   accounts:renew_recovery_codes -           302 302 302 302 302 302
POST  accounts:renew_recovery_codes -           400 400 400 403 403 403
GET   accounts:turn_off_second_factor -         302 302 302 302 302 302
POST  accounts:turn_off_second_factor -         400 400 400 403 403 403
GET   accounts:tokens            -              200 200 200 302 302 302
POST  accounts:tokens            -              400 400 400 403 403 403
POST  accounts:revoke_token      -              302 302 302 403 403 403
GET   accounts:invite            -              403 403 403 200 200 200
POST  accounts:invite            -              403 403 403 400 400 400
GET   accounts:first_admin       -              403 403 403 410 410 410
POST  accounts:first_admin       -              403 403 403 410 410 410
GET   accounts:new_password      -              403 403 403 410 410 410
POST  accounts:new_password      -              403 403 403 410 410 410

# --- The lab's people, settings and jobs
GET   accounts:people            -              403 403 200 302 302 302
POST  accounts:people            -              403 403 400 403 403 403
GET   accounts:person            -              403 403 200 302 302 302
GET   accounts:change_role       -              403 403 302 302 302 302
POST  accounts:change_role       -              403 403 400 403 403 403
GET   accounts:take_second_factor -             403 403 302 302 302 302
POST  accounts:take_second_factor -             403 403 400 403 403 403
POST  accounts:retire            -              403 403 302 403 403 403
POST  accounts:reactivate        -              403 403 400 403 403 403
POST  accounts:password_link     -              403 403 201 403 403 403
POST  accounts:revoke_invite     -              403 403 302 403 403 403
GET   accounts:history           -              403 403 200 302 302 302
GET   accounts:lab_settings      -              403 403 200 302 302 302
POST  accounts:lab_settings      -              403 403 400 403 403 403
GET   jobs:list                  -              200 200 200 302 302 302
GET   jobs:detail                -              200 200 200 302 302 302
GET   jobs:progress              -              200 200 200 403 403 403
POST  jobs:cancel                -              302 403 302 403 403 403
POST  jobs:retry                 -              302 403 302 403 403 403

# --- Stocks and the comparison
GET   stock_list                 -              200 200 200 200 302 302
GET   stock                      -              200 200 200 200 302 302
GET   stock_measures_csv         -              200 200 200 200 302 302
GET   stock_curve_csv            -              200 200 200 200 302 302
GET   stock_new                  -              200 200 200 302 302 302
POST  stock_new                  -              400 400 400 403 403 403
GET   stock_edit                 -              200 200 200 302 302 302
POST  stock_edit                 -              400 400 400 403 403 403
GET   batch_new                  -              200 200 200 302 302 302
POST  batch_new                  -              400 400 400 403 403 403
GET   compare                    -              200 200 200 200 302 302
GET   compare_data               -              200 200 200 200 302 302

# --- Test rolls
GET   roll_list                  -              200 200 200 200 302 302
GET   roll_plan                  -              200 200 200 302 302 302
POST  roll_plan                  -              400 400 400 403 403 403
GET   roll                       draft          200 200 200 404 302 302
GET   roll                       submitted      200 200 200 404 302 302
GET   roll                       accepted       200 200 200 200 302 302
GET   roll_result_json           submitted      200 200 200 404 302 302
GET   roll_result_json           accepted       200 200 200 200 302 302
GET   roll_measures_csv          submitted      200 200 200 404 302 302
GET   roll_measures_csv          accepted       200 200 200 200 302 302
GET   roll_curve_csv             submitted      200 200 200 404 302 302
GET   roll_curve_csv             accepted       200 200 200 200 302 302
GET   roll_readings_csv          submitted      200 200 200 302 302 302
GET   roll_readings_csv          accepted       200 200 200 302 302 302
GET   roll_edit                  draft          200 403 403 302 302 302
POST  roll_edit                  draft          302 403 403 403 403 403
GET   roll_edit                  accepted       409 403 403 302 302 302
GET   roll_run                   draft          200 403 403 302 302 302
POST  roll_run                   draft          400 403 403 403 403 403
POST  roll_strips                draft          302 403 403 403 403 403
GET   roll_readings              draft          200 403 403 302 302 302
POST  roll_readings              draft          302 403 403 403 403 403
GET   roll_readings              submitted      409 403 403 302 302 302
GET   roll_import                draft          200 403 403 302 302 302
POST  roll_import                draft          400 403 403 403 403 403
GET   import                     staged         200 404 404 302 302 302
POST  import_store               staged         302 404 404 403 403 403
POST  import_discard             staged         302 404 404 403 403 403
POST  roll_refit                 draft          302 403 302 403 403 403
POST  roll_submit                draft          302 403 403 403 403 403
POST  roll_recall                submitted      302 403 403 403 403 403
POST  roll_remark                draft          400 400 400 403 403 403
GET   review_queue               -              403 403 200 302 302 302
POST  roll_accept                submitted      403 403 302 403 403 403
POST  roll_return                submitted      403 403 400 403 403 403
GET   roll_withdraw              accepted       200 403 200 302 302 302
POST  roll_withdraw              accepted       302 403 302 403 403 403
GET   roll_void                  accepted       403 403 200 302 302 302
POST  roll_void                  accepted       403 403 302 403 403 403
POST  roll_override              accepted       403 403 400 403 403 403

# --- Whoever opens an action's address is led to the page that it is posted from
GET   import_store               staged         302 302 302 302 302 302
GET   import_discard             staged         302 302 302 302 302 302
GET   roll_refit                 draft          302 302 302 302 302 302
GET   roll_submit                draft          302 302 302 302 302 302
GET   roll_recall                submitted      302 302 302 302 302 302
GET   roll_remark                draft          302 302 302 302 302 302
GET   roll_accept                submitted      302 302 302 302 302 302
GET   roll_return                submitted      302 302 302 302 302 302
GET   roll_override              accepted       302 302 302 302 302 302
GET   roll_strips                draft          302 302 302 302 302 302
GET   jobs:cancel                -              302 302 302 302 302 302
GET   jobs:retry                 -              302 302 302 302 302 302

# --- Control
GET   control                    -              200 200 200 200 302 302
GET   instrument_list            -              200 200 200 302 302 302
GET   instrument                 -              200 200 200 302 302 302
GET   instrument_new             -              403 403 200 302 302 302
POST  instrument_new             -              403 403 400 403 403 403
GET   instrument_edit            -              403 403 200 302 302 302
POST  instrument_edit            -              403 403 400 403 403 403
POST  instrument_retire          -              403 403 302 403 403 403
POST  instrument_reactivate      -              403 403 409 403 403 403
GET   run_list                   -              200 200 200 302 302 302
GET   run                        -              200 200 200 302 302 302
GET   run_new                    -              200 200 200 302 302 302
POST  run_new                    -              400 400 400 403 403 403
GET   run_correct                -              200 200 200 302 302 302
POST  run_correct                -              400 400 400 403 403 403
POST  run_judge                  -              400 400 400 403 403 403
GET   reference_list             -              200 200 200 200 302 302
GET   reference                  -              200 200 200 200 302 302
POST  reference_appoint          -              403 403 400 403 403 403
GET   process_list               -              200 200 200 200 302 302
GET   process                    process-in-force   200 200 200 200 302 302
GET   process                    process-draft      200 200 200 404 302 302
GET   process_difference         process-in-force   200 200 200 200 302 302
GET   process_revision           process-in-force   200 200 200 200 302 302
GET   process_revision           process-draft      200 200 200 404 302 302
GET   process_new                -                  403 403 200 302 302 302
POST  process_new                -                  403 403 400 403 403 403
GET   process_rename             process-in-force   403 403 200 302 302 302
POST  process_rename             process-in-force   403 403 400 403 403 403
GET   process_revise             process-in-force   403 403 200 302 302 302
POST  process_revise             process-in-force   403 403 400 403 403 403
GET   process_revision_edit      process-draft      403 403 200 302 302 302
POST  process_revision_edit      process-draft      403 403 400 403 403 403
GET   process_revision_edit      process-in-force   403 403 409 302 302 302
GET   process_revision_enforce   process-draft      403 403 200 302 302 302
POST  process_revision_enforce   process-draft      403 403 409 403 403 403
GET   process_revision_discard   process-draft      403 403 200 302 302 302
POST  process_revision_discard   process-draft      403 403 409 403 403 403
GET   exposure_list              -                  200 200 200 200 302 302
GET   exposure                   exposure-in-force  200 200 200 200 302 302
GET   exposure                   exposure-draft     200 200 200 404 302 302
GET   exposure_difference        exposure-in-force  200 200 200 200 302 302
GET   exposure_revision          exposure-in-force  200 200 200 200 302 302
GET   exposure_revision          exposure-draft     200 200 200 404 302 302
GET   exposure_new               -                  403 403 200 302 302 302
POST  exposure_new               -                  403 403 400 403 403 403
GET   exposure_rename            exposure-in-force  403 403 200 302 302 302
POST  exposure_rename            exposure-in-force  403 403 400 403 403 403
GET   exposure_revise            exposure-in-force  403 403 200 302 302 302
POST  exposure_revise            exposure-in-force  403 403 400 403 403 403
GET   exposure_revision_edit     exposure-draft     403 403 200 302 302 302
POST  exposure_revision_edit     exposure-draft     403 403 400 403 403 403
GET   exposure_revision_enforce  exposure-draft     403 403 200 302 302 302
POST  exposure_revision_enforce  exposure-draft     403 403 409 403 403 403
GET   exposure_revision_discard  exposure-draft     403 403 200 302 302 302
POST  exposure_revision_discard  exposure-draft     403 403 409 403 403 403
GET   tablet_list                -                  200 200 200 200 302 302
GET   tablet                     tablet-in-force    200 200 200 200 302 302
GET   tablet                     tablet-draft       200 200 200 404 302 302
GET   tablet_difference          tablet-in-force    200 200 200 200 302 302
GET   tablet_revision            tablet-in-force    200 200 200 200 302 302
GET   tablet_revision            tablet-draft       200 200 200 404 302 302
GET   tablet_new                 -                  403 403 200 302 302 302
POST  tablet_new                 -                  403 403 400 403 403 403
GET   tablet_rename              tablet-in-force    403 403 200 302 302 302
POST  tablet_rename              tablet-in-force    403 403 400 403 403 403
GET   tablet_revise              tablet-in-force    403 403 200 302 302 302
POST  tablet_revise              tablet-in-force    403 403 400 403 403 403
GET   tablet_revision_edit       tablet-draft       403 403 200 302 302 302
POST  tablet_revision_edit       tablet-draft       403 403 400 403 403 403
GET   tablet_revision_enforce    tablet-draft       403 403 200 302 302 302
POST  tablet_revision_enforce    tablet-draft       403 403 409 403 403 403
GET   tablet_revision_discard    tablet-draft       403 403 200 302 302 302
POST  tablet_revision_discard    tablet-draft       403 403 409 403 403 403
"""
