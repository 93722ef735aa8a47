"""Addresses of studies of agreement and of instruments' corrections."""

from django.urls import path

from curves.pages.control import agreement, corrections

STUDY = "agreement/<int:study_id>/"

AGREEMENT_URLS = [
    path("agreement/", agreement.study_list, name="agreement_list"),
    path("agreement/new/", agreement.new_study, name="agreement_new"),
    path(STUDY, agreement.study_page, name="agreement"),
    path(f"{STUDY}readings/", agreement.enter, name="agreement_readings"),
    path(f"{STUDY}withdraw/", agreement.withdraw, name="agreement_withdraw"),
    path(f"{STUDY}close/", agreement.close, name="agreement_close"),
    path(f"{STUDY}reopen/", agreement.reopen, name="agreement_reopen"),
    path(f"{STUDY}instruments/<int:instrument_id>/correct/", corrections.correct, name="agreement_correct"),
    path("instruments/<int:instrument_id>/corrections/", corrections.correction_list, name="correction_list"),
    path("corrections/<int:correction_id>/", corrections.correction, name="correction"),
    path("corrections/<int:correction_id>/end/", corrections.end, name="correction_end"),
]
