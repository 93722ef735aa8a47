"""Exposure standards on their pages."""

from django.urls import reverse

from curves.models import ExposureRevision
from tests.factories.standards import draft_tablet, make_exposure, make_tablet

TYPED = {
    "name": "Daylight contact",
    "about": "",
    "method": "tablet_contact",
    "target": "",
    "light": "lamp with daylight filter",
    "colour_temperature_k": "5500",
    "exposure_time_s": "0.05",
    "log_exposure_clear": "0,9",
    "log_exposure_sd": "0.03",
    "bracket_spacing_stops": "0.3333",
}


def test_an_admin_makes_an_absolute_and_a_relative_standard(client_for, admin):
    client = client_for(admin)
    typed = TYPED | {"tablet_id": make_tablet(admin).tablet_id}
    answer = client.post(reverse("exposure_new"), typed, follow=True)
    assert "0.900 log lux·s, standard uncertainty 0.03 (7.94 lux·s)" in answer.text
    relative = typed | {"name": "Window", "log_exposure_clear": "", "log_exposure_sd": ""}
    answer = client.post(reverse("exposure_new"), relative, follow=True)
    assert "relative only" in answer.text
    assert ExposureRevision.objects.get(standard__name="Window").log_exposure_clear is None


def test_an_absolute_exposure_without_uncertainty_is_refused(client_for, admin):
    typed = TYPED | {"tablet_id": make_tablet(admin).tablet_id, "log_exposure_sd": ""}
    answer = client_for(admin).post(reverse("exposure_new"), typed)
    assert "No exposure is known exactly" in answer.context["form"].errors["log_exposure_sd"][0]


def test_without_a_calibration_in_force_it_stays_a_draft(client_for, admin):
    typed = TYPED | {"tablet_id": draft_tablet(admin).tablet_id}
    client = client_for(admin)
    client.post(reverse("exposure_new"), typed)
    draft = ExposureRevision.objects.get()
    url = reverse("exposure_revision_enforce", args=[draft.standard_id, 1])
    seen = client.get(url).context["seen"]
    answer = client.post(url, {"seen": seen})
    assert answer.status_code == 409
    assert "has no calibration in force" in answer.text
    draft.refresh_from_db()
    assert draft.is_editable


def test_members_read_it(client_for, admin, owner):
    revision = make_exposure(admin)
    text = client_for(owner).get(reverse("exposure", args=[revision.standard_id])).text
    assert "5500 K" in text
    assert "Revise" not in text
