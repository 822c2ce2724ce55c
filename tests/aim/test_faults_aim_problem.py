"""The question itself, value by value: levels, objectives, limits and where the axis meets.

Closed forms and plain loops stand for what is expected (second_formula.py, pair_scenes.py).
"""

import math
from dataclasses import dataclass, replace

import numpy as np
import pytest
from pair_scenes import scalar_pair_levels_db, scalar_pair_objective_db
from plain_questions import EAR_M, question, tent
from second_formula import scalar_levels_db, scalar_objective_db

from aiming.aim import measures
from aiming.aim.hung_pair import Under
from aiming.aim.problem import HERE, Displacement, Objective, Problem, first_hit
from aiming.base.arrays import FloatArray
from aiming.field.levels import NEAREST_M
from aiming.geometry.section import Segments
from aiming.speaker.cabinet import Cabinet
from aiming.speaker.groups import HungUnder
from aiming.speaker.speaker import Hang, Placement, Placements

OBJECTIVES: tuple[Objective, ...] = ("spread", "worst band", "deviation")
BOX = Cabinet(outline_m=np.array([[-0.4, -0.2], [0.0, -0.2], [0.0, 0.5], [-0.4, 0.5]]))
AIR = np.array([0.01, 0.05])
TWO_BANDS = tent(0.15, 0.3, above_db=0.4)


@dataclass(frozen=True)
class Veil:
    """Hides by bands and rows, and by where the box is."""

    rows: int
    per_band_db: tuple[float, ...] = (1.0, 4.0)

    def loss_db(self, x_m: FloatArray, height_m: FloatArray) -> FloatArray:
        by_place = np.asarray(x_m + 0.5 * np.asarray(height_m))[..., np.newaxis, np.newaxis]
        bands = np.array(self.per_band_db)[:, np.newaxis]
        return np.asarray(by_place * bands * np.linspace(0.2, 1.0, self.rows))

    def bounds_db(
        self, x_m: tuple[FloatArray, FloatArray], height_m: tuple[FloatArray, FloatArray]
    ) -> tuple[FloatArray, FloatArray]:
        return self.loss_db(x_m[0], height_m[0]), self.loss_db(x_m[1], height_m[1])

    def plain(self, x_m: float, height_m: float) -> list[list[float]]:
        steps = [0.2 + 0.8 * row / (self.rows - 1) for row in range(self.rows)]
        return [[(x_m + 0.5 * height_m) * b * step for step in steps] for b in self.per_band_db]


def hung_under(problem: Problem, *, veil: Veil | None = None) -> Problem:
    held = HungUnder("above", (-0.1, -0.3), (-0.1, 0.3), (5.0, 25.0))
    louder = np.array([-3.0, 1.5])
    return replace(problem, under=Under(held, tent(0.1, 0.25), True, louder, veil))


def less(levels: list[list[float]], lost: list[list[float]]) -> list[list[float]]:
    return [
        [a - b for a, b in zip(one, other, strict=True)]
        for one, other in zip(levels, lost, strict=True)
    ]


# --- measures


def test_each_of_many_is_measured_as_if_alone() -> None:
    rng = np.random.default_rng(5)
    many, weight = rng.normal(80.0, 3.0, (4, 2, 3, 5)), rng.uniform(0.5, 2.0, 5)
    for place in np.ndindex(4, 2):
        alone = many[place]
        for figure in (measures.deviation_db, measures.rows_within_percent):
            assert figure(many, weight)[place] == pytest.approx(float(figure(alone, weight)))
        for plain in (measures.spread_db, measures.worst_band_spread_db):
            assert plain(many)[place] == pytest.approx(float(plain(alone)))
        np.testing.assert_allclose(measures.band_spreads_db(many)[place], np.ptp(alone, axis=1))


def test_a_row_exactly_at_the_edge_is_within() -> None:
    weight = np.ones(2)
    assert float(measures.rows_within_percent(np.array([[0.0, 6.0]]), weight)) == 100.0
    assert float(measures.rows_within_percent(np.array([[0.0, 6.1]]), weight)) == 0.0


# --- displacements


def test_a_displacement_adds_to_each_of_the_three_and_nothing_of_itself() -> None:
    at = Placement(1.0, 5.0, -10.0, True, 3.0)
    assert Displacement() == HERE == Displacement(0.0, 0.0, 0.0)
    assert HERE.of(at) == at
    assert Displacement(tilt_deg=2.0).of(at) == replace(at, tilt_deg=-8.0)
    assert Displacement(height_m=0.5).of(at) == replace(at, height_m=5.5)
    assert Displacement(x_m=-0.5).of(at) == replace(at, x_m=0.5)


