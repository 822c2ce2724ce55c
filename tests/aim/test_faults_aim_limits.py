"""Which limits a placement lies at, and what would have to give, in closed form.

The scene: ears level 1.2 m up from 4 to 20 m, so that from a box at (0, 6) the nearest row is
seen at NEAR, the furthest at FAR.
"""

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from plain_questions import EAR_M, question, tent
from pytest import approx

from aiming.aim import limits
from aiming.aim.hung_pair import Under
from aiming.aim.limits import (
    Relief,
    _loosened,
    allowed_at_all,
    at_audience_end,
    broken,
    limited_by,
    past_limit,
    reliefs,
)
from aiming.aim.problem import Problem
from aiming.aim.search import SearchResult, Status, search
from aiming.base.arrays import FloatArray
from aiming.speaker.cabinet import Cabinet
from aiming.speaker.groups import HungUnder
from aiming.speaker.lobes import nominal_pattern
from aiming.speaker.speaker import Hang, Placement, Placements, Range

NEAR, FAR = math.degrees(math.atan2(-4.8, 4.0)), math.degrees(math.atan2(-4.8, 20.0))
FIXED = Hang(vertical_m=(6.0, 6.0))
BOX = Cabinet(outline_m=np.array([[-0.4, -0.2], [0.0, -0.2], [0.0, 0.5], [-0.4, 0.5]]))


def free(hang: Hang = FIXED) -> Problem:
    return replace(question(hang=hang), axis_on_audience=False)


# --- ranges


@pytest.mark.parametrize(
    ("low", "high", "value", "names"),
    [
        (0.0, 8.0, 0.0, ("low",)),
        (0.0, 8.0, 0.005, ("low",)),
        (0.0, 8.0, 0.0051, ()),
        (0.0, 8.0, 4.0, ()),
        (-8.0, 0.0, -0.0051, ()),
        (-8.0, 0.0, -0.005, ("high",)),
        (-8.0, 0.0, 0.0, ("high",)),
        (0.0, 0.5, 0.0025, ("low",)),
        (0.0, 0.5, 0.00251, ()),
        (-0.5, 0.0, -0.0025, ("high",)),
        (-0.5, 0.0, -0.00251, ()),
        (-0.5, 0.0, -0.5, ("low",)),
        (2.0, 2.0, 2.0, ()),
    ],
)
def test_ends_of_ranges_are_named_where_there_is_a_choice(
    low: float, high: float, value: float, names: tuple[str, ...]
) -> None:
    """Within 5 mm (or 0.005°) of an end, and within 0.5 % of a range that is narrower than 1."""
    span: Range = (low, high)
    at_x = limited_by(free(replace(FIXED, x_m=span)), Placement(value, 6.0, -20.0))
    assert at_x == tuple(f"x {name}" for name in names)
    height = limited_by(free(Hang(vertical_m=span)), Placement(0.0, value, -20.0))
    assert height == tuple(f"height {name}" for name in names)
    tilt = limited_by(free(replace(FIXED, tilt_deg=span)), Placement(0.0, 6.0, value))
    assert tilt == tuple(f"tilt {name}" for name in names)
    held = HungUnder("above", (0.0, -0.3), (0.0, 0.3), span)
    pair = replace(free(), under=Under(held, tent(0.2), False, np.zeros(1)))
    splay = limited_by(pair, Placement(0.0, 6.0, -20.0, False, value))
    assert splay == tuple(f"splay {name}" for name in names)


@pytest.mark.parametrize(("flipped", "drop"), [(False, 0.2), (True, 0.5)])
def test_a_trim_is_named_as_a_trim(flipped: bool, drop: float) -> None:
    """Level, the lowest point hangs 0.2 m under the centre, 0.5 m upside down."""
    hang = Hang(vertical="trim", vertical_m=(4.0, 8.0))
    problem = replace(free(hang), cabinet=BOX)
    assert limited_by(problem, Placement(0.0, 4.001 + drop, 0.0, flipped)) == ("trim low",)
    assert limited_by(problem, Placement(0.0, 4.1 + drop, 0.0, flipped)) == ()
    assert limited_by(problem, Placement(0.0, 7.999 + drop, 0.0, flipped)) == ("trim high",)


