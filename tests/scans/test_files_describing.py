"""What scans show and how they were made: said, checked all at once, kept in the history; discarded."""

from datetime import date, timedelta

import pytest
from django.utils import timezone

from curves.models import Roll, RollState
from curves.services.instruments import retire_instrument
from curves.services.rolls import add_strip
from labsite.accounts.models import AuditRecord
from labsite.common.errors import InvalidInput, NotAllowed, NotFound, WrongState
from labsite.jobs.models import Job
from labsite.jobs.runner import run_waiting_jobs
from scans.models import Measurement, Scan, StoredFile, Transfer
from scans.queries.scan_list import scan_facts, visible_scan, visible_scans
from scans.queries.setups import resolution_of
from scans.services.describing import describe_scan, describe_scans, discard_scan
from tests.factories.rolls import make_batch, make_roll, make_standards
from tests.factories.scans import make_scanner
from tests.factories.standards import make_tablet
from tests.factories.uploads import make_scan, upload_file

pytestmark = pytest.mark.django_db
SETTINGS = {"holder": "film  holder", "light": "", "mode": "16-bit grey", "dpi": "no such setting"}


@pytest.fixture(autouse=True)
def folder(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path / "files"


@pytest.fixture
def roll(owner, admin):
    return make_roll(owner, make_batch(owner), make_standards(admin))


@pytest.fixture
def scanner(admin):
    return make_scanner(admin)


@pytest.fixture
def scan(owner, tmp_path):
    return make_scan(owner, tmp_path)


def refused(**told):
    with pytest.raises(InvalidInput) as refusal:
        describe_scan(**told)
    return {problem["field"]: problem["message"] for problem in refusal.value.problems}


def test_a_strip_is_described_measured_and_remembered(owner, scan, roll, scanner):
    described = describe_scan(
        actor=owner,
        scan_id=scan.pk,
        shows="strip",
        roll_id=roll.pk,
        scanner_id=scanner.pk,
        settings=SETTINGS,
        scanned_on=date(2026, 5, 4),
        notes=" second pass ",
    )
    assert (described.roll, described.strip, described.scanner) == (roll, roll.strips.get(), scanner)
    assert described.settings == {"holder": "film holder", "mode": "16-bit grey"}
    assert (described.notes, described.told_resolution_ppi) == ("second pass", None)
    record = AuditRecord.objects.get(action="describe scan")
    assert (record.before["shows"], record.after["shows"]) == ("", "strip")
    assert record.after["strip_id"] == roll.strips.get().pk
    assert Job.objects.filter(kind="measure_scan", subject__scan_id=scan.pk).count() == 1
    facts = dict(scan_facts(visible_scan(owner, scan.pk)))
    assert facts["Roll"] == f"{roll.code}, strip 1"
    assert facts["Content"].startswith("TIFF, 16 bits, grey, 130 × 90 pixels, 2400 ppi")
    assert facts["Holder"] == "film holder"
    # Said again, nothing changes.
    again = describe_scan(
        actor=owner,
        scan_id=scan.pk,
        shows="strip",
        roll_id=roll.pk,
        strip_id=roll.strips.get().pk,
        scanner_id=scanner.pk,
        settings=SETTINGS,
        scanned_on=date(2026, 5, 4),
        notes="second pass",
    )
    assert (again, AuditRecord.objects.filter(action="describe scan").count()) == (scan, 1)


def test_every_fault_is_told_at_once(owner, scan):
    faults = refused(
        actor=owner,
        scan_id=scan.pk,
        shows="tablet",
        scanner_id=10**6,
        told_resolution_ppi=12.0,
        scanned_on=timezone.localdate() + timedelta(days=1),
        frame_label="x" * 41,
        settings={"holder": "x" * 121},
    )
    assert set(faults) == {
        "scanned_on",
        "tablet_id",
        "scanner_id",
        "told_resolution_ppi",
        "frame_label",
        "settings",
    }
    scan.refresh_from_db()
    assert scan.shows == ""
    assert not Job.objects.filter(kind="measure_scan").exists()


@pytest.mark.parametrize("shows", ["", "holiday"])
def test_what_it_shows_has_to_be_chosen(owner, scan, shows):
    assert set(refused(actor=owner, scan_id=scan.pk, shows=shows)) == {"shows"}


def test_a_strip_or_frame_belongs_to_an_own_roll_that_can_be_changed(owner, labmate, admin, scan, roll):
    other = make_roll(labmate, roll.batch, (roll.process_revision, roll.exposure_revision))
    for shows in ("strip", "frame"):
        assert "roll_id" in refused(actor=owner, scan_id=scan.pk, shows=shows)
        assert "belongs to" in refused(actor=owner, scan_id=scan.pk, shows=shows, roll_id=other.pk)["roll_id"]
    Roll.objects.filter(pk=roll.pk).update(state=RollState.ACCEPTED)
    assert "accepted" in refused(actor=owner, scan_id=scan.pk, shows="frame", roll_id=roll.pk)["roll_id"]
    described = describe_scan(actor=owner, scan_id=scan.pk, shows="field", roll_id=roll.pk)
    assert described.roll == roll, "grain may be measured on reviewed rolls, too"


def test_of_several_strips_one_has_to_be_named(owner, scan, roll):
    second = add_strip(actor=owner, roll_id=roll.pk)
    told = {"actor": owner, "scan_id": scan.pk, "shows": "strip", "roll_id": roll.pk}
    assert set(refused(**told)) == {"strip_id"}
    assert set(refused(**told, strip_id=10**6)) == {"strip_id"}
    assert describe_scan(**told, strip_id=second.pk).strip == second


def test_a_calibration_scan_names_tablet_and_scanner(owner, admin, scan, scanner, roll):
    tablet = make_tablet(admin, "Tablet Z").tablet
    told = {"actor": owner, "scan_id": scan.pk, "shows": "tablet"}
    assert set(refused(**told)) == {"tablet_id", "scanner_id"}
    described = describe_scan(**told, tablet_id=tablet.pk, scanner_id=scanner.pk, roll_id=roll.pk)
    assert (described.tablet, described.roll) == (tablet, None)


def test_a_retired_scanner_stays_where_it_was_used_and_is_not_chosen_anew(owner, admin, scan, scanner):
    told = {"actor": owner, "scan_id": scan.pk, "shows": "edge", "scanner_id": scanner.pk}
    describe_scan(**told)
    retire_instrument(actor=admin, instrument_id=scanner.pk)
    describe_scan(**told, notes="still it")
    other = make_scanner(admin, "Flatbed 4")
    retire_instrument(actor=admin, instrument_id=other.pk)
    assert "retired" in refused(**told | {"scanner_id": other.pk})["scanner_id"]


def test_resolution_is_asked_for_where_it_is_missing_and_another_needs_a_reason(owner, scan):
    told = {"actor": owner, "scan_id": scan.pk}
    assert "reason" in "".join(refused(**told, shows="print", told_resolution_ppi=1200.0))
    described = describe_scan(
        **told, shows="print", told_resolution_ppi=1200.0, told_resolution_reason="Scaled afterwards."
    )
    assert described.told_resolution_ppi == 1200.0
    assert resolution_of(described) == (1200.0, 1200.0), "measured by what the member told"
    assert "1200 ppi, as told: Scaled afterwards. (the file says 2400 ppi)" in str(scan_facts(described))
    described = describe_scan(**told, shows="print", told_resolution_ppi=2400.0, told_resolution_reason="?")
    assert (described.told_resolution_ppi, described.told_resolution_reason) == (None, "")
    StoredFile.objects.filter(pk=scan.file_id).update(resolution_x_ppi=None, resolution_y_ppi=None)
    for shows in ("field", "edge"):
        assert set(refused(**told, shows=shows)) == {"told_resolution_ppi"}
    assert describe_scan(**told, shows="field", told_resolution_ppi=3200.0).told_resolution_ppi == 3200.0


def test_several_are_described_at_once_or_not_at_all(owner, roll, tmp_path):
    first, second = make_scan(owner, tmp_path, seed=1), make_scan(owner, tmp_path, "two.tif", seed=2)
    with pytest.raises(InvalidInput) as refusal:
        describe_scans(
            actor=owner,
            each={first.pk: {"frame_label": "frame 1"}, second.pk: {"frame_label": "x" * 50}},
            shows="frame",
            roll_id=roll.pk,
        )
    assert [(fault["field"], fault["scan_id"]) for fault in refusal.value.problems] == [
        ("frame_label", second.pk)
    ]
    assert set(Scan.objects.values_list("shows", flat=True)) == {""}
    describe_scans(
        actor=owner,
        each={first.pk: {"frame_label": "frame 1"}, second.pk: {"frame_label": "frame 2"}},
        shows="frame",
        roll_id=roll.pk,
    )
    assert list(Scan.objects.order_by("pk").values_list("shows", "frame_label")) == [
        ("frame", "frame 1"),
        ("frame", "frame 2"),
    ]


def test_only_its_member_or_an_admin_describes_or_discards_a_scan(owner, labmate, admin, visitor, scan):
    for person in (labmate, visitor):
        with pytest.raises(NotAllowed):
            describe_scan(actor=person, scan_id=scan.pk, shows="edge")
        with pytest.raises(NotAllowed):
            discard_scan(actor=person, scan_id=scan.pk)
    describe_scan(actor=admin, scan_id=scan.pk, shows="edge")
    discard_scan(actor=admin, scan_id=scan.pk, reason="of nothing")
    assert AuditRecord.objects.get(action="discard scan").reason == "of nothing"
    for act in (describe_scan, discard_scan):
        with pytest.raises(NotFound):
            act(actor=owner, scan_id=scan.pk, **{"shows": "edge"} if act is describe_scan else {})
    with pytest.raises(NotFound):
        visible_scan(owner, scan.pk)
    assert not visible_scans(owner).exists()
    assert scan.file.path.exists()


def test_what_readings_were_taken_from_stays_as_it_is_but_for_words(owner, scan, roll):
    told = {"actor": owner, "scan_id": scan.pk, "shows": "strip", "roll_id": roll.pk}
    described = describe_scan(**told)
    measurement = Measurement.objects.create(
        scan=scan, kind="density", engine_version="1", input_digest="0" * 64, document={}
    )
    Transfer.objects.create(measurement=measurement, strip=described.strip, taken_by=owner)
    with pytest.raises(WrongState, match=f"readings of {roll.code} were taken from it"):
        describe_scan(actor=owner, scan_id=scan.pk, shows="edge")
    with pytest.raises(WrongState, match="can't be discarded"):
        discard_scan(actor=owner, scan_id=scan.pk)
    assert describe_scan(**told, notes="Mind the scratch.").notes == "Mind the scratch."


def test_a_file_that_cannot_be_read_is_kept_for_its_owner_to_discard(owner, tmp_path):
    scan = upload_file(owner, b"%!PS-Adobe-3.0 EPSF-3.0\n")
    run_waiting_jobs()
    scan.refresh_from_db()
    assert (scan.file.state, scan.file.refusal_code) == ("refused", "NOT_A_PICTURE")
    assert dict(scan_facts(scan))["Content"] == scan.file.refusal_text
    discard_scan(actor=owner, scan_id=scan.pk)
