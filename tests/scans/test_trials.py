"""Grain, edges and the scanner's own part in them: known truth recovered, bounds and refusals said."""

import numpy as np
import pytest
from django.urls import reverse

from labsite.common.errors import InvalidInput, NotAllowed
from labsite.jobs.models import Job
from labsite.jobs.runner import run_waiting_jobs
from scans.imaging.scanner_limits import ScannerLimits
from scans.imaging.synthetic_edge import MTF50_TIMES_BLUR, gaussian_edge
from scans.imaging.synthetic_grain import grain_field, scaled_spectrum, two_scale
from scans.models import Measurement, ScannerTrial, Shows
from scans.queries.measured import current_measurement
from scans.queries.setups import setup_digest
from scans.services.measuring import request_measuring
from scans.services.trials import try_scanner
from tests.factories.rolls import make_batch, make_roll, make_standards
from tests.factories.scans import SETTINGS, calibration_row, file_row, last_job, make_scanner, scan_row

PPI = 4000
PITCH_UM = 25400 / PPI
BLUR_UM = 4.0
NOISE = 0.01  # relative, a pixel
SIDE = 640


@pytest.fixture(autouse=True)
def scan_files(settings, tmp_path):
    """Scans lie in a folder of the test's own."""
    settings.MEDIA_ROOT = tmp_path


@pytest.fixture
def scanner(admin):
    """A scanner in proportion to light."""
    return make_scanner(admin)


@pytest.fixture
def roll(owner, admin):
    """A roll with fields on it."""
    return make_roll(owner, make_batch(owner), make_standards(admin))


def levels(light) -> np.ndarray:
    """As the scanner writes them."""
    return np.clip(np.rint(20 + 57000 * np.asarray(light)), 0, 65535).astype(np.uint16)


def field_scan(member, roll, scanner, density, granularity, *, seed, grain_seed=None, **fields):
    """An even field of film with grain, blurred and with the scanner's noise."""
    spectrum = scaled_spectrum(two_scale, granularity)
    grain = grain_field(
        (SIDE, SIDE), PITCH_UM, spectrum, np.random.default_rng(grain_seed or seed), blur_um=BLUR_UM
    )
    noise = np.random.default_rng(seed + 1000).normal(0, NOISE, grain.shape)
    samples = levels(10.0**-density * (grain + noise))
    name = f"field-{seed}"
    return scan_row(member, samples, Shows.FIELD, scanner=scanner, ppi=PPI, name=name, roll=roll, **fields)


def edge_scan(member, scanner, *, blur_um=BLUR_UM, ppi=PPI, name="edge", **fields):
    """A slanted edge behind the scanner's blur."""
    generator = np.random.default_rng(4)
    picture = gaussian_edge((400, 300), blur_um / PITCH_UM, 5.0, noise_sd=0.0005, generator=generator)
    return scan_row(member, levels(picture), Shows.EDGE, scanner=scanner, ppi=ppi, name=name, **fields)


def trial_row(scan) -> ScannerTrial:
    """What the scanner adds, known beforehand."""
    blur = ScannerLimits.gaussian(BLUR_UM)
    marks = np.array([0.05, 0.1, 0.3])
    limits = ScannerLimits(
        tuple(marks), tuple(NOISE * marks), blur.mtf_frequency, blur.mtf, noise_error=0.03, width_error=0.02
    )
    return ScannerTrial.objects.create(
        scanner=scan.scanner,
        setup={},
        setup_digest=setup_digest(scan),
        document=limits.to_dict(),
        made_by=scan.member,
    )


def measured(scan) -> Measurement:
    """The measurement that stands after measuring."""
    request_measuring(scan=scan)
    run_waiting_jobs()
    return current_measurement(scan)


def test_granularity_of_known_grain_is_recovered(owner, roll, scanner):
    scan = field_scan(owner, roll, scanner, 1.0, 12.0, seed=1)
    calibration_row(scan)
    trial_row(scan)
    found = measured(scan).document["rms_granularity"]
    # 640 pixels a side are worth some 2,000 apertures: a standard error of 1.6 %; with the scanner's
    # errors the interval is a little wider.
    assert found["value"] == pytest.approx(12.0, rel=0.06)
    assert found["low"] <= 12.0 <= found["high"]
    assert found["unit"] == "1000 D"