def test_ends_of_what_the_rigging_holds_are_named() -> None:
    """Reaching −40…−10 and 0…30 of the −30…30 wanted; flipped to −20 at most."""
    problem = replace(
        free(replace(FIXED, tilt_deg=(-30.0, 30.0))),
        reachable_tilt_deg={"upright": ((-40.0, -10.0), (0.0, 30.0)), "flipped": ((-25.0, -20.0),)},
    )

    def named(tilt: float, flipped: bool = False) -> tuple[str, ...]:
        return limited_by(problem, Placement(0.0, 6.0, tilt, flipped))

    assert named(-10.0) == named(-10.0049) == named(0.0) == named(0.0049) == ("rigging",)
    assert named(-10.0051) == named(0.0051) == named(-20.0) == ()
    assert named(0.005) == ()
    level = replace(problem, reachable_tilt_deg={"upright": ((-20.0, 0.0),)})
    assert limited_by(level, Placement(0.0, 6.0, -0.005)) == ()
    # The ends of the range itself are the file's, not the rigging's.
    assert named(-30.0) == ("tilt low",) and named(30.0) == ("tilt high",)
    assert named(-20.0, True) == named(-25.0, True) == ("rigging",)
    assert named(-22.0, True) == named(-10.0, True) == ()


def test_the_view_from_the_front_row_is_named() -> None:
    """From (4, 1.2): within 0.05° of the limit, from either side."""
    problem = replace(free(), max_front_elevation_deg=45.0, front_ear_m=(4.0, EAR_M))
    for x in (1.0, 7.0):
        for seen, names in ((44.951, ("max_front_elevation_deg",)), (44.949, ()), (-45.0, ())):
            rise = 3.0 * math.tan(math.radians(seen))
            assert limited_by(problem, Placement(x, EAR_M + rise, -20.0)) == names
    high = Placement(1.0, EAR_M + 2.9999, -20.0)
    assert limited_by(replace(problem, front_ear_m=None), high) == ()
    assert limited_by(replace(problem, max_front_elevation_deg=None), high) == ()


# --- the axis at the end of the audience


def test_the_end_of_the_audience_is_met_within_a_fiftieth_of_a_degree() -> None:
    problem = question()
    for end, out in ((NEAR, -1.0), (FAR, 1.0)):
        assert at_audience_end(problem, Placement(0.0, 6.0, end))
        assert at_audience_end(problem, Placement(0.0, 6.0, end - 0.019 * out))
        assert not at_audience_end(problem, Placement(0.0, 6.0, end - 0.021 * out))


def test_the_axis_is_named_where_turning_past_the_end_would_gain() -> None:
    """A weak lobe: it pays to aim further than the furthest row, so the axis is held there."""
    wide = nominal_pattern(above_deg=60.0, below_deg=60.0, bands_hz=(1000.0,))
    gains = question(wide, rows=7)
    assert float(gains.objective_db(at(FAR + 0.1))) < float(gains.objective_db(at(FAR))) - 0.001
    assert limited_by(gains, at(FAR)) == ("axis_on_audience",)
    assert limited_by(gains, at(FAR), known=("axis_on_audience",)) == ()
    assert limited_by(gains, at(FAR), known=("tilt low",)) == ("axis_on_audience",)
    assert limited_by(replace(gains, axis_on_audience=False), at(FAR)) == ()
    assert limited_by(gains, at(FAR - 1.0)) == ()


def at(tilt_deg: float) -> Placement:
    return Placement(0.0, 6.0, tilt_deg)


