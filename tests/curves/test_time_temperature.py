"""Times at other temperatures: from tests or a stated coefficient, and only between what was tested."""

import pytest
from django.urls import reverse

from tests.factories.standards import make_process

KNOWN = {"time": "10:00", "known_at_c": "20"}


@pytest.fixture
def page(admin, client_for, owner):
    process = make_process(admin)
    address = reverse("time_temperature", args=[process.standard_id, process.number])
    client = client_for(owner)
    return lambda **given: client.get(address, given)


def rows_of(answer) -> dict:
    return {temperature: time for temperature, time, _ in answer.context["rows"]}


def test_it_begins_with_what_the_standard_fixes(page):
    answer = page()
    assert answer.status_code == 200
    assert "No times yet" in answer.content.decode()
    assert not answer.context["form"].is_bound


def test_a_stated_coefficient_gives_the_times_of_its_formula(page):
    """Q10 of 2.5 from 10 min at 20 °C: factors 1.2011, 0.8326 and 0.6931, by the formula."""
    answer = page(**KNOWN, coefficient="2.5", coefficient_sd="0.2", low_c="18", high_c="24")
    rows = rows_of(answer)
    assert sorted(rows) == [18, 19, 20, 21, 22, 23, 24]
    assert [rows[at]["text"] for at in (18, 20, 22, 24)] == ["12:01", "10:00", "8:20", "6:56"]
    assert rows[24]["ends"] == ("6:31", "7:23")  # × or ÷ exp(1.96 × 0.4 × 0.2/2.5)
    assert rows[20]["ends"] == ()
    assert [is_within for _, _, is_within in answer.context["rows"]].count(True) >= 1


def test_without_an_error_there_is_no_interval(page):
    answer = page(**KNOWN, coefficient="2.5")
    assert all(time["ends"] == () for time in rows_of(answer).values())
    assert "so the times have no interval" in answer.content.decode()


def test_tests_give_coefficient_and_range(page):
    answer = page(**KNOWN, tests="18 12:01\n20 10:00\n22 8:20", coefficient="9")
    assert answer.context["coefficient"].value == pytest.approx(2.5, abs=0.01)
    assert sorted(rows_of(answer)) == [18, 19, 20, 21, 22]


def test_what_was_not_tested_is_withheld_with_the_reason(page):
    answer = page(time="10:00", known_at_c="26", coefficient="2.5", low_c="18", high_c="24")
    assert all(time["measure"].value is None for time in rows_of(answer).values())
    assert "tested" in answer.content.decode()
    answer = page(**KNOWN, tests="20 10:00\n20 9:50")
    assert answer.context["coefficient"].value is None


@pytest.mark.parametrize(
    ("given", "field", "says"),
    [
        ({}, "tests", "at least two tests"),
        ({"tests": "warm 10:00"}, "tests", "Line 1"),
        ({"tests": "18 10:00\n20"}, "tests", "Line 2"),
        ({"tests": "\n".join(["18 10:00"] * 13)}, "tests", "at most 12"),
        ({"time": "8.30", "coefficient": "2.5"}, "time", "colon"),
        ({"coefficient": "nan"}, "coefficient", ""),
        ({"coefficient": "40"}, "coefficient", "10"),
    ],
)
def test_what_cannot_be_read_says_what_to_mend(page, given, field, says):
    answer = page(**KNOWN | given)
    assert answer.status_code == 200
    assert says in str(answer.context["form"].errors[field])
    assert "rows" not in answer.context