# --- levels and objectives


@pytest.mark.parametrize("objective", OBJECTIVES)
@pytest.mark.parametrize("flipped", [False, True])
def test_objective_of_one_loudspeaker(objective: Objective, flipped: bool) -> None:
    problem = question(TWO_BANDS, air_db_per_m=AIR, objective=objective)
    levels = scalar_levels_db(problem, 0.5, 6.3, -14.0, flipped)
    at = Placement(0.5, 6.3, -14.0, flipped)
    assert question(objective=objective).levels_db(at).shape == (1, 9)
    np.testing.assert_allclose(problem.levels_db(at), levels, atol=1e-9)
    assert float(problem.objective_db(at)) == pytest.approx(scalar_objective_db(problem, levels))


@pytest.mark.parametrize("objective", OBJECTIVES)
def test_objective_with_hidden_rows(objective: Objective) -> None:
    plain = question(TWO_BANDS, air_db_per_m=AIR, objective=objective)
    veil = Veil(len(plain.rows))
    problem = replace(plain, shadow=veil)
    levels = less(scalar_levels_db(plain, 0.5, 6.3, -14.0, False), veil.plain(0.5, 6.3))
    at = Placement(0.5, 6.3, -14.0)
    np.testing.assert_allclose(problem.levels_db(at), levels, atol=1e-9)
    assert float(problem.objective_db(at)) == pytest.approx(scalar_objective_db(problem, levels))
    many = Placements.of(np.array([0.5, 0.5]), np.array([6.3, 7.0]), np.array([-14.0, -9.0]))
    assert problem.objective_db(many)[0] == pytest.approx(scalar_objective_db(problem, levels))


@pytest.mark.parametrize("objective", OBJECTIVES)
@pytest.mark.parametrize("hidden", [False, True])
def test_objective_of_two_together(objective: Objective, hidden: bool) -> None:
    plain = question(TWO_BANDS, air_db_per_m=AIR, objective=objective)
    problem = hung_under(plain)
    at = (0.5, 6.3, -14.0, False, 8.0)
    expected = scalar_pair_levels_db(problem, *at)
    if hidden:  # only the lower one: its losses are worked out where it is itself
        veil = Veil(len(plain.rows))
        problem = hung_under(plain, veil=veil)
        assert problem.under is not None
        own = problem.under.held.placement(Placement(*at), flipped=True)
        alone = replace(plain, pattern=problem.under.pattern)
        x, height, tilt = float(own.x_m), float(own.height_m), float(own.tilt_deg)
        below = scalar_levels_db(alone, x, height, tilt, True)
        below = less(below, veil.plain(x, height))
        above = scalar_levels_db(plain, *at[:4])
        louder = problem.under.louder_db.tolist()
        expected = [
            [
                10.0 * math.log10(10.0 ** (a / 10.0) + 10.0 ** ((b + more) / 10.0))
                for a, b in zip(one, other, strict=True)
            ]
            for one, other, more in zip(above, below, louder, strict=True)
        ]
    else:
        value = scalar_pair_objective_db(problem, *at)
        assert float(problem.objective_db(Placement(*at))) == pytest.approx(value)
    np.testing.assert_allclose(problem.levels_db(Placement(*at)), expected, atol=1e-9)
    value = scalar_objective_db(problem, expected)
    assert float(problem.objective_db(Placement(*at))) == pytest.approx(value)


@pytest.mark.parametrize("objective", OBJECTIVES)
def test_where_a_row_is_unknown_the_objective_is_infinite(objective: Objective) -> None:
    problem = question(tent(0.2, known_deg=40.0), objective=objective)
    assert np.isfinite(problem.objective_db(Placement(0.0, 6.0, -20.0)))
    assert float(problem.objective_db(Placement(0.0, 6.0, 0.0))) == np.inf
    assert float(problem.spread_db(Placement(0.0, 6.0, 0.0))) == np.inf


