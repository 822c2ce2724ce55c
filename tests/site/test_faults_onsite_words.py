"""What is said of what was found, word for word, on both sides of every limit."""

from typing import Any

import numpy as np
import pytest

from aiming.site.advice import CANNOT_TELL, CLEAR_BELOW, Correction, advice_text, unexplained_text
from aiming.site.fit import Fit
from aiming.site.judge import Estimate, StandsOut
from aiming.site.model import Coverage, Interval
from aiming.site.prediction import Departure
from aiming.speaker.speaker import Placement

UNKNOWN = Coverage(None, None)
BETTER = Coverage(4.0, 80.0)
HUNG = Placement(0.0, 6.0, -18.0)
NONE = np.zeros(0)
FIT = Fit(
    departure=Departure(), free=(), value=NONE, deviation=NONE, left_db=NONE, gain_db=NONE,
    cost=0.0, band_score=NONE, site_score=NONE, freedom=0, squares=0.0, rival_deg=None,
)  # fmt: skip


def levels(explained: bool | None = True, *stands_out: StandsOut) -> Estimate:
    return Estimate(FIT, explained, stands_out)


def said(**given: Any) -> str:
    plain: dict[str, Any] = {
        "unit": "m", "estimate": None, "correction": None, "tilt_error_deg": None,
        "height_error_m": None, "pattern_scale": None, "from_readings": False,
        "levels_tilt": None, "confirmed": None, "planned": UNKNOWN,
    }  # fmt: skip
    return advice_text(**{**plain, **given})


def change(
    *, tilt_deg: float = -15.0, height_m: float = 6.0, after: Coverage = BETTER
) -> Correction:
    return Correction(HUNG, Placement(0.0, height_m, tilt_deg), Coverage(7.0, 50.0), after)


@pytest.mark.parametrize(
    ("error", "wanted"),
    [
        (Interval(-3.0, -4.0, -2.0), "It hangs: 3.0° lower than planned, ±1.0° (by the levels"),
        (Interval(3.0, 2.0, 4.0), "It hangs: 3.0° higher than planned, ±1.0° (by the levels"),
        (Interval(0.0, -0.5, 0.5), "hang as planned: by the levels, 0.0° lower than planned"),
        (Interval(0.5, 0.0, 1.0), "hang as planned: by the levels, 0.5° higher than planned"),
        (Interval(-0.5, -1.0, 0.0), "hang as planned: by the levels, 0.5° lower than planned"),
        (Interval(0.05, 0.04, 0.06), "It hangs: 0.1° higher than planned, ±0.0°"),
        (Interval(0.049, 0.04, 0.058), "It hangs, as planned (±0.0°, by the levels)."),
        (Interval(-0.049, -0.058, -0.04), "It hangs, as planned (±0.0°, by the levels)."),
    ],
)
def test_a_tilt_is_told_with_its_side_and_doubt(error: Interval, wanted: str) -> None:
    assert wanted in said(tilt_error_deg=error)


def test_a_tilt_is_told_with_where_it_comes_from() -> None:
    error = Interval(-3.0, -4.0, -2.0)
    text = said(tilt_error_deg=error, from_readings=True, correction=change())
    assert text.startswith("It hangs nose down 18.0°: 3.0° lower than planned, ±1.0° (by the read")
    maybe = said(tilt_error_deg=Interval(0.0, -1.0, 1.0), from_readings=True, correction=change())
    assert "may hang as planned: by the readings nose down 18.0°, 0.0° lower" in maybe


@pytest.mark.parametrize(
    ("error", "wanted"),
    [
        (Interval(0.3, 0.1, 0.5), "Its height is 0.30 m higher than planned, ±0.20 m."),
        (Interval(-0.3, -0.5, -0.1), "Its height is 0.30 m lower than planned, ±0.20 m."),
        (
            Interval(0.0, -0.2, 0.2),
            "as planned as far as can be told (0.00 m lower than planned), ±0.20 m.",
        ),
    ],
)
def test_a_height_is_told_with_its_side_and_doubt(error: Interval, wanted: str) -> None:
    assert wanted in said(height_error_m=error)


@pytest.mark.parametrize(
    ("scale", "wanted"),
    [
        (Interval(1.25, 1.2, 1.3), "The pattern is 25 % wider than its data, ±5 %: the"),
        (Interval(0.85, 0.8, 0.9), "The pattern is 15 % narrower than its data, ±5 %: the"),
        (Interval(1.05, 1.0, 1.1), "The pattern is as wide as its data say (+5 %, ±5 %)."),
        (Interval(0.95, 0.9, 1.0), "The pattern is as wide as its data say (-5 %, ±5 %)."),
        (Interval(1.1, 1.01, 1.19), "The pattern is 10 % wider than its data, ±9 %: the"),
        (Interval(1.006, 1.001, 1.011), "The pattern is 1 % wider than its data, ±"),
    ],
)
def test_a_width_is_told_in_percent(scale: Interval, wanted: str) -> None:
    assert wanted in said(pattern_scale=scale)


