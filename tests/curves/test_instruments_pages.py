"""Instruments on their pages."""

from django.urls import reverse

from curves.models import Instrument
from tests.factories.instruments import make_instrument

TYPED = {
    "name": "Bench densitometer",
    "kind": "densitometer",
    "density_type": "visual",
    "geometry": "diffuse",
    "aperture_mm": "3",
    "reading_sd": "0,01",
    "notes": "",
}


def test_an_admin_adds_edits_retires_and_reactivates(client_for, admin):
    client = client_for(admin)
    client.post(reverse("instrument_new"), TYPED)
    instrument = Instrument.objects.get()
    assert instrument.reading_sd == 0.01
    answer = client.post(
        reverse("instrument_edit", args=[instrument.pk]), TYPED | {"notes": "new lamp"}, follow=True
    )
    assert "new lamp" in answer.text
    assert client.get(reverse("instrument_retire", args=[instrument.pk])).status_code == 200
    answer = client.post(
        reverse("instrument_retire", args=[instrument.pk]), {"reason": "unsteady"}, follow=True
    )
    assert "is retired. Its readings stay." in answer.text
    answer = client.post(reverse("instrument_retire", args=[instrument.pk]), {"reason": ""})
    assert answer.status_code == 400
    assert "retired already" in answer.text
    answer = client.post(reverse("instrument_reactivate", args=[instrument.pk]), follow=True)
    assert "is in use again" in answer.text
    assert client.post(reverse("instrument_reactivate", args=[instrument.pk])).status_code == 409


def test_refusals_stand_beside_their_field_and_keep_what_was_typed(client_for, admin):
    typed = TYPED | {"reading_sd": "1.5", "notes": "typed at length"}
    answer = client_for(admin).post(reverse("instrument_new"), typed)
    assert answer.status_code == 400
    assert "1.5 can't be right" in answer.context["form"].errors["reading_sd"][0]
    assert "typed at length" in answer.text


def test_members_read_visitors_do_not(client_for, admin, owner, visitor):
    instrument = make_instrument(admin)
    urls = [reverse("instrument_list"), reverse("instrument", args=[instrument.pk])]
    for url in urls:
        assert client_for(owner).get(url).status_code == 200
        assert client_for(visitor).get(url).status_code == 302
    forbidden = [
        reverse("instrument_new"),
        *(reverse(f"instrument_{what}", args=[instrument.pk]) for what in ("edit", "retire", "reactivate")),
    ]
    for url in forbidden:
        assert client_for(owner).post(url, TYPED).status_code == 403
    assert client_for(owner).get(reverse("instrument", args=[999])).status_code == 404


def test_the_list_filters_sorts_and_exports_in_a_fixed_number_of_queries(
    client_for, admin, owner, django_assert_max_num_queries
):
    for number in range(4):
        make_instrument(admin, f"Densitometer {number}")
    make_instrument(admin, "=Flatbed", kind="scanner", geometry="scanner")
    client = client_for(owner)
    # Session, user, lab, count, rows, their checks.
    with django_assert_max_num_queries(6):
        client.get(reverse("instrument_list"))
    assert "1 to 1 of 1" in client.get(reverse("instrument_list"), {"kind": "scanner"}).text
    assert "No instruments" in client.get(reverse("instrument_list"), {"state": "retired"}).text
    rows = client.get(reverse("instrument_list"), {"sort": "-name"}).context["page"]
    assert rows[0].name == "Densitometer 3"
    lines = client.get(reverse("instrument_list"), {"export": "csv"}).text.splitlines()
    assert lines[1].startswith("'=Flatbed,scanner,visual")
