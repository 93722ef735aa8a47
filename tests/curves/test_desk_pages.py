"""Front desk, bench and hub: what each person finds first, and nothing that is not theirs."""

import re

import pytest
from django.urls import reverse
from django.utils import timezone

from curves.models import RollState
from curves.queries.desk import MOST_ROLLS, bench
from curves.services.readings import record_readings
from curves.services.references import appoint_reference
from curves.services.reviews import return_roll
from curves.services.rolls import assign_run, submit_roll
from curves.services.runs import judge_run
from labsite.accounts.models import Lab
from labsite.jobs.models import Job
from labsite.jobs.runner import run_waiting_jobs
from labsite.jobs.services import submit_job
from tests.factories.labs import open_lab
from tests.factories.rolls import (
    make_accepted_roll,
    make_batch,
    make_read_roll,
    make_roll,
    make_run,
    make_standards,
    make_submitted_roll,
    reading_values,
)
from tests.factories.standing import roll_row

#: Session and person; own rolls with their strips; strips, tablets' steps and readings of fitted ones;
#: jobs, reviews; pairs of standards, whether any roll is accepted, stocks to compare; jobs of the lab and
#: three for their health; runs; processes in force, their latest runs and their developer's age; the lab.
QUERIES = 21


def section(text: str, title: str) -> str:
    """What stands on a page from a heading to the next."""
    _, after = re.split(rf"<h2[^>]*>{title}</h2>", text)
    return after.split("<h2")[0]


@pytest.fixture
def standards(admin):
    return make_standards(admin)


@pytest.fixture
def batch(owner):
    return make_batch(owner)


# --- Front desk


def test_a_closed_lab_asks_to_sign_in_and_tells_nothing(visitor, owner, admin, batch, standards, client_for):
    make_accepted_roll(owner, admin, batch, standards)
    Lab.objects.update_or_create(pk=1, defaults={"name": "Test Lab", "contact": "Ask on club nights."})
    answer = client_for(visitor).get(reverse("front"))
    assert answer.status_code == 200
    assert "open to its members" in answer.text
    assert reverse("accounts:sign_in") in answer.text
    assert "Alder 100" not in answer.text


def test_an_open_lab_shows_the_reference_and_its_newest_results(visitor, owner, admin, standards, client_for):
    open_lab()
    run = make_run(owner, standards[0])
    stocks = []
    for seed, name in enumerate(("Alder 100", "Birch 200", "Cedar 50")):
        roll = make_accepted_roll(owner, admin, make_batch(owner, name), standards, run=run, seed=seed)
        stocks.append(roll.batch.stock)
    pair = {"process_revision_id": standards[0].pk, "exposure_revision_id": standards[1].pk}
    appoint_reference(actor=admin, stock_id=stocks[0].pk, **pair)
    text = client_for(visitor).get(reverse("front")).text
    assert "against one house reference, Alder 100" in text
    newest = section(text, "Newest results")
    assert newest.index("Cedar 50") < newest.index("Birch 200"), "accepted last stands first"
    assert "Alder 100</a>" not in newest
    assert f"/compare/?standards={standards[0].pk}-{standards[1].pk}&amp;stock={stocks[2].pk}" in text
    assert '"role": "reference"' in text
    assert "Bram" not in text and "OO" not in text, "nobody is named on the front desk"


def test_an_open_lab_without_results_says_so(visitor, client_for):
    open_lab()
    assert "No results yet" in client_for(visitor).get(reverse("front")).text


def test_the_front_desk_asks_the_same_queries_however_many_results(
    visitor, owner, admin, standards, client_for, django_assert_max_num_queries
):
    open_lab()
    for seed in range(8):
        make_accepted_roll(owner, admin, make_batch(owner, f"Alder {seed}"), standards, seed=seed)
    client = client_for(visitor)
    with django_assert_max_num_queries(8):
        client.get(reverse("front"))


def test_members_go_on_to_their_bench_and_retired_people_do_not(owner, admin, stranger, client_for):
    for person in (owner, admin):
        assert client_for(person).get(reverse("front")).url == reverse("bench")
    assert "open to its members" in client_for(stranger).get(reverse("front")).text