@pytest.mark.parametrize("objective", OBJECTIVES)
def test_of_several_displacements_the_worst_counts(objective: Objective) -> None:
    plain = question(TWO_BANDS, air_db_per_m=AIR, objective=objective)
    around = (Displacement(1.0, 0.2, 0.0), Displacement(-1.0, 0.0, 0.3), HERE)
    problem = replace(plain, around=around)
    at = Placements.of(np.array([0.0, 0.5]), np.array([6.0, 6.3]), np.array([-14.0, -4.0]))
    each = np.stack([plain.objective_db(off.of(at)) for off in around])
    np.testing.assert_allclose(problem.objective_db(at), each.max(axis=0), atol=1e-12)
    assert (each.max(axis=0) > each.min(axis=0) + 0.03).all()
    for two in (around[:2], around[1::-1]):
        of_two = replace(plain, around=two).objective_db(at)
        np.testing.assert_allclose(of_two, each[:2].max(axis=0), atol=1e-12)


def test_shares_of_rows_and_what_the_proof_looks_at() -> None:
    problem = question(TWO_BANDS, air_db_per_m=AIR, rows=3)
    np.testing.assert_allclose(problem.row_share, [0.25, 0.5, 0.25])
    assert not problem.per_band
    np.testing.assert_allclose(problem.channel_air_loss.slope_db_per_m[:, 0], [0.03])
    for several in (
        replace(problem, objective="worst band"),
        replace(problem, objective="deviation"),
        hung_under(problem),
    ):
        assert several.per_band
        np.testing.assert_array_equal(several.channel_air_loss.slope_db_per_m[:, 0], AIR)


# --- height, trim, splay


@pytest.mark.parametrize("vertical", ["height", "trim"])
@pytest.mark.parametrize("cabinet", [None, Cabinet(), BOX])
def test_the_height_follows_from_a_trim_where_the_outline_is_known(
    vertical: str, cabinet: Cabinet | None
) -> None:
    hang = Hang(vertical="trim" if vertical == "trim" else "height", vertical_m=(5.0, 5.0))
    problem = replace(question(hang=hang), cabinet=cabinet)
    tied = vertical == "trim" and cabinet is BOX
    assert problem.from_trim == tied
    tilt = np.array([0.0, -90.0])
    # Level, its lowest point is 0.2 below; nose down, its face at u = 0 is.
    np.testing.assert_allclose(problem.drop_m(tilt, False), [0.2, 0.0] if tied else 0.0, atol=1e-12)
    np.testing.assert_allclose(problem.drop_m(tilt, True), [0.5, 0.0] if tied else 0.0, atol=1e-12)


def test_a_splay_given_leaves_none_to_choose() -> None:
    alone = question(TWO_BANDS)
    assert alone.splay_deg == (0.0, 0.0)
    assert alone.at_splay(7.0) is alone
    both = hung_under(alone)
    assert both.splay_deg == (5.0, 25.0)
    held = both.at_splay(7.0)
    assert held.splay_deg == (7.0, 7.0)
    assert both.under is not None and held.under is not None
    assert held.under.pattern is both.under.pattern and held.rows is both.rows


# --- limits


def test_ranges_of_tilt_that_placement_and_rigging_leave() -> None:
    problem = question(hang=Hang(vertical_m=(6.0, 6.0), tilt_deg=(-30.0, 10.0)))
    assert problem.tilt_ranges(False) == problem.tilt_ranges(True) == ((-30.0, 10.0),)
    both = replace(
        problem,
        reachable_tilt_deg={
            "upright": ((-60.0, -40.0), (-35.0, -30.0), (-5.0, 0.0), (10.0, 80.0)),
            "flipped": ((-80.0, -31.0), (10.5, 20.0)),
        },
    )
    assert both.tilt_ranges(False) == ((-30.0, -30.0), (-5.0, 0.0), (10.0, 10.0))
    assert both.tilt_ranges(True) == ()
    one = replace(problem, reachable_tilt_deg={"flipped": ((-20.0, 20.0),)})
    assert one.tilt_ranges(False) == ((-30.0, 10.0),)
    assert one.tilt_ranges(True) == ((-20.0, 10.0),)
    whole = question()
    assert whole.tilt_ranges(False) == ((-90.0, 90.0),)


