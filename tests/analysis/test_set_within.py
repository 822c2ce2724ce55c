"""How far a box may be off, held against `evaluate`; and what ends it, the sound or a rule."""

import numpy as np
import pytest

import aiming
from aiming.results.answer import Answer

HOUSE = """
[[seating]]
name = "stalls"
line = [[{first}, 0.0], [{last}, {rake}]]
row_spacing = 1.3
{more}
[[speaker]]
name = "main"
pattern = {{ coverage = {coverage} }}
placement = {{ height = [{low}, {high}] }}
[aim]
axis_on_audience = {axis}
softest_db = "off"
"""
HEADER = '[[surface]]\nname = "header"\nline = [[0.6, {low}], [0.6, {high}]]\n'


def house(seed: int) -> tuple[str, Answer]:
    """Every other with a header before the box, which hides rows from higher up."""
    rng = np.random.default_rng(seed)
    first, low = rng.uniform(3.0, 7.0), rng.uniform(4.0, 6.0)
    text = HOUSE.format(
        first=first,
        last=first + rng.uniform(8.0, 18.0),
        rake=rng.uniform(0.0, 3.0),
        coverage=rng.uniform(35.0, 80.0),
        low=low,
        high=low + rng.uniform(0.0, 1.5),
        axis=str(seed % 3 == 0).lower(),
        more=HEADER.format(low=low + 0.4, high=low + 3.0) if seed % 2 else "",
    )
    return text, aiming.solve(aiming.load("-", stdin_text=text), choices=False)


def spread_db(text: str, height_m: float, tilt_deg: float) -> float:
    there = aiming.load(
        "-",
        stdin_text=text,
        changes={
            "speaker.main.placement.height": float(height_m),
            "speaker.main.placement.tilt": float(tilt_deg),
        },
    )
    found = aiming.evaluate(there, choices=False).speakers[0].spread_db
    assert found is not None
    return found


@pytest.mark.parametrize("seed", range(6))
def test_nothing_within_costs_more_than_its_half_decibel(seed: int) -> None:
    text, answer = house(seed)
    one = answer.speakers[0]
    for height in np.linspace(*one.window.height_m, 9):
        assert spread_db(text, height, one.tilt_deg) <= one.spread_db + 0.5 + 1e-6
    for tilt in np.linspace(*one.window.tilt_deg, 7):
        assert spread_db(text, one.height_m, tilt) <= one.spread_db + 0.5 + 1e-6


@pytest.mark.parametrize("seed", range(6))
def test_an_end_is_the_sound_s_or_a_rule_s(seed: int) -> None:
    """A hundredth past the sound's end costs more than half a decibel, past a rule's it need not.

    The sound alone never leaves less than sound and rules do.
    """
    text, answer = house(seed)
    one = answer.speakers[0]
    window = one.window
    for end, rule, by_sound, way in zip(
        window.tilt_deg, window.tilt_rules, window.by_sound_tilt_deg, (-1.0, 1.0), strict=True
    ):
        assert way * (by_sound - end) >= -1e-9
        past = spread_db(text, one.height_m, end + 0.02 * way) - one.spread_db
        if rule is None:
            assert past > 0.49
        else:
            assert rule == "axis_on_audience" and past < 0.5
    if seed % 3:
        assert window.tilt_rules == window.height_rules == (None, None)