# --- Bench


def bench_text(client) -> str:
    answer = client.get(reverse("bench"))
    assert answer.status_code == 200
    return answer.text


def test_a_newcomer_is_shown_the_way_in_five_steps(owner, client_for):
    text = bench_text(client_for(owner))
    assert len(re.findall(r"<li><strong>", section(text, "Your first test roll, in five steps"))) == 5
    assert "There is nothing to compare until a roll is accepted." in text


def test_each_roll_stands_with_its_one_next_step(owner, admin, batch, standards, client_for):
    client = client_for(owner)
    roll = make_roll(owner, batch, standards)
    own = reverse("roll", args=[roll.pk])

    def step() -> tuple[str, str]:
        found = re.search(r'<a class="button" href="([^"]+)">([^<]+)<', section(bench_text(client), "Next"))
        return found[2], found[1]

    assert step() == ("Record the process run", f"{own}run/")
    assign_run(actor=owner, roll_id=roll.pk, run_id=make_run(owner, standards[0]).pk)
    assert step() == ("Enter the readings", f"{own}strips/1/readings/")
    values = reading_values(roll)
    record_readings(actor=owner, strip_id=roll.strips.get().pk, values=values)
    text = bench_text(client)
    assert "The curve is being fitted" in section(text, "Waiting for others")
    assert "Fit the curve of" in section(text, "Jobs")
    run_waiting_jobs()
    assert step() == ("Look at the curve, then submit", own)
    submit_roll(actor=owner, roll_id=roll.pk)
    assert "Waits for a review since" in section(bench_text(client), "Waiting for others")
    return_roll(actor=admin, roll_id=roll.pk, reasons="Step 4 looks misread.")
    text = bench_text(client)
    returned = section(text, "Returned to you")
    assert "Step 4 looks misread." in returned
    assert "Mend what the review asks for" in returned
    assert text.index("Returned to you") < text.index(">Next<"), "returned rolls stand first"


def test_a_fit_that_failed_is_offered_again(owner, batch, standards, client_for):
    roll = make_roll(owner, batch, standards)
    assign_run(actor=owner, roll_id=roll.pk, run_id=make_run(owner, standards[0]).pk)
    job = record_readings(actor=owner, strip_id=roll.strips.get().pk, values=reading_values(roll))
    Job.objects.filter(pk=job.pk).update(state=Job.State.FAILED, error_text="No memory.")
    assert "Have the curve fitted again" in section(bench_text(client_for(owner)), "Next")


def test_a_curve_of_other_readings_is_not_taken_for_the_rolls(owner, batch, standards):
    roll = make_read_roll(owner, batch, standards)
    assert [line.step.code for line in bench(owner).mine] == ["submit"]
    roll.strips.get().readings.filter(step=5).update(density=1.23)
    assert [line.step.code for line in bench(owner).mine] == ["fit_again"]


def test_the_bench_is_ones_own(owner, labmate, batch, standards, client_for):
    make_roll(owner, batch, standards)
    text = bench_text(client_for(labmate))
    assert "R-0001" not in section(text, "Your first test roll, in five steps")
    assert [line.roll.member for line in bench(owner).mine] == [owner]


def test_admins_are_asked_for_reviews_but_not_of_their_own_rolls(
    owner, admin, labmate, batch, standards, client_for
):
    waiting = make_submitted_roll(owner, batch, standards, seed=1)
    own = make_submitted_roll(admin, batch, standards, seed=2)
    labmate.role = "admin"
    labmate.save()
    asked = section(bench_text(client_for(admin)), "Reviews asked of you")
    assert waiting.code in asked
    assert own.code not in asked
    labmate.role = "member"
    labmate.save()
    text = bench_text(client_for(admin))
    assert own.code in section(text, "Reviews asked of you"), "a single admin reviews their own, too"
    assert "Review it: no other admin can" in section(text, "Next")
    assert "Reviews asked of you" not in bench_text(client_for(owner))


