"""The whole choice of check positions by a second, plain way: every set tried, every matrix whole.

Noise, model and order as docs/on-site.md states them; here with full covariance matrices and matrix
inverses instead of what checks.py reduces them to.
"""

from itertools import combinations

import numpy as np
import pytest
from onsite_scenes import problem
from random_scenes import random_problem

from aiming.aim.check_positions import (
    Check,
    band_root,
    choose_checks,
    microphone_z_m,
    tilt_doubt_deg,
)
from aiming.aim.problem import Problem
from aiming.base.arrays import FloatArray, frozen
from aiming.geometry.section import Seating, plane_segments, rows_of
from aiming.speaker.pattern import Pattern
from aiming.speaker.speaker import Placement

SITE_DB, BAND_DB, WIDTH_DOUBT = 0.7, 1.0, 0.1
TIE = 1e-9


class Plain:
    """One placement's rows, and what sets of them tell."""

    def __init__(self, of: Problem, plan: Placement) -> None:
        def levels(by_deg: float) -> FloatArray:
            tilt = float(plan.tilt_deg) + by_deg
            return of.levels_db(
                Placement(float(plan.x_m), float(plan.height_m), tilt, plan.flipped)
            )

        self.rows, self.now = of.rows, levels(0.0)
        self.per_degree = levels(0.5) - levels(-0.5)
        rise, run = of.rows.z_m - float(plan.height_m), of.rows.x_m - float(plan.x_m)
        self.off = np.remainder(
            np.degrees(np.arctan2(rise, run)) - float(plan.tilt_deg) + 180.0, 360.0
        ) - 180.0  # fmt: skip
        sound = np.isfinite(self.per_degree) & np.isfinite(self.now)
        self.known = [int(row) for row in np.flatnonzero(sound.all(axis=0))]
        bands = len(self.now)
        self.noise = np.linalg.inv(
            SITE_DB**2 * np.ones((bands, bands)) + BAND_DB**2 * np.eye(bands)
        )

    def information(self, rows: list[int]) -> FloatArray:
        each = [
            np.stack([self.per_degree[:, row], self.per_degree[:, row] * self.off[row]], axis=1)
            for row in rows
        ]
        middle = np.mean(each, axis=0)
        return np.asarray(sum((j - middle).T @ self.noise @ (j - middle) for j in each))

    def variance(self, rows: list[int], what: int) -> float:
        """Of tilt (0, deg²) or of the width (1, share²), the other unknown, the width in doubt."""
        known = self.information(rows) + np.diag([1e-15, WIDTH_DOUBT**-2])
        other = 1 - what
        left = known[what, what] - known[0, 1] ** 2 / max(known[other, other], 1e-12)
        return float(1.0 / max(left, 1e-12))

    def apart(self, a: int, b: int) -> bool:
        away = np.hypot(self.rows.x_m[a] - self.rows.x_m[b], self.rows.z_m[a] - self.rows.z_m[b])
        return bool(away >= 1.0 - 1e-9)

    def candidates(self) -> list[int]:
        count = len(self.known)
        if count <= 48:
            return self.known
        return [self.known[round(k * (count - 1) / 47)] for k in range(48)]


def least(values: dict[tuple[int, ...], float]) -> tuple[int, ...] | None:
    """The one with the least value; None where two are as good."""
    ordered = sorted(values, key=values.__getitem__)
    first = values[ordered[0]]
    if len(ordered) > 1 and values[ordered[1]] - first <= TIE * max(1.0, abs(first)):
        return None
    return ordered[0]


def chosen(plain: Plain) -> list[int] | None:
    """The telling rows in their order; None where the choice is between equals."""
    candidates = plain.candidates()
    sets = list(combinations(candidates, min(3, len(candidates))))
    clear = [of for of in sets if all(plain.apart(a, b) for a, b in combinations(of, 2))]
    best = least({of: plain.variance(list(of), 0) for of in clear or sets})
    if best is None:
        return None
    pair = least({two: plain.variance(list(two), 0) for two in combinations(best, 2)})
    if pair is None:
        return None
    order = sorted(pair, key=lambda row: (abs(plain.off[row]), row))
    order += [row for row in best if row not in pair]
    while len(order) < min(5, len(candidates)):
        rest = [row for row in candidates if row not in order]
        free = [row for row in rest if all(plain.apart(row, one) for one in order)]
        more = least({(row,): plain.variance([*order, row], 1) for row in free or rest})
        if more is None:
            return None
        order.append(more[0])
    return order