def test_without_a_trial_the_scanner_is_not_separated_and_nothing_is_claimed(
    owner, roll, scanner, client_for
):
    scan = field_scan(owner, roll, scanner, 1.0, 12.0, seed=1)
    calibration_row(scan)
    found = measured(scan).document
    assert found["rms_granularity"]["value"] is None
    assert found["rms_granularity"]["reason"] == "SCANNER_UNKNOWN"
    assert found["patches"][0]["density"] == pytest.approx(1.0, abs=0.01)
    said = client_for(owner).get(reverse("scan", args=[scan.pk])).content.decode()
    assert "try the scanner" in said and "No valid calibration" not in said


def test_without_a_calibration_there_is_no_density_to_speak_of(owner, roll, scanner):
    found = measured(field_scan(owner, roll, scanner, 1.0, 12.0, seed=1)).document
    assert found["patches"] == [] and found["rms_granularity"]["value"] is None
    assert found["withheld"]["code"] == "UNCALIBRATED"


def test_without_a_resolution_there_is_no_aperture(owner, roll, scanner):
    file = file_row(levels(np.full((200, 200), 0.1)), ppi=None, name="untold")
    scan = scan_row(owner, file, Shows.FIELD, scanner=scanner, roll=roll)
    calibration_row(scan)
    found = measured(scan).document
    assert found["rms_granularity"]["reason"] == "RESOLUTION_UNKNOWN"


def test_a_rolls_fields_make_a_series_to_density_one(owner, roll, scanner, client_for):
    light = field_scan(owner, roll, scanner, 0.8, 10.0, seed=1)
    dense = field_scan(owner, roll, scanner, 1.25, 14.0, seed=2)
    calibration_row(light)
    trial_row(light)
    alone = measured(light)
    assert alone.document["rms_granularity"]["reason"] == "NOT_REACHED"
    request_measuring(scan=dense)
    run_waiting_jobs()
    for scan in (light, dense):
        document = current_measurement(scan).document
        # Between 10 at 0.8 and 14 at 1.25 on a straight line in logarithms: 11.83 at 1.0.
        assert document["rms_granularity"]["value"] == pytest.approx(11.83, rel=0.06)
        assert [each["scan"] for each in document["series"]] == [light.code, dense.code]
    count = Measurement.objects.count()
    assert measured(light).pk == current_measurement(light).pk
    assert Measurement.objects.count() == count  # nothing new to say, so nothing is added
    answer = client_for(owner).get(reverse("scan", args=[light.pk]))
    stated = current_measurement(light).document["rms_granularity"]["value"]
    assert f"{stated:.1f}" in answer.content.decode()
    assert "Noise power spectrum" in answer.content.decode()


def test_fields_of_another_set_up_are_no_part_of_the_series(owner, roll, scanner):
    one = field_scan(owner, roll, scanner, 0.8, 10.0, seed=1)
    other = field_scan(owner, roll, scanner, 1.25, 14.0, seed=2, settings=SETTINGS | {"holder": "glass"})
    for scan in (one, other):
        calibration_row(scan)
        trial_row(scan)
        request_measuring(scan=scan)
    run_waiting_jobs()
    assert len(current_measurement(one).document["series"]) == 1


def test_an_edge_of_known_blur_is_recovered_and_said_to_be_of_the_whole_rig(owner, roll, scanner, client_for):
    scan = edge_scan(owner, scanner)
    calibration_row(scan)
    document = measured(scan).document
    truth = MTF50_TIMES_BLUR / BLUR_UM * 1000
    found = document["edge"]["mtf50_cycles_per_mm"]
    assert found["value"] == pytest.approx(truth, rel=0.015)
    assert document["edge"]["film_mtf50_cycles_per_mm"]["reason"] == "SCANNER_UNKNOWN"
    said = client_for(owner).get(reverse("scan", args=[scan.pk])).content.decode()
    assert f"{found['value']:.1f}" in said and "compare like rigs only" in said and "Nyquist" in said


def test_an_edge_without_a_calibration_says_what_is_taken_for_granted(owner, scanner):
    document = measured(edge_scan(owner, scanner)).document
    assert document["edge"]["mtf50_cycles_per_mm"]["value"] is not None
    assert [flag["code"] for flag in document["flags"]] == ["LEVELS_AS_LIGHT"]