def test_tilts_are_allowed_to_the_very_end_of_their_range() -> None:
    hang = Hang(vertical_m=(6.0, 6.0), tilt_deg=(-30.0, 10.0))
    problem = replace(
        question(hang=hang),
        axis_on_audience=False,
        reachable_tilt_deg={"upright": ((-20.0, 0.0),), "flipped": ((-10.0, 5.0),)},
    )
    near, off = 0.9e-9, 1.05e-9
    tilt = np.array([-20.0 - off, -20.0 - near, -10.0, 0.0 + near, 0.0 + off, 3.0])
    upright = problem.allowed(Placements.of(0.0, 6.0, tilt))
    np.testing.assert_array_equal(upright, [False, True, True, True, False, False])
    flipped = problem.allowed(Placements.of(0.0, 6.0, tilt, True))
    np.testing.assert_array_equal(flipped, [False, False, True, True, True, True])
    assert problem.allowed(Placements.of(0.0, 6.0, np.array([-15.0]), np.array([False])))[0]


def test_the_view_from_the_front_row_ends_what_is_allowed() -> None:
    """From (4, 1.2) a box 3 m nearer the stage is seen at 45° when 3 m higher, from both sides."""
    problem = replace(
        question(), axis_on_audience=False, max_front_elevation_deg=45.0, front_ear_m=(4.0, EAR_M)
    )
    rise = 3.0 * math.tan(math.radians(45.0 + 0.9e-9)), 3.0 * math.tan(math.radians(45.0 + 1.05e-9))
    height = np.array([EAR_M + rise[0], EAR_M + rise[1], 0.0, 30.0])
    for x in (1.0, 7.0):
        np.testing.assert_array_equal(
            problem.allowed(Placements.of(x, height, np.zeros(4))), [True, False, True, False]
        )
    for free in (
        replace(problem, max_front_elevation_deg=None),
        replace(problem, front_ear_m=None),
    ):
        assert free.allowed(Placements.of(1.0, height, np.zeros(4))).all()


def test_the_axis_is_held_on_the_audience_unless_let_off() -> None:
    """Ears level from 4 to 20 m, the box 4.8 m above them at x = 0."""
    problem = question()
    tilt = -np.degrees(np.arctan2(4.8, np.array([3.9, 4.0, 12.0, 20.0, 20.1])))
    expected = [False, True, True, True, False]
    np.testing.assert_array_equal(problem.allowed(Placements.of(0.0, 6.0, tilt)), expected)
    free = replace(problem, axis_on_audience=False)
    assert free.allowed(Placements.of(0.0, 6.0, tilt)).all()


def test_what_the_last_row_could_get_is_spread_and_lost_in_the_air() -> None:
    """20·lg r and the mean of both bands' loss; of several last rows the farthest counts."""
    problem = replace(
        question(TWO_BANDS, air_db_per_m=AIR), last_ears_m=np.array([[20.0, EAR_M], [3.0, 9.0]])
    )
    away = np.array([0.0, 0.5, 8.0, 60.0])
    could = [-20.0 * math.log10(max(r, NEAREST_M)) - 0.03 * max(r, NEAREST_M) for r in away]
    assert problem.last_row_could_db(away) == pytest.approx(np.array(could), abs=1e-9)
    for x, r in ((0.0, math.hypot(20.0, 4.8)), (19.0, math.hypot(16.0, 3.0))):
        found = float(problem.last_rows_could_db(Placement(x, 6.0, -20.0)))
        assert found == pytest.approx(-20.0 * math.log10(r) - 0.03 * r, abs=1e-9)


def test_the_least_level_is_kept_to_within_rounding() -> None:
    """Two rows of a tent of 0.2 dB a degree; the last with the axis on it is what 0 dB is.

    A row by itself is its own last: looked at, it is at 0 dB, and 1e-9 dB are rounding.
    """
    hang = Hang(vertical_m=(6.0, 6.0))
    both = replace(
        question(tent(0.2), rows=2, hang=hang),
        axis_on_audience=False,
        last_ears_m=np.array([[20.0, EAR_M]]),
    )
    near, far = (math.degrees(math.atan2(-4.8, x)) for x in (4.0, 20.0))
    nearer_db = 20.0 * math.log10(math.hypot(20.0, 4.8) / math.hypot(4.0, 4.8))
    tilt = np.array([far, far + 4.0, far - 4.0, near])
    softest = np.minimum(-0.2 * np.abs(tilt - far), nearer_db - 0.2 * np.abs(tilt - near))
    for least in (-0.4, -1.0, -7.0, 0.5):
        kept = replace(both, softest_db=least).allowed(Placements.of(0.0, 6.0, tilt))
        np.testing.assert_array_equal(kept, softest >= least)
    alone = replace(both, rows=both.rows.pick(np.array([1])))
    # Straight ahead at the ears' height: no rounding of an angle.
    ahead = Placement(0.0, EAR_M, 0.0)
    assert float(alone.softest_re_last_db(ahead)) == 0.0
    for least, kept_too in ((0.0, True), (1e-9, True), (1.05e-9, False)):
        assert bool(replace(alone, softest_db=least).allowed(ahead)) == kept_too


