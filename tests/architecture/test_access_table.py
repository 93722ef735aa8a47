"""One table says who gets what from every page and every operation; a route that is not in it fails."""

import pytest
from django.db import transaction
from rest_framework.views import APIView

from labsite.accounts.models import Lab
from tests.architecture.access import areas
from tests.architecture.access_lab import CAST, named_routes, rows_of

ROWS = [
    row for area in areas() for table in ("PAGES", "OPERATIONS") for row in rows_of(getattr(area, table, ""))
]


def test_every_route_is_in_the_table():
    assert {row.route for row in ROWS} == set(named_routes())


def test_every_method_of_the_api_is_in_the_table():
    called = {(row.method, row.route) for row in ROWS}
    for route, pattern in named_routes().items():
        view = getattr(pattern.callback, "cls", None)
        if view is not None and issubclass(view, APIView) and view.schema is not None:
            methods = {name.upper() for name in view.http_method_names if hasattr(view, name)} - {"OPTIONS"}
            assert {method for method, name in called if name == route} == methods, route


def test_no_row_stands_twice():
    assert len({str(row) for row in ROWS}) == len(ROWS)


def test_an_admin_without_the_second_factor_that_the_lab_asks_for_gets_what_a_member_gets(access_lab, db):
    Lab.objects.update_or_create(pk=Lab.ONLY_ID, defaults={"admins_need_second_factor": True})
    session = access_lab.session_of("admin")
    kept = [row for row in ROWS if row.status_for("labmate") == 403 != row.status_for("admin")]
    assert len(kept) > 100
    wrong = []
    for row in kept:
        with transaction.atomic():
            answer = access_lab.answer(row, "admin", session)
            transaction.set_rollback(True)
        if answer.status_code != 403 or "second factor" not in answer.content.decode():
            wrong.append(f"{row}: {answer.status_code}")
    assert not wrong, "\n".join(wrong)


@pytest.mark.parametrize("who", CAST)
def test_everybody_gets_just_what_the_table_says(access_lab, db, who):
    session = access_lab.session_of(who)
    access_lab.change_who_may(who)
    wrong = []
    for row in ROWS:
        # What one request changes is taken back before the next.
        with transaction.atomic():
            answer = access_lab.answer(row, who, session)
            transaction.set_rollback(True)
        if answer.status_code != row.status_for(who):
            wrong.append(f"{row}: {answer.status_code} instead of {row.status_for(who)}")
    assert not wrong, "\n".join(wrong)
