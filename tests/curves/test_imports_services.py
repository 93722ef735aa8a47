"""Readings files: read as a whole or refused as a whole, previewed, stored once."""

from pathlib import Path

import pytest

from curves.importers import write_readings_csv
from curves.models import UNEXPOSED_STEP, Reading, StagedImport
from curves.queries.imports import import_preview
from curves.queries.readings import reading_grid, reading_rows
from curves.services.imports import commit_staged_readings, discard_staged_readings, stage_readings_file
from curves.services.readings import ReadingValue, record_readings
from curves.services.tablets import nominal_densities
from labsite.accounts.models import AuditRecord
from labsite.common.errors import InvalidInput, NotAllowed, NotFound, WrongState
from labsite.jobs.models import Job
from tests.factories.instruments import make_instrument
from tests.factories.rolls import make_batch, make_roll, make_submitted_roll
from tests.factories.standards import make_exposure, make_process, make_tablet

DATA = Path(__file__).parent.parent / "data"
LONG = "step,density\n" + "".join(f"{step},{2 - 0.08 * step:.2f}\n" for step in range(1, 22))


@pytest.fixture
def roll(admin, owner):
    """A roll whose exposures are those of the files in tests/data."""
    exposure = make_exposure(admin, log_exposure_clear=-0.35)
    return make_roll(owner, make_batch(owner), (make_process(admin), exposure))


@pytest.fixture
def stage(roll, owner):
    """``stage("step,density…")`` by the roll's owner; bytes, too."""

    def make(content, filename="strip.csv", **how):
        data = content.encode() if isinstance(content, str) else content
        strip = roll.strips.get(number=1)
        return stage_readings_file(actor=owner, strip_id=strip.pk, filename=filename, data=data, **how)

    return make


def cells(staged) -> dict:
    return {(row["step"], row["replicate"]): row["density"] for row in staged.rows}


def current(roll) -> dict:
    rows = Reading.objects.filter(strip__roll=roll, is_current=True)
    return {(row.step, row.replicate): row.density for row in rows}


def faults(stage, content) -> list[tuple]:
    """(row, column) of each problem, after proving that nothing was kept."""
    with pytest.raises(InvalidInput) as refused:
        stage(content)
    assert not StagedImport.objects.exists()
    assert refused.value.field == "file"
    assert all(problem["message"] for problem in refused.value.problems)
    return [(problem["row"], problem["column"]) for problem in refused.value.problems]


# --- What is read


@pytest.mark.parametrize(
    "name",
    [
        "strip-soft-toe.csv",
        "strip-soft-toe-semicolon.csv",
        "strip-soft-toe.xlsx",
        "strip-soft-toe.txt",
    ],
)
def test_every_kind_of_file_gives_the_same_cells(stage, name):
    staged = stage((DATA / name).read_bytes(), filename=name)
    found = cells(staged)
    # From tests/data/README.md: 21 steps and the unexposed area, each read three times.
    assert len(found) == 66
    assert [found[UNEXPOSED_STEP, n] for n in (1, 2, 3)] == [0.25, 0.25, 0.25]
    assert [found[2, n] for n in (1, 2, 3)] == [1.69, 1.68, 1.69]
    assert not Reading.objects.exists()


def test_a_file_of_steps_needs_no_exposures(stage):
    assert cells(stage(LONG))[3, 1] == 1.76


def test_a_file_of_exposures_needs_no_steps(stage):
    """The tablet gives step n the exposure −0.40 − 0.15 (n − 1)."""
    staged = stage("log_exposure,density\n-0.40,1.79\n-0.55,1.69\n-3.40,0.26\n")
    assert cells(staged) == {(1, 1): 1.79, (2, 1): 1.69, (21, 1): 0.26}


def test_one_row_a_step_with_numbered_columns(stage):
    staged = stage("step,density_1,density_2,unexposed\n1,1.79,1.80,\n2,1.69,,\n,0.25,0.26,1\n")
    assert cells(staged) == {
        (1, 1): 1.79,
        (1, 2): 1.80,
        (2, 1): 1.69,
        (UNEXPOSED_STEP, 1): 0.25,
        (UNEXPOSED_STEP, 2): 0.26,
    }
    assert "2 density columns read as replicates" in staged.notes


def test_unnumbered_repeats_become_replicates(stage):
    staged = stage("step,density\n1,1.79\n1,1.80\n2,1.69\n2,1.68\n")
    assert cells(staged)[1, 2] == 1.80
    assert any("read as replicates" in note for note in staged.notes)


def test_lines_of_the_instrument_above_the_header_and_remarks_are_noted(stage):
    staged = stage("Densitometer log\nroll 12\nstep,density,remark\n1,1.79,\n2,1.69,dust\n")
    assert cells(staged) == {(1, 1): 1.79, (2, 1): 1.69}
    assert any("lines above the header" in note for note in staged.notes)
    assert any("remarks stay in the file" in note for note in staged.notes)


