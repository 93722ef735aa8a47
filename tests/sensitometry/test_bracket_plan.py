"""Settings of a bracket: exact where the camera can, refused where it cannot."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from curves.sensitometry.exposing.bracket_plan import (
    THIRD_STOP_APERTURES,
    WHOLE_STOP_SHUTTERS,
    bracket_settings,
)
from curves.sensitometry.exposing.exposure_settings import exposure_value, true_aperture, true_shutter_s
from curves.sensitometry.measures import SensitometryError


def test_two_stops_in_thirds_are_thirteen_frames():
    frames = bracket_settings(12.0, 400)
    assert len(frames) == 13
    assert [frame.offset_stops for frame in frames] == pytest.approx([k / 3 for k in range(-6, 7)])
    assert frames[0].exposure_index == pytest.approx(1600)
    assert frames[6].exposure_index == 400
    assert frames[-1].exposure_index == pytest.approx(100)


@settings(deadline=None, max_examples=60)  # other work may share the machine
@given(st.floats(6, 16), st.floats(25, 3200))
def test_every_frame_truly_gives_what_it_says(value, index):
    for frame in bracket_settings(value, index):
        if frame.reason:
            assert frame.shutter_mark_s is None
            continue
        given_value = exposure_value(true_aperture(frame.aperture_mark), true_shutter_s(frame.shutter_mark_s))
        assert frame.true_offset_stops == pytest.approx(value - given_value)
        assert abs(frame.true_offset_stops - frame.offset_stops) <= 0.1


def test_exact_pairs_stay_near_the_preferred_aperture():
    """At Ev 12 every frame has an exact pair between f/5.6 and f/11, so none strays from f/8 further."""
    for frame in bracket_settings(12.0, 400, preferred_aperture=8):
        assert frame.true_offset_stops == pytest.approx(frame.offset_stops, abs=1e-9)
        assert 5.6 <= frame.aperture_mark <= 11


def test_a_camera_of_whole_stops_cannot_do_thirds():
    frames = bracket_settings(
        12.0, 400, shutter_marks_s=WHOLE_STOP_SHUTTERS, aperture_marks=(4, 5.6, 8, 11, 16)
    )
    assert [frame.reason is None for frame in frames] == [k % 3 == 0 for k in range(13)]
    assert {frame.reason for frame in frames} == {None, "NO_CAMERA_SETTING"}


def test_light_beyond_the_camera_is_said():
    assert all(frame.reason == "NO_CAMERA_SETTING" for frame in bracket_settings(30.0, 400))


@pytest.mark.parametrize("bad", [{"shutter_marks_s": ()}, {"aperture_marks": (0,)}, {"span_stops": -1}])
def test_impossible_lists_are_refused(bad):
    with pytest.raises(SensitometryError):
        bracket_settings(12.0, 400, **bad)


def test_marks_offered_are_marks_of_the_camera():
    for frame in bracket_settings(11.3, 64):
        assert frame.shutter_mark_s is None or frame.shutter_mark_s in WHOLE_STOP_SHUTTERS
        assert frame.aperture_mark is None or frame.aperture_mark in THIRD_STOP_APERTURES
