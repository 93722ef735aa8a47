"""Addresses of studies of agreement and of instruments' corrections for scripts."""

from django.urls import path

from curves.api import agreement, corrections

STUDY = "agreement-studies/<int:study_id>/"
INSTRUMENT = "instruments/<int:instrument_id>/"
CORRECTION = "corrections/<int:correction_id>/"

AGREEMENT_URLS = [
    path("agreement-studies/", agreement.AgreementStudies.as_view(), name="api_agreement_studies"),
    path(STUDY, agreement.OneAgreementStudy.as_view(), name="api_agreement_study"),
    path(f"{STUDY}readings/", agreement.AgreementReadings.as_view(), name="api_agreement_readings"),
    path(f"{STUDY}withdraw/", agreement.WithdrawAgreementReadings.as_view(), name="api_agreement_withdraw"),
    path(f"{STUDY}close/", agreement.CloseAgreementStudy.as_view(), name="api_agreement_close"),
    path(f"{STUDY}reopen/", agreement.ReopenAgreementStudy.as_view(), name="api_agreement_reopen"),
    path(f"{INSTRUMENT}corrections/", corrections.Corrections.as_view(), name="api_corrections"),
    path(
        f"{INSTRUMENT}corrections/preview/",
        corrections.CorrectionPreview.as_view(),
        name="api_correction_preview",
    ),
    path(CORRECTION, corrections.OneCorrection.as_view(), name="api_correction"),
    path(f"{CORRECTION}end/", corrections.EndCorrection.as_view(), name="api_correction_end"),
]