# --- What is refused


def test_every_fault_is_told_at_once(stage):
    content = "step,density\n1,1.79\nx,1.69\n3,9.5\n40,1.2\n4,\n"
    assert faults(stage, content) == [(3, "step"), (4, "density"), (5, "step"), (6, "density")]


def test_a_file_without_place_on_the_exposure_axis(stage):
    assert faults(stage, "density\n1.79\n1.69\n") == [(1, "step")]


def test_exposures_that_are_not_the_standard_s(stage):
    assert faults(stage, "step,log_exposure,density\n1,-0.40,1.79\n2,-0.75,1.69\n") == [(3, "log_exposure")]
    assert faults(stage, "log_exposure,density\n-0.40,1.79\n-0.48,1.69\n") == [(3, "log_exposure")]


def test_two_exposures_that_mean_the_same_step(stage):
    content = "log_exposure,density\n-0.40,1.79\n-0.55,1.69\n-0.56,1.68\n"
    assert faults(stage, content) == [(4, "log_exposure")]


def test_more_readings_of_a_step_than_are_kept(stage):
    assert faults(stage, "step,replicate,density\n1,1,1.79\n2,21,1.69\n") == [(3, "replicate")]


def test_repeats_are_no_faults_of_their_own_beside_a_bad_cell(stage):
    """Repeated steps are numbered only in a table without other faults."""
    assert faults(stage, "step,density\n1,1.79\n1,1.80\n2,1.6x\n2,1.69\n") == [(4, "density")]


@pytest.mark.parametrize(
    "content",
    [b"", b"\x89PNG\r\n\x1a\n" + bytes(64), b"step,density\n" * 200_000],
    ids=["empty", "picture", "large"],
)
def test_files_that_are_no_readings(stage, content):
    with pytest.raises(InvalidInput):
        stage(content)
    assert not StagedImport.objects.exists()


def test_an_instrument_of_another_kind_is_refused_before_the_preview(stage, roll, admin, owner):
    strip = roll.strips.get()
    diffuse = make_instrument(admin)
    projection = make_instrument(admin, name="Projection head", geometry="projection_4_5")
    record_readings(
        actor=owner,
        strip_id=strip.pk,
        values=[ReadingValue(1, 9, 1.8)],
        instrument_id=diffuse.pk,
    )
    with pytest.raises(InvalidInput, match="One curve can't mix them"):
        stage(LONG, instrument_id=projection.pk)
    # Where the file replaces every reading of the other kind there is nothing to mix.
    again = (
        LONG.replace("step,density\n", "step,density,replicate\n")
        .replace("\n", ",9\n")
        .replace("replicate,9", "replicate")
    )
    assert stage(again, instrument_id=projection.pk)


def test_only_the_roll_s_member_may_stage_and_only_while_it_is_open(roll, owner, labmate, visitor, admin):
    strip = roll.strips.get()
    for person in (labmate, admin, visitor):
        with pytest.raises(NotAllowed):
            stage_readings_file(actor=person, strip_id=strip.pk, filename="a.csv", data=LONG.encode())
    submitted = make_submitted_roll(
        owner, roll.batch, (roll.process_revision, roll.exposure_revision)
    ).strips.get()
    with pytest.raises(WrongState):
        stage_readings_file(actor=owner, strip_id=submitted.pk, filename="a.csv", data=LONG.encode())
    with pytest.raises(NotFound):
        stage_readings_file(actor=owner, strip_id=0, filename="a.csv", data=LONG.encode())


# --- What is stored


def test_storing_keeps_who_how_and_from_which_file(stage, roll, admin, owner):
    instrument = make_instrument(admin)
    staged = stage(LONG, filename="roll 12.csv", instrument_id=instrument.pk)
    job = commit_staged_readings(actor=owner, staged_id=staged.pk)
    assert job.kind == "fit_roll"
    assert len(current(roll)) == 21
    reading = Reading.objects.get(step=3)
    assert (reading.source, reading.source_name) == ("file", "roll 12.csv")
    assert (reading.instrument, reading.read_by) == (instrument, owner)
    assert AuditRecord.objects.get(action="stage readings file").after["readings"] == 21


def test_storing_twice_is_refused_and_doubles_nothing(stage, roll, owner):
    staged = stage(LONG)
    commit_staged_readings(actor=owner, staged_id=staged.pk)
    with pytest.raises(WrongState, match="stored already"):
        commit_staged_readings(actor=owner, staged_id=staged.pk)
    assert commit_staged_readings(actor=owner, staged_id=stage(LONG).pk) is None
    assert Reading.objects.count() == 21