def test_a_trial_finds_the_scanners_noise_and_blur(owner, roll, scanner):
    first = field_scan(owner, roll, scanner, 1.0, 12.0, seed=1, grain_seed=7)
    second = field_scan(owner, roll, scanner, 1.0, 12.0, seed=2, grain_seed=7)
    edge = edge_scan(owner, scanner)
    calibration_row(first)
    for scan in (first, second, edge):
        request_measuring(scan=scan)
    run_waiting_jobs()
    try_scanner(actor=owner, edge_id=edge.pk, repeats=[(first.pk, second.pk)])
    run_waiting_jobs()
    assert last_job("try_scanner").state == Job.State.DONE, last_job("try_scanner").error_text
    trial = ScannerTrial.objects.get()
    limits = ScannerLimits.from_dict(trial.document)
    # 6,400 squares of 8 by 8 pixels: known to 1 %; a speck cut off at 4.5 deviations changes nothing.
    assert limits.noise_at(0.1) == pytest.approx(NOISE * 0.1, rel=0.05)
    half = MTF50_TIMES_BLUR / BLUR_UM * 1000
    assert float(limits.mtf_at(half)) == pytest.approx(0.5, abs=0.01)
    # Grain and edges of the set-up follow by themselves.
    assert current_measurement(first).trial == trial
    assert current_measurement(first).document["rms_granularity"]["value"] == pytest.approx(12.0, rel=0.07)
    try_scanner(actor=owner, edge_id=edge.pk, repeats=[(first.pk, second.pk)])
    run_waiting_jobs()
    assert ScannerTrial.objects.count() == 1  # run twice, added nothing
    try_scanner(actor=owner, edge_id=edge.pk)
    run_waiting_jobs()
    trial.refresh_from_db()
    assert not trial.is_in_force and ScannerTrial.objects.get(is_in_force=True).document["noise_sd"] == []


def test_scans_that_make_no_trial_are_refused(owner, roll, scanner, visitor):
    edge = edge_scan(owner, scanner)
    other = edge_scan(owner, scanner, name="other", settings=SETTINGS | {"light": "lamp B"})
    fields = [field_scan(owner, roll, scanner, 1.0, 12.0, seed=seed) for seed in (1, 2)]
    glass = field_scan(owner, roll, scanner, 1.0, 9.0, seed=3, settings=SETTINGS | {"holder": "glass"})
    refused = [
        (None, [], "Choose a sharp edge"),
        (fields[0].pk, [], "not a slanted edge"),
        (edge.pk, [(fields[0].pk, fields[0].pk)], "two different ones"),
        (edge.pk, [(fields[0].pk, glass.pk)], "same settings"),
        (other.pk, [(fields[0].pk, fields[1].pk)], "same settings"),
        (999_999, [], "no such scan"),
    ]
    for edge_id, repeats, words in refused:
        with pytest.raises(InvalidInput, match=words):
            try_scanner(actor=owner, edge_id=edge_id, repeats=repeats)
    with pytest.raises(NotAllowed):
        try_scanner(actor=visitor, edge_id=edge.pk)
    assert not Job.objects.filter(kind="try_scanner").exists()


def test_a_trial_without_a_calibration_fails_and_says_so(owner, scanner):
    edge = edge_scan(owner, scanner)
    request_measuring(scan=edge)
    run_waiting_jobs()
    try_scanner(actor=owner, edge_id=edge.pk)
    run_waiting_jobs()
    job = last_job("try_scanner")
    assert job.state == Job.State.FAILED and "never calibrated" in job.error_text


def test_the_form_offers_only_fitting_scans_and_names_what_is_missing(owner, roll, scanner, client_for):
    edge = edge_scan(owner, scanner)
    field = field_scan(owner, roll, scanner, 1.0, 12.0, seed=1)
    client = client_for(owner)
    page = client.get(reverse("trial_new")).content.decode()
    assert page.count(f'value="{edge.pk}"') == 1 and page.count(f'value="{field.pk}"') == 4
    answer = client.post(reverse("trial_new"), {"first_id": field.pk})
    assert answer.status_code == 400 and "Choose both scans" in answer.content.decode()
    answer = client.post(reverse("trial_new"), {})
    assert answer.status_code == 400 and "Choose a sharp edge" in answer.content.decode()
    assert client.post(reverse("trial_new"), {"edge_id": edge.pk}).status_code == 302


def test_two_fields_of_unlike_density_can_be_tried_at_once(owner, scanner, client_for):
    even = [levels(np.full((40, 40), 0.1 + number / 100)) for number in range(4)]
    fields = [
        scan_row(owner, samples, Shows.FIELD, scanner=scanner, name=f"field-{number}").pk
        for number, samples in enumerate(even)
    ]
    told = dict(zip(("first_id", "second_id", "other_first_id", "other_second_id"), fields, strict=True))
    client = client_for(owner)
    answer = client.post(reverse("trial_new"), told | {"other_first_id": ""})
    assert answer.status_code == 400 and "Choose both scans" in answer.content.decode()
    assert client.post(reverse("trial_new"), told).status_code == 302
    assert last_job("try_scanner").subject["repeats"] == [fields[:2], fields[2:]]
