"""What is said of grain and sharpness: a word only where the interval bears it, nothing of the unmeasured."""

import pytest

from curves.sensitometry import Measure
from curves.sensitometry.comparing.picture_wording import describe_pictures, measured_pictures
from curves.sensitometry.measures import withheld

GRAIN, SHARP = "rms_granularity", "film_mtf50"


@pytest.mark.parametrize(
    ("pictures", "said", "measured"),
    [
        ({}, [], set()),
        ({GRAIN: withheld(GRAIN, "NOT_MEASURED")}, [], set()),
        (
            {GRAIN: Measure(GRAIN, 9.4, 9.0, 9.8)},
            ["Grain is fine (RMS granularity 9.4 [9.0 to 9.8])."],
            {"grain"},
        ),
        # The words look 1.6 times as far as the interval, so its end at 10.6 reaches into the next word.
        (
            {GRAIN: Measure(GRAIN, 9.8, 9.0, 10.6)},
            ["Grain is fine to medium (RMS granularity 9.8 [9.0 to 10.6])."],
            {"grain"},
        ),
        (
            {SHARP: Measure(SHARP, 42.0, 20.0, 90.0)},
            ["How sharp it is stays open: half modulation at 42 cycles/mm [20 to 90]."],
            {"sharpness"},
        ),
        (
            {SHARP: withheld(SHARP, "OTHER_RIG")},
            [
                "Not known: sharpness. It was measured only with another scanner or other settings, so it"
                " does not compare."
            ],
            {"sharpness"},
        ),
    ],
)
def test_words(pictures, said, measured):
    assert [sentence.text for sentence in describe_pictures(pictures)] == said
    assert measured_pictures(pictures) == measured