def test_storing_over_readings_that_changed_since_the_preview_is_refused(stage, roll, owner):
    staged = stage(LONG)
    version = import_preview(owner, staged.pk).grid.version
    record_readings(actor=owner, strip_id=roll.strips.get().pk, values=[ReadingValue(1, 1, 1.5)])
    with pytest.raises(WrongState) as refused:
        commit_staged_readings(actor=owner, staged_id=staged.pk, version=version)
    assert refused.value.code == "stale"
    assert current(roll) == {(1, 1): 1.5}
    now = import_preview(owner, staged.pk)
    assert now.counts == {"new": 20, "same": 0, "replaced": 1, "kept": 0}
    commit_staged_readings(actor=owner, staged_id=staged.pk, version=now.grid.version)
    old = Reading.objects.get(is_current=False)
    assert (old.density, old.ended_reason) == (1.5, "replaced by file strip.csv")


def test_the_preview_says_what_stays_what_is_the_same_and_what_falls(stage, roll, owner):
    values = [ReadingValue(1, 1, 1.92), ReadingValue(2, 2, 1.80)]
    record_readings(actor=owner, strip_id=roll.strips.get().pk, values=values)
    staged = stage(LONG.replace("10,1.20", "10,1.50"))
    preview = import_preview(owner, staged.pk)
    assert preview.counts == {"new": 20, "same": 1, "replaced": 0, "kept": 1}
    warned = {row.step: row.warning for row in preview.rows if row.warning}
    assert list(warned) == [9]
    assert warned[9] == "step 9 has more exposure than step 10, yet reads 0.22 D less"
    assert not preview.is_reversed


def test_the_preview_of_steps_numbered_from_the_other_end_says_so(stage, owner):
    reversed_steps = "step,density\n" + "".join(f"{s},{0.2 + 0.08 * s:.2f}\n" for s in range(1, 22))
    assert import_preview(owner, stage(reversed_steps).pk).is_reversed


def test_a_preview_is_its_uploader_s_alone(stage, labmate, admin, owner):
    staged = stage(LONG)
    for person in (labmate, admin):
        with pytest.raises(NotFound):
            import_preview(person, staged.pk)
        with pytest.raises(NotFound):
            commit_staged_readings(actor=person, staged_id=staged.pk)
        with pytest.raises(NotFound):
            discard_staged_readings(actor=person, staged_id=staged.pk)


def test_a_discarded_preview_is_gone(stage, owner):
    staged = stage(LONG)
    discard_staged_readings(actor=owner, staged_id=staged.pk)
    for act in (commit_staged_readings, discard_staged_readings):
        with pytest.raises(NotFound):
            act(actor=owner, staged_id=staged.pk)
    assert not Reading.objects.exists()


def test_the_site_s_own_export_comes_back_unchanged(stage, roll, owner):
    commit_staged_readings(
        actor=owner, staged_id=stage((DATA / "strip-soft-toe.csv").read_bytes(), "a.csv").pk
    )
    before = current(roll)
    text = write_readings_csv(reading_rows(reading_grid(owner, roll.pk, 1)), comments=["R-1, strip 1"])
    preview = import_preview(owner, stage(text).pk)
    assert preview.counts == {"new": 0, "same": 66, "replaced": 0, "kept": 0}
    assert commit_staged_readings(actor=owner, staged_id=preview.staged.pk) is None
    assert current(roll) == before


def test_a_thousand_rows_with_forty_faults_then_without(admin, owner):
    """Forty faults are listed at once and nothing is stored; mended, all thousand are, and once only."""
    densities = nominal_densities(first=0.05, spacing=0.06, count=49)
    tablet = make_tablet(admin, name="Fine tablet", densities=densities).tablet
    exposure = make_exposure(admin, "Fine steps", tablet=tablet)
    roll = make_roll(owner, make_batch(owner), (make_process(admin), exposure))
    strip = roll.strips.get()
    rows = [(step, n, f"{3 - 0.05 * step:.2f}", "") for step in range(1, 50) for n in range(1, 21)]
    rows += [("", n, "0.25", 1) for n in range(1, 21)]
    assert len(rows) == 1000
    faulty = {at * 24 + 7 for at in range(40)}

    def file(is_mended):
        lines = ["step,replicate,density,unexposed"]
        for at, (step, n, density, mark) in enumerate(rows):
            lines.append(f"{step},{n},{density if is_mended or at not in faulty else 'l.2o'},{mark}")
        return "\n".join(lines).encode()

    send = {"actor": owner, "strip_id": strip.pk, "filename": "all.csv"}
    with pytest.raises(InvalidInput) as refused:
        stage_readings_file(data=file(is_mended=False), **send)
    assert [p["row"] for p in refused.value.problems] == sorted(at + 2 for at in faulty)
    assert not StagedImport.objects.exists() and not Reading.objects.exists()
    for _ in range(2):
        commit_staged_readings(
            actor=owner, staged_id=stage_readings_file(data=file(is_mended=True), **send).pk
        )
    assert Reading.objects.count() == 1000
    assert Job.objects.filter(kind="fit_roll").count() == 1