def expected(plain: Plain) -> dict[int, str] | None:
    """Each position's row and reason, in order."""
    telling = chosen(plain)
    if telling is None:
        return None
    names = ["tells tilt"] * 3 + ["tells the width of the pattern"] * 2
    found = dict(zip(telling, names, strict=False))
    design = plain.now.mean(axis=0)
    loudest = max(plain.known, key=lambda row: design[row])
    softest = min(plain.known, key=lambda row: design[row])
    wished = [(loudest, "loudest row"), (softest, "softest row")]
    visited = {int(plain.rows.seating[row]) for row in [*telling, loudest, softest]}
    for number, seating in enumerate(plain.rows.seatings):
        of = [row for row in plain.known if plain.rows.seating[row] == number]
        if of and number not in visited:
            wished.append((of[len(of) // 2], f"middle of {seating.name}"))
    for row, reason in wished:
        found[row] = f"{found[row]}; {reason}" if row in found else reason
    return found


def compare(of: Problem, plan: Placement) -> int:
    """How many positions were compared; 0 where two choices are as good."""
    plain = Plain(of, plan)
    if len(plain.known) < 2:
        assert choose_checks(of, plan) == ()
        return 0
    wanted = expected(plain)
    if wanted is None:
        return 0
    checks = choose_checks(of, plan)
    assert {check.row: check.reason for check in checks} == wanted
    assert [check.row for check in checks] == list(wanted)
    first = checks[0].row
    for check in checks:
        at = check.row
        assert (check.x_m, check.z_m) == (of.rows.x_m[at], of.rows.z_m[at])
        away = np.hypot(check.x_m - float(plan.x_m), check.z_m - float(plan.height_m))
        assert check.distance_m == pytest.approx(away, rel=1e-12)
        assert check.off_axis_deg == pytest.approx(plain.off[at], abs=1e-9)
        assert check.levels_db == pytest.approx(plain.now[:, at] - plain.now[:, first], abs=1e-9)
        slope = plain.per_degree[:, at].mean()
        assert check.level_per_degree_db == pytest.approx(slope, abs=1e-9)
    for count in range(2, len(checks) + 1):
        doubt = 1.6449 * plain.variance([check.row for check in checks[:count]], 0) ** 0.5
        assert tilt_doubt_deg(of, plan, checks[:count]) == pytest.approx(doubt, rel=1e-6)
    return len(checks)


@pytest.mark.parametrize("seed", range(24))
def test_random_scenes(seed: int) -> None:
    """Patterns with notches, steps and holes; one to three seatings; both orientations."""
    of = random_problem(seed)
    rng = np.random.default_rng(seed)
    for _ in range(4):
        flipped = bool(rng.random() < 0.5)
        plan = Placement(
            float(rng.uniform(-3.0, 2.0)),
            float(rng.uniform(3.0, 9.0)),
            float(rng.uniform(-35.0, 10.0)),
            flipped,
        )
        compare(of, plan)


SEATINGS = (
    Seating("stalls", np.array([[4.0, 0.0], [18.0, 1.4]])),
    Seating("pit", np.array([[2.0, -1.0], [3.0, -1.0]]), row_count=3),
    Seating("circle", np.array([[14.0, 4.0], [18.0, 6.0]])),
    Seating("slips", np.array([[9.0, 3.0], [12.0, 3.0]]), row_count=4),
)


@pytest.mark.parametrize("tilt_deg", [-24.0, -15.5, -9.0, 3.0])
def test_several_seatings(tilt_deg: float) -> None:
    of = problem()
    rows = rows_of(SEATINGS)
    of = Problem(**{**vars(of), "rows": rows, "planes": plane_segments(SEATINGS, (0, 1, 2, 3))})
    assert compare(of, Placement(0.0, 6.0, tilt_deg)) >= 5


@pytest.mark.parametrize("spacing_m", [0.12, 0.25, 0.55])
def test_many_narrow_rows(spacing_m: float) -> None:
    """More rows than are looked at, and nearer than positions may stand to each other."""
    seatings = (Seating("yard", np.array([[4.0, 0.0], [19.0, 1.7]]), row_spacing_m=spacing_m),)
    of = problem()
    rows = rows_of(seatings)
    of = Problem(**{**vars(of), "rows": rows, "planes": plane_segments(seatings, (0,))})
    assert compare(of, Placement(0.3, 6.2, -14.3)) >= 5


def test_rows_all_nearer_than_positions_may_stand() -> None:
    seatings = (Seating("box", np.array([[9.0, 3.0], [9.8, 3.3]]), row_count=4),)
    of = problem()
    of = Problem(
        **{**vars(of), "rows": rows_of(seatings), "planes": plane_segments(seatings, (0,))}
    )
    assert compare(of, Placement(0.0, 6.0, -14.3)) == 4


def test_rows_a_metre_apart_are_far_enough() -> None:
    seatings = (Seating("yard", np.array([[4.0, 0.0], [10.0, 0.0]]), row_count=7),)
    of = problem()
    of = Problem(
        **{**vars(of), "rows": rows_of(seatings), "planes": plane_segments(seatings, (0,))}
    )
    assert compare(of, Placement(0.0, 6.0, -24.3)) >= 5


def test_one_position_has_no_interval_and_two_have() -> None:
    of, plan = problem(), Placement(0.0, 6.0, -15.0)
    checks = choose_checks(of, plan)
    assert tilt_doubt_deg(of, plan, checks[:1]) == float("inf")
    assert tilt_doubt_deg(of, plan, ()) == float("inf")
    assert np.isfinite(tilt_doubt_deg(of, plan, checks[:2]))


def test_a_level_unknown_at_one_tilt_only_leaves_the_row_out() -> None:
    """The pattern ends at 20°: a row at 19.8° is lost when the box is turned by half a degree."""
    of = problem()
    inner = np.abs(of.pattern.angle_deg) <= 20.0
    short = Pattern(
        frozen(of.pattern.angle_deg[inner]),
        of.pattern.band_hz,
        frozen(of.pattern.level_db[:, inner]),
        "cut",
    )
    of = Problem(**{**vars(of), "pattern": short})
    edge = np.degrees(np.arctan2(of.rows.z_m[6] - 6.0, of.rows.x_m[6]))
    plan = Placement(0.0, 6.0, float(edge) - 19.8)
    assert np.isfinite(of.levels_db(plan)[:, 6]).all()
    assert 6 not in {check.row for check in choose_checks(of, plan)}
    compare(of, plan)


def test_the_root_keeps_the_mean_apart_from_the_rest() -> None:
    root = band_root(3, site_db=0.7, band_db=1.0)
    assert root @ np.ones(3) == pytest.approx(np.ones(3) / np.sqrt(1.0 + 3.0 * 0.49), rel=1e-12)
    assert root @ np.array([1.0, -1.0, 0.0]) == pytest.approx([1.0, -1.0, 0.0], rel=1e-12)


def test_microphones_stand_at_the_ears_or_over_the_floor() -> None:
    seatings = (
        Seating("low", np.array([[4.0, 0.0], [8.0, 1.0]]), ear_height_m=1.2),
        Seating("high", np.array([[9.0, 3.0], [12.0, 3.0]]), ear_height_m=1.6),
    )
    rows = rows_of(seatings)
    floor = np.interp(rows.x_m, [4.0, 8.0, 9.0, 12.0], [0.0, 1.0, 3.0, 3.0])
    assert microphone_z_m(rows, 0.25) == pytest.approx(floor + 0.25, abs=1e-9)
    assert microphone_z_m(rows, None) == pytest.approx(rows.z_m)


def test_the_interval_of_given_positions() -> None:
    """Positions that nobody would choose, so that nothing rests on the choice."""
    of, plan = problem(), Placement(0.0, 6.0, -15.0)
    plain = Plain(of, plan)
    for rows in ([0, 5], [3, 4, 9], [0, 7, 12, 16]):
        checks = tuple(
            Check(
                row=row,
                x_m=float(of.rows.x_m[row]),
                z_m=float(of.rows.z_m[row]),
                distance_m=0.0,
                off_axis_deg=float(plain.off[row]),
                levels_db=plain.now[:, row],
                level_per_degree_db=0.0,
                reason="",
            )
            for row in rows
        )
        doubt = 1.6449 * plain.variance(rows, 0) ** 0.5
        assert tilt_doubt_deg(of, plan, checks) == pytest.approx(doubt, rel=1e-9)