class Turned(Problem):
    """Costs what the tilt says: less by slope_db for each degree further up."""

    slope_db = 1.0

    def objective_db(self, placement: Placement) -> FloatArray:
        return np.asarray(-self.slope_db * np.asarray(placement.tilt_deg, dtype=np.float64))


class TurnedDown(Turned):
    slope_db = -1.0


class NearlyLevel(Turned):
    slope_db = 0.95e-5


class JustEnough(Turned):
    slope_db = 1.05e-5


def turned(kind: type[Turned], problem: Problem) -> Turned:
    return kind(**{name: getattr(problem, name) for name in Problem.__dataclass_fields__})


def test_a_gain_of_rounding_is_none() -> None:
    """A millionth of a decibel for the tenth of a degree that is tried."""
    assert limited_by(turned(Turned, question()), at(FAR)) == ("axis_on_audience",)
    assert limited_by(turned(Turned, question()), at(NEAR)) == ()
    assert limited_by(turned(TurnedDown, question()), at(NEAR)) == ("axis_on_audience",)
    assert limited_by(turned(TurnedDown, question()), at(FAR)) == ()
    assert limited_by(turned(NearlyLevel, question()), at(FAR)) == ()
    assert limited_by(turned(JustEnough, question()), at(FAR)) == ("axis_on_audience",)


def test_nothing_is_turned_past_straight_up_or_down() -> None:
    """The end of a gallery overhead, or of the floor underfoot, 0.05° short of the vertical."""
    short = math.tan(math.radians(89.95))
    over = question(ears=((3.0 / short, 9.0), (5.0, 9.0)))
    assert at_audience_end(over, at(89.95))
    assert limited_by(turned(Turned, over), at(89.95)) == ()
    under = question(ears=((4.8 / short, EAR_M), (20.0, EAR_M)))
    assert at_audience_end(under, at(-89.95))
    assert limited_by(turned(TurnedDown, under), at(-89.95)) == ()


# --- moving and turning together


def moved_past(
    monkeypatch: pytest.MonkeyPatch, problem: Problem, placement: Placement, gain_db: float
) -> tuple[bool, list[Problem]]:
    """What it answers where letting the axis off gains so much, and what was searched."""
    asked: list[Problem] = []

    def stand_in(of: Problem, *, gap_db: float, most_boxes: int) -> SearchResult:
        assert gap_db == 0.01
        asked.append(of)
        cost = 3.0 if of.axis_on_audience else 3.0 - gain_db
        return SearchResult(Status.PROVEN, placement, cost, 0.0, 1)

    monkeypatch.setattr(limits, "search", stand_in)
    return limits._would_move_past(problem, placement), asked