def test_what_the_levels_say_beside_a_reading() -> None:
    alone = Interval(2.0, 0.0, 4.0)
    assert said(estimate=levels()) == CANNOT_TELL
    yes = said(estimate=levels(), levels_tilt=alone, confirmed=True, from_readings=True)
    assert yes == "The levels confirm it: by themselves they say 2.0° higher than planned, ±2.0°."
    no = said(
        estimate=levels(), levels_tilt=alone, confirmed=False, from_readings=True,
        correction=change(),
    )  # fmt: skip
    assert "do not confirm it: by themselves they say 2.0° higher than planned, ±2.0°." in no
    assert no.endswith("No correction is given until it is clear which of the two is wrong.")
    assert said(estimate=levels(), levels_tilt=alone, from_readings=True) == ""
    should = "An inclinometer should say the same: read it before anything is moved."
    assert said(estimate=levels(), levels_tilt=alone) == should
    better = said(estimate=levels(), levels_tilt=Interval(2.0, -0.01, 4.01))
    assert better.startswith("An inclinometer tells the tilt better")
    assert said(levels_tilt=alone) == ""


def test_a_correction_says_which_way_and_how_far() -> None:
    text = said(correction=change(), tilt_error_deg=None, planned=Coverage(4.0, 80.0))
    assert text == (
        "Correction: raise the nose by 3.0°. As it hangs the spread is 7.0 dB and 50 % of the rows "
        "lie within ±3 dB; corrected the spread is 4.0 dB and 80 % of the rows lie within ±3 dB. "
        f"What then remains is the plan's own spread. {CLEAR_BELOW}"
    )
    assert "lower the nose by 2.0°." in said(correction=change(tilt_deg=-20.0))
    assert "lower the nose by 0.0°." in said(correction=change(tilt_deg=-18.0))
    up = said(correction=change(height_m=6.3))
    assert "by 3.0° and move the box up by 0.30 m." in up
    down = said(correction=change(height_m=5.7))
    assert "by 3.0° and move the box down by 0.30 m." in down
    assert "move the box up by 0.01 m" in said(correction=change(height_m=6.0101))
    assert "move the box" not in said(correction=change(height_m=6.0095))
    assert "move the box" not in said(correction=change(height_m=5.9905))


@pytest.mark.parametrize(
    ("planned_db", "after_db", "wanted"),
    [
        (4.0, 4.125, "What then remains is 0.1 dB more than the plan's own spread."),
        (4.0, 3.5, "What then remains is 0.5 dB less than the plan's own spread."),
        (0.0, 0.1, "What then remains is 0.1 dB more than the plan's own spread."),
        (4.0, 4.095, "What then remains is the plan's own spread."),
        (4.0, 3.905, "What then remains is the plan's own spread."),
        (None, 3.5, "What then remains is the plan's own spread."),
        (4.0, None, "corrected the spread is not known. What then remains is the plan's own sp"),
    ],
)
def test_what_remains_is_held_against_the_plan(
    planned_db: float | None, after_db: float | None, wanted: str
) -> None:
    after = Coverage(after_db, 80.0)
    text = said(correction=change(after=after), planned=Coverage(planned_db, 90.0))
    assert wanted in text


def test_a_share_of_rows_that_is_not_known_is_not_told() -> None:
    text = said(correction=change(after=Coverage(4.0, None)))
    assert "corrected the spread is not known" in text


def test_what_is_better_left_says_why() -> None:
    leave = Correction(HUNG, None, Coverage(7.0, 50.0), Coverage(7.0, 50.0))
    plan = "Leave it: what hangs may well be the plan. As it hangs the spread is 7.0 dB"
    assert plan in said(correction=leave)
    assert plan in said(correction=leave, tilt_error_deg=Interval(0.1, -0.1, 0.3))
    nothing = said(correction=leave, tilt_error_deg=Interval(0.2, 0.1, 0.3))
    assert "Leave it: putting it right would win next to nothing." in nothing
    assert "Correction:" not in nothing


def test_what_stands_out_is_told_up_to_four_of_them_with_its_causes() -> None:
    band = StandsOut("row 1", 4000.0, -5.0, -6.0)
    whole = StandsOut("row 2", None, 5.0, 6.0)
    assert band.text == "row 1, 4 kHz: 5.0 dB below what fits the rest"
    assert whole.text == "row 2, all bands: 5.0 dB above what fits the rest"
    assert StandsOut("row 3", None, 0.0, 0.0).text.startswith("row 3, all bands: 0.0 dB below")
    of_band = unexplained_text((band,) * 4)
    assert of_band.count("row 1") == 4
    assert "more. Usual" not in of_band
    assert of_band.count("a wrong position") == 1
    assert "Usual causes: a reflection that cuts or lifts the band, polarity" in of_band
    assert "a driver that is not working, a wrong position." in of_band
    assert "a gain changed" not in of_band
    of_whole = unexplained_text((whole,) * 6)
    assert of_whole.count("row 2") == 4
    assert "; and 2 more. Usual causes: a wrong position or name, a gain changed" in of_whole
    assert "reflection" not in of_whole
    assert of_whole.count("a wrong position") == 1
    both = unexplained_text((band, whole, band, band, band))
    assert "; and 1 more." in both
    assert "a reflection" in both
    assert "a shadow" in both
    assert both.count("a wrong position") == 1


def test_what_is_not_explained_gets_no_correction_and_no_more_words() -> None:
    text = said(
        estimate=levels(False, StandsOut("row 2", None, 5.0, 6.0)),
        tilt_error_deg=Interval(-3.0, -4.0, -2.0), levels_tilt=Interval(-3.0, -4.0, -2.0),
        pattern_scale=Interval(1.25, 1.2, 1.3), correction=change(), confirmed=True,
    )  # fmt: skip
    assert text.startswith("It hangs nose down 18.0°: 3.0° lower")
    assert "Aim and gain cannot explain these levels." in text
    assert "Correction:" not in text
    assert "wider" not in text