def test_control_and_jobs_are_told(owner, admin, standards, client_for):
    run = make_run(owner, standards[0])
    judge_run(actor=admin, run_id=run.pk, control_state="out_of_control", reason="Strip reads high.")
    text = bench_text(client_for(owner))
    assert "out of control" in section(text, "Control today")
    assert "None is running or waiting." in section(text, "Jobs")
    long_ago = timezone.now() - timezone.timedelta(hours=1)
    canary = submit_job(kind="canary", subject={}, label="Check that jobs are run")
    Job.objects.filter(pk=canary.pk).update(created_at=long_ago)
    text = bench_text(client_for(owner))
    assert "Jobs are not being run" in text
    assert reverse("help_page", args=["stuck-jobs"]) in text


def test_the_comparison_begins_with_ones_latest_stocks(owner, admin, labmate, batch, standards, client_for):
    make_accepted_roll(owner, admin, batch, standards)
    address = f"/compare/?standards={standards[0].pk}-{standards[1].pk}"
    assert f"{address}&amp;stock={batch.stock_id}" in bench_text(client_for(owner))
    assert f'{address}"' in bench_text(client_for(labmate))


def test_the_bench_asks_the_same_queries_however_many_rolls(
    owner, admin, batch, standards, client_for, django_assert_num_queries
):
    make_read_roll(owner, batch, standards, seed=1)
    make_submitted_roll(owner, batch, standards, seed=2)
    return_roll(actor=admin, roll_id=make_submitted_roll(owner, batch, standards, seed=3).pk, reasons="Look.")
    client = client_for(owner)
    with django_assert_num_queries(QUERIES):
        client.get(reverse("bench"))
    for seed in (4, 5, 6):
        make_read_roll(owner, batch, standards, seed=seed)
        roll = make_submitted_roll(owner, batch, standards, seed=seed + 10)
        return_roll(actor=admin, roll_id=roll.pk, reasons="Look.")
        make_roll(owner, batch, standards)
    with django_assert_num_queries(QUERIES):
        client.get(reverse("bench"))


def test_a_bench_with_very_many_rolls_says_that_there_are_more(owner, standards, client_for):
    for _ in range(MOST_ROLLS + 2):
        roll_row(owner, *standards, state=RollState.DRAFT)
    shown = bench(owner)
    assert shown.is_cut
    assert len(shown.mine) == MOST_ROLLS
    assert "These are the ones changed last" in bench_text(client_for(owner))


def test_visitors_have_no_bench(visitor, stranger, client_for):
    open_lab()
    assert client_for(visitor).get(reverse("bench")).status_code == 302
    assert client_for(stranger).get(reverse("bench")).status_code in (302, 403)


# --- Hub


def test_the_hub_leads_only_to_what_one_may_open(visitor, owner, admin, client_for):
    assert client_for(visitor).get(reverse("lab")).status_code == 302
    open_lab()
    for person, may, may_not in (
        (visitor, ("About the measurements",), ("Status", "Run the lab", "History", "Review queue")),
        (owner, ("Status", "SQLite", "PostgreSQL"), ("Run the lab", "History", "Review queue")),
        (admin, ("Status", "Run the lab", "History", "Review queue"), ()),
    ):
        client = client_for(person)
        text = client.get(reverse("lab")).text
        assert any(words in text for words in may)
        assert not any(words in text for words in may_not)
        main = text[text.index("<main") : text.index("</main>")]
        for address in set(re.findall(r'href="(/[^"#]*)"', main)):
            assert client.get(address).status_code == 200, address


def test_the_hub_counts_what_there_is(owner, admin, batch, standards, client_for):
    make_accepted_roll(owner, admin, batch, standards)
    make_submitted_roll(owner, batch, standards, seed=2)
    text = client_for(admin).get(reverse("lab")).text
    for name, count in (("Rolls", 2), ("Accepted rolls", 1), ("Stocks", 1), ("Fitted curves", 2)):
        assert f"<dt>{name}</dt><dd>{count}</dd>" in text
    assert "1 roll waits for a decision." in text