def test_around_the_placement_it_is_asked_what_the_axis_costs(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A quarter of a metre and 2° around it, no further than the ranges; twice the gap counts."""
    hang = Hang(vertical_m=(5.9, 9.0), x_m=(-3.0, 0.1), orientations=("upright", "flipped"))
    problem = question(hang=hang)
    past, asked = moved_past(monkeypatch, problem, Placement(0.0, 6.0, FAR), 0.021)
    assert past and [of.axis_on_audience for of in asked] == [True, False]
    for of in asked:
        assert of.hang.x_m == approx((-0.25, 0.1)) and of.hang.vertical_m == approx((5.9, 6.25))
        assert of.hang.tilt_deg == approx((FAR - 2.0, FAR + 2.0))
        assert of.hang.orientations == ("upright",)
    assert not moved_past(monkeypatch, problem, Placement(0.0, 6.0, FAR), 0.019)[0]
    only_x = problem.with_hang(replace(hang, vertical_m=(6.0, 6.0)))
    only_height = problem.with_hang(replace(hang, x_m=(0.0, 0.0)))
    for one in (only_x, only_height):
        assert moved_past(monkeypatch, one, Placement(0.0, 6.0, FAR), 1.0)[0]
    past, asked = moved_past(monkeypatch, question(), Placement(0.0, 6.0, FAR), 1.0)
    assert not past and not asked  # nothing to move
    # A hair beyond its ranges it is looked at around their ends.
    _, asked = moved_past(monkeypatch, problem, Placement(0.1 + 1e-9, 9.0 + 1e-9, FAR, True), 1.0)
    assert asked[0].hang.x_m == approx((-0.15, 0.1))
    assert asked[0].hang.vertical_m == approx((8.75, 9.0))
    assert asked[0].hang.orientations == ("flipped",)
    trim = replace(problem, hang=replace(hang, vertical="trim"), cabinet=BOX)
    _, asked = moved_past(monkeypatch, trim, Placement(0.0, 7.0, 0.0), 1.0)
    assert asked[0].hang.vertical_m == approx((6.55, 7.05))


# --- what would have to give


def found_reliefs(problem: Problem) -> dict[str, list[Relief]]:
    found: dict[str, list[Relief]] = {}
    for one in reliefs(problem):
        found.setdefault(one.limit, []).append(one)
    return found


def needed(one: Relief) -> float:
    assert one.needed is not None
    return one.needed


def test_each_limit_alone_is_told_what_would_be_enough() -> None:
    """Tilts of −10…−5°: too level from 6 m. Lower, further back, or steeper to FAR."""
    hang = Hang(vertical_m=(6.0, 6.0), tilt_deg=(-10.0, -5.0))
    problem = question(hang=hang)
    assert not allowed_at_all(problem)
    found = found_reliefs(problem)
    assert set(found) == {"tilt", "height", "x", "axis_on_audience"}
    [tilt], [height], [x], [axis] = (
        found[name] for name in ("tilt", "height", "x", "axis_on_audience")
    )
    assert FAR - 0.0176 <= needed(tilt) <= FAR and tilt.unit == "°"
    assert f"down to {needed(tilt):.2f}°" in tilt.text
    lower = EAR_M + 20.0 * math.tan(math.radians(10.0))
    assert lower - 0.0101 <= needed(height) <= lower and height.unit == "m"
    assert height.text == f"height would have to reach down to {needed(height):.2f} m"
    back = 20.0 - 4.8 / math.tan(math.radians(10.0))
    assert back - 0.04 <= needed(x) <= back and x.unit == "m"
    assert axis == Relief("axis_on_audience", None, None, "axis_on_audience would have to be off")


def test_upwards_too() -> None:
    """Held at −60…−55°, or 1.5 m up under ears that only a higher box sees so steeply."""
    hang = Hang(vertical_m=(6.0, 6.0), tilt_deg=(-60.0, -55.0))
    found = found_reliefs(question(hang=hang))
    assert NEAR <= needed(found["tilt"][0]) <= NEAR + 0.025
    higher = EAR_M + 4.0 * math.tan(math.radians(55.0))
    assert higher <= needed(found["height"][0]) <= higher + 0.0101
    assert "up to" in found["tilt"][0].text and "up to" in found["height"][0].text
    nearer = 4.0 - 4.8 / math.tan(math.radians(55.0))
    assert nearer <= needed(found["x"][0]) <= nearer + 0.0101


def test_the_view_from_the_front_row_is_told_what_it_needs() -> None:
    problem = replace(free(), max_front_elevation_deg=40.0, front_ear_m=(4.0, EAR_M))
    [front] = found_reliefs(problem)["max_front_elevation_deg"]
    assert -NEAR <= needed(front) <= -NEAR + 0.052 and front.unit == "°"
    assert front.text.endswith(f"at least {needed(front):.1f}°")


def test_the_rigging_is_told_the_tilt_of_the_best_aim() -> None:
    problem = replace(question(tent(0.4), rows=2), reachable_tilt_deg={"upright": ((0.0, 5.0),)})
    [rigging] = found_reliefs(problem)["rigging"]
    further_db = 20.0 * math.log10(math.hypot(20.0, 4.8) / math.hypot(4.0, 4.8))
    assert needed(rigging) == approx(0.5 * (NEAR + FAR) + further_db / 0.8, abs=0.5 / 0.8)
    assert rigging.unit == "°" and "upright" in rigging.text


def test_the_pattern_is_told_how_far_its_data_would_have_to_reach() -> None:
    problem = replace(question(tent(0.2, known_deg=10.0)), axis_on_audience=False)
    [data] = found_reliefs(problem)["pattern data"]
    assert 0.5 * (FAR - NEAR) <= needed(data) <= 180.0
    assert data.text == f"the pattern data would have to reach {needed(data):.0f}° off axis"
    whole = search(replace(problem, pattern=limits._completed(problem.pattern)), gap_db=1.0)
    assert whole.placement is not None
    tilt = float(whole.placement.tilt_deg)
    assert needed(data) == approx(max(tilt - NEAR, FAR - tilt), abs=1e-6) or tilt > FAR


def test_a_pattern_is_completed_with_its_lowest_level() -> None:
    holed = replace(tent(0.2, known_deg=40.0), level_db=np.array([[-8.0, np.nan, -5.0]]))
    whole = limits._completed(holed)
    np.testing.assert_array_equal(whole.angle_deg, [-180.0, -40.0, 0.0, 40.0, 180.0])
    np.testing.assert_array_equal(whole.level_db, [[-8.0, -8.0, -8.0, -5.0, -8.0]])


def test_how_far_each_limit_is_stretched(monkeypatch: pytest.MonkeyPatch) -> None:
    """Tilts to straight up and down, heights by 30 m, x by 100 m, the view by 90°."""
    asked: list[tuple[float, Problem]] = []

    def stand_in(wider: Callable[[float], Problem], most: float) -> None:
        asked.append((most, wider(1.0)))

    monkeypatch.setattr(limits, "_least", stand_in)
    monkeypatch.setattr(limits, "allowed_at_all", lambda _: False)
    hang = Hang(vertical_m=(6.0, 7.0), x_m=(0.0, 2.0), tilt_deg=(-10.0, -5.0))
    problem = replace(question(hang=hang), max_front_elevation_deg=30.0, front_ear_m=(4.0, EAR_M))
    assert reliefs(problem) == ()
    assert [most for most, _ in asked] == [80.0, 30.0, 100.0, 95.0, 30.0, 100.0, 90.0]
    assert [of.hang for _, of in asked] == [
        replace(hang, tilt_deg=(-11.0, -5.0)),
        replace(hang, vertical_m=(5.0, 7.0)),
        replace(hang, x_m=(-1.0, 2.0)),
        replace(hang, tilt_deg=(-10.0, -4.0)),
        replace(hang, vertical_m=(6.0, 8.0)),
        replace(hang, x_m=(0.0, 3.0)),
        hang,
    ]
    assert asked[-1][1].max_front_elevation_deg == 31.0


@pytest.mark.parametrize(
    ("enough", "most", "expected"),
    [
        (47.3, 64.0, 47.375),  # halved until 0.125 m are left: 0.25 m are more than 0.5 %
        (0.047, 0.084, 0.04725),  # until 5.25 mm: 10.5 mm are more than 1 cm
        (0.3, 0.5, 0.296875 + 0.0078125),
        (0.3, 0.2, None),
        (-1.0, 0.0, None),
    ],
)
def test_the_least_widening_is_halved_to_half_a_percent_or_a_centimetre(
    monkeypatch: pytest.MonkeyPatch, enough: float, most: float, expected: float | None
) -> None:
    monkeypatch.setattr(limits, "allowed_at_all", lambda of: -of.hang.x_m[0] >= enough)

    def wider(by: float) -> Problem:
        return free(replace(FIXED, x_m=(-by, 0.0)))

    assert limits._least(wider, most) == (None if expected is None else approx(expected))


# What lies past a limit


def scanned_db(problem: Problem, tilts: np.ndarray, height_m: float) -> float:
    """The least objective of these tilts at one height."""
    return float(problem.objective_db(Placements.of(0.0, height_m, tilts, False)).min())


def test_past_a_tilt_range_lies_what_a_scan_of_it_finds() -> None:
    free = replace(question(tent(0.4), rows=5), axis_on_audience=False)
    hang = replace(FIXED, vertical_m=(6.0, 6.0), tilt_deg=(-60.0, -40.0))
    problem = free.with_hang(hang)
    at = search(problem, gap_db=0.01).placement
    assert at is not None and "tilt high" in limited_by(problem, at)
    past = past_limit(problem, at, "tilt high")
    here = float(problem.objective_db(at))
    there = scanned_db(problem, np.linspace(-40.0, -38.0, 401), 6.0)
    assert (past.step, past.unit) == (2.0, "°")
    assert past.gains_db == pytest.approx(here - there, abs=0.02) and past.gains_db > 0.1


def test_past_an_end_that_costs_nothing_lies_nothing() -> None:
    """The best tilt is the range's own end by chance: turned further it is worse."""
    free = replace(question(tent(0.4), rows=5), axis_on_audience=False)
    whole = free.with_hang(replace(FIXED, vertical_m=(6.0, 6.0), tilt_deg=(-89.0, 40.0)))
    best = search(whole, gap_db=1e-3).placement
    assert best is not None
    ended = whole.with_hang(replace(whole.hang, tilt_deg=(-89.0, float(best.tilt_deg))))
    assert past_limit(ended, best, "tilt high").gains_db == 0.0


def test_each_limit_is_moved_by_its_own_step() -> None:
    free = replace(question(tent(0.4), rows=5), softest_db=-3.0, max_front_elevation_deg=40.0)
    problem = free.with_hang(Hang(x_m=(-1.0, 0.0), vertical_m=(5.0, 6.0)))
    at = Placement(-0.5, 5.5, -20.0, False)
    steps = {
        "height high": (0.5, "m"), "x low": (0.5, "m"), "axis_on_audience": (2.0, "°"),
        "rigging": (2.0, "°"), "max_front_elevation_deg": (2.0, "°"), "softest_db": (1.0, "dB"),
    }  # fmt: skip
    for name, (step, unit) in steps.items():
        past = past_limit(problem, at, name)
        assert (past.step, past.unit) == (step, unit) and past.gains_db >= 0.0


def test_the_limit_that_a_placement_breaks_is_named() -> None:
    problem = question(rows=5, hang=Hang(vertical_m=(6.0, 6.0), tilt_deg=(-60.0, 10.0)))
    assert broken(problem, Placement(0.0, 6.0, -20.0, False)) is None
    assert broken(problem, Placement(0.0, 6.0, 9.0, False)) == "axis_on_audience"
    off = replace(problem, axis_on_audience=False)
    assert broken(off, Placement(0.0, 6.0, 9.0, False)) is None
    assert broken(off, Placement(0.0, 6.0, 11.0, False)) == "tilt high"
    assert broken(off, Placement(0.0, 6.0, -61.0, False)) == "tilt low"


@pytest.mark.parametrize("end", ["low", "high"])
@pytest.mark.parametrize(
    ("name", "field", "unit"),
    [("tilt", "tilt_deg", "°"), ("height", "vertical_m", "m"), ("x", "x_m", "m")],
)
def test_an_end_is_loosened_outwards(name: str, field: str, unit: str, end: str) -> None:
    """By the step that is told; the other end and the other ranges stay."""
    hang = Hang(x_m=(-1.0, 2.0), vertical_m=(5.0, 7.0), tilt_deg=(-30.0, 10.0))
    loose, step, told = _loosened(question(hang=hang), f"{name} {end}")
    low, high = getattr(hang, field)
    wider = (low - step, high) if end == "low" else (low, high + step)
    assert getattr(loose.hang, field) == approx(wider) and step > 0.0 and told == unit
    assert replace(loose.hang, **{field: (low, high)}) == hang


@pytest.mark.parametrize("end", ["low", "high"])
def test_a_splay_is_loosened_outwards(end: str) -> None:
    held = HungUnder("above", (0.0, -0.3), (0.0, 0.3), (-4.0, 6.0))
    pair = replace(question(), under=Under(held, tent(0.2), False, np.zeros(1)))
    loose, step, unit = _loosened(pair, f"splay {end}")
    assert loose.splay_deg == approx((-4.0 - step, 6.0) if end == "low" else (-4.0, 6.0 + step))
    assert step > 0.0 and unit == "°" and loose.hang == pair.hang


# --- a least level


def two_rows_of(slope_db: float, softest_db: float, **changes: Any) -> Problem:
    """Rows at NEAR and FAR; no row softer than this, re the far one with the axis on it."""
    return replace(
        question(tent(slope_db), rows=2),
        softest_db=softest_db,
        last_ears_m=np.array([[20.0, EAR_M]]),
        **changes,
    )


def test_the_least_level_is_told_what_can_be_kept() -> None:
    """Softest where both rows are alike: a over the far one's −slope·a, in closed form.

    The near one is 20·lg of the ratio of distances louder and slope·(FAR − NEAR − a) off the axis.
    """
    nearer_db = 20.0 * math.log10(math.hypot(20.0, 4.8) / math.hypot(4.0, 4.8))
    both = -0.5 * (0.4 * (FAR - NEAR) - nearer_db)
    [least] = found_reliefs(two_rows_of(0.4, 3.0))["softest_db"]
    assert least.unit == "dB"
    # To 0.1 dB, and told by a tenth that is kept.
    assert both - 0.2 <= needed(least) <= both
    assert needed(least) * 10.0 == approx(round(needed(least) * 10.0), abs=1e-9)
    assert f"−{-needed(least):.1f}" in least.text
    assert allowed_at_all(two_rows_of(0.4, needed(least)))
    assert not allowed_at_all(two_rows_of(0.4, both + 0.1))
    # Where something else leaves no placement, no level helps; where none is asked for, none.
    up = two_rows_of(0.4, 3.0, hang=replace(FIXED, tilt_deg=(10.0, 20.0)))
    assert "softest_db" not in found_reliefs(up)
    assert "softest_db" not in found_reliefs(replace(two_rows_of(0.4, 3.0), softest_db=None))


def test_the_least_level_is_named_within_a_twentieth_of_a_decibel() -> None:
    """Aimed 8° under the far row: it is 0.4 · 8 = 3.2 dB down, and softest."""
    under = at(FAR - 8.0)
    for least, names in ((-3.249, ("softest_db",)), (-3.251, ()), (-3.1, ("softest_db",))):
        assert limited_by(two_rows_of(0.4, least), under) == names
    nowhere = replace(two_rows_of(0.4, -3.2), last_ears_m=np.zeros((0, 2)))
    assert limited_by(nowhere, under) == ()


def test_other_limits_are_loosened_by_the_step_that_is_told() -> None:
    whole = two_rows_of(
        0.4, -2.0, max_front_elevation_deg=40.0, reachable_tilt_deg={"upright": ((-9.0, 0.0),)}
    )
    for limit, changed, unit in (
        ("softest_db", {"softest_db": -3.0}, "dB"),
        ("axis_on_audience", {"axis_on_audience": False}, "°"),
        ("rigging", {"reachable_tilt_deg": None}, "°"),
    ):
        loose, step, told = _loosened(whole, limit)
        assert told == unit and step > 0.0
        for name in ("softest_db", "axis_on_audience", "reachable_tilt_deg", "hang"):
            assert getattr(loose, name) == changed.get(name, getattr(whole, name))
    loose, step, _ = _loosened(whole, "softest_db")
    assert loose.softest_db == -2.0 - step
    loose, step, _ = _loosened(whole, "max_front_elevation_deg")
    assert loose.max_front_elevation_deg == 40.0 + step