# --- where an axis meets an audience plane


def pieces(*ends: tuple[tuple[float, float], tuple[float, float]]) -> Segments:
    return Segments(np.array([of[0] for of in ends]), np.array([of[1] for of in ends]))


def hit(x: float, z: float, tilt: float, planes: Segments) -> tuple[float, int]:
    distance, piece = first_hit(Placement(x, z, tilt), planes)
    return float(distance), int(piece)


def test_the_nearest_of_the_pieces_ahead_is_met() -> None:
    floor = ((2.0, 1.0), (20.0, 1.0))
    riser = ((10.0, -5.0), (10.0, 5.0))
    far = ((15.0, -9.0), (15.0, 9.0))
    behind = ((-3.0, -9.0), (-3.0, 9.0))
    planes = pieces(far, riser, floor, behind)
    # 45° down from 4 m above the floor, 30° down onto the riser, 10° up over it.
    assert hit(0.0, 5.0, -45.0, planes) == pytest.approx((4.0 * math.sqrt(2.0), 2))
    assert hit(0.0, 5.0, -10.0, planes) == pytest.approx((10.0 / math.cos(math.radians(10.0)), 1))
    assert hit(0.0, 5.0, 10.0, planes) == pytest.approx((15.0 / math.cos(math.radians(10.0)), 0))
    assert hit(0.0, 5.0, 40.0, planes)[0] == np.inf
    assert hit(0.0, 5.0, -45.0, pieces(behind))[0] == np.inf
    # A sloping piece: from (0, 5) level, z = 3 + x/4 is 5 at x = 8.
    slope = ((4.0, 4.0), (12.0, 6.0))
    assert hit(0.0, 5.0, 0.0, pieces(slope)) == pytest.approx((8.0, 0))
    assert hit(0.0, 5.0, 0.0, pieces(slope[::-1])) == pytest.approx((8.0, 0))
    many = Placements.of(np.zeros((2, 1)), np.array([5.0, 6.5]), 0.0)
    distance, _ = first_hit(many, pieces(slope))
    np.testing.assert_allclose(distance, [[8.0, np.inf]] * 2)


def test_an_axis_along_a_piece_meets_its_nearer_end() -> None:
    for ends in (((5.0, 1.0), (10.0, 1.0)), ((10.0, 1.0), (5.0, 1.0))):
        along = pieces(ends)
        assert hit(0.0, 1.0, 0.0, along)[0] == 5.0
        assert hit(4.5, 1.0, 0.0, along)[0] == 0.5
        assert hit(7.0, 1.0, 0.0, along)[0] == 3.0
        assert hit(5.0, 1.0, 0.0, along)[0] == 5.0
        assert hit(12.0, 1.0, 0.0, along)[0] == np.inf
        assert hit(10.0, 1.0, 0.0, along)[0] == np.inf
        assert hit(0.0, 1.5, 0.0, along)[0] == np.inf  # beside it, never on it


def test_an_end_that_the_axis_grazes_is_met() -> None:
    """An end off by 0.9e-7 m still is, one off by 1e-7 or more is not; the end itself is."""
    for ends in (((5.0, 1e-7), (10.0, 1.0)), ((10.0, 1.0), (5.0, 1e-7))):
        assert hit(0.0, 0.0, 0.0, pieces(ends))[0] == np.inf
    for near, far in (((10.0, 1.0), (5.0, 2.0)), ((5.0, 1.0), (10.0, 2.0))):
        for ends in ((near, far), (far, near)):
            for below, met in ((0.0, True), (0.9e-7, True), (1.05e-7, False)):
                distance = hit(0.0, 1.0 - below, 0.0, pieces(ends))[0]
                assert distance == (pytest.approx(near[0], abs=1e-9) if met else np.inf)


def test_a_box_on_the_plane_itself_meets_it_ahead_only() -> None:
    wall = pieces(((7.0, 0.0), (7.0, 2.0)))
    assert hit(7.0, 1.0, 0.0, wall)[0] == np.inf
    assert hit(6.5, 1.0, 0.0, wall)[0] == 0.5
