"""The share of the radiated energy that meets the seating, by counting rays all round."""

import math

import numpy as np
import pytest

from aiming.aim.energy import seating_share_percent
from aiming.base.arrays import FloatArray, frozen
from aiming.geometry.section import Segments
from aiming.speaker.pattern import Pattern
from aiming.speaker.speaker import Placement, Placements

ANGLES = np.array([-180.0, -90.0, -40.0, -10.0, 0.0, 25.0, 70.0, 180.0])
LEVELS = np.array(
    [
        [-25.0, -20.0, -5.0, 0.0, 0.0, -4.0, -15.0, -25.0],
        [-35.0, -28.0, -9.0, -1.0, 0.0, -8.0, -22.0, -35.0],
    ]
)
PATTERN = Pattern(
    angle_deg=frozen(ANGLES), band_hz=(500.0, 2000.0), level_db=frozen(LEVELS), reference="test"
)
FLAT = Pattern(
    angle_deg=frozen([-180.0, 180.0]),
    band_hz=(500.0,),
    level_db=frozen(np.zeros((1, 2))),
    reference="test",
)


def pieces(*points_m: tuple[tuple[float, float], tuple[float, float]]) -> Segments:
    start, end = zip(*points_m, strict=True)
    return Segments(start_m=frozen(start), end_m=frozen(end), seating=np.zeros(len(start), int))


def counted_percent(planes: Segments, placement: Placement) -> float:
    """36,000 rays, each weighted by the mean energy of the bands in its direction."""
    ray = (np.arange(36000) + 0.5) / 100.0 - 180.0
    off = np.remainder(ray - float(placement.tilt_deg) + 180.0, 360.0) - 180.0
    off = -off if placement.flipped else off
    power = np.mean([10.0 ** (np.interp(off, ANGLES, of) / 10.0) for of in LEVELS], axis=0)
    x, z = np.cos(np.radians(ray)), np.sin(np.radians(ray))
    met = np.zeros(len(ray), dtype=bool)
    for start, end in zip(planes.start_m, planes.end_m, strict=True):
        at = np.array([float(placement.x_m), float(placement.height_m)])
        a, run = start - at, end - start
        cross = run[1] * x - run[0] * z
        share = (a[0] * z - a[1] * x) / cross
        out = (a[0] + share * run[0]) * x + (a[1] + share * run[1]) * z
        met |= (share >= 0.0) & (share <= 1.0) & (out > 0.0)
    return float(100.0 * power[met].sum() / power.sum())


SCENES = {
    "one rake": pieces(((3.0, 1.2), (25.0, 4.0))),
    "two that overlap as seen": pieces(((3.0, 1.2), (15.0, 1.5)), ((10.0, 4.0), (22.0, 6.0))),
    "one within the other": pieces(((3.0, 1.2), (30.0, 2.0)), ((8.0, 3.0), (9.0, 3.2))),
    "apart": pieces(((-9.0, 1.0), (-4.0, 1.2)), ((5.0, 1.0), (20.0, 2.0))),
    "across the back": pieces(((-10.0, 5.0), (-10.0, 9.0)), ((4.0, 1.0), (9.0, 1.0))),
}


@pytest.mark.parametrize("flipped", [False, True])
@pytest.mark.parametrize("tilt_deg", [-12.0, 8.0, -75.0])
@pytest.mark.parametrize("scene", SCENES)
def test_the_share_is_what_the_rays_say(scene: str, tilt_deg: float, flipped: bool) -> None:
    placement = Placement(x_m=0.5, height_m=7.0, tilt_deg=tilt_deg, flipped=flipped)
    found = float(seating_share_percent(PATTERN, SCENES[scene], placement))
    assert found == pytest.approx(counted_percent(SCENES[scene], placement), abs=0.02)


@pytest.mark.parametrize("scene", SCENES)
def test_a_source_that_sends_alike_all_round_gives_the_angle(scene: str) -> None:
    planes = SCENES[scene]
    placement = Placement(x_m=0.5, height_m=7.0, tilt_deg=-33.3)
    found = float(seating_share_percent(FLAT, planes, placement))
    assert found == pytest.approx(100.0 * seen_deg(planes, placement) / 360.0, abs=1e-9)


def seen_deg(planes: Segments, placement: Placement) -> float:
    """Angle under which the pieces are seen together: the union of their spans."""
    at = np.array([float(placement.x_m), float(placement.height_m)])
    spans = []
    for start, end in zip(planes.start_m, planes.end_m, strict=True):
        a, b = start - at, end - at
        first = math.degrees(math.atan2(a[1], a[0]))
        turn = math.degrees(math.atan2(a[0] * b[1] - a[1] * b[0], a @ b))
        spans.append(sorted((first, first + turn)))
    total, covered = 0.0, -math.inf
    for low, high in sorted(spans):
        total += max(0.0, high - max(low, covered))
        covered = max(covered, high)
    return total


def test_many_placements_at_once_are_each_alone() -> None:
    planes = SCENES["two that overlap as seen"]
    x: FloatArray = np.array([[0.0, 1.0], [2.0, -3.0]])
    tilt = np.array([[-5.0, -20.0], [10.0, 0.0]])
    flipped = np.array([[True, False], [False, True]])
    height = np.full((2, 2), 6.0)
    many = seating_share_percent(PATTERN, planes, Placements.of(x, height, tilt, flipped))
    for i, j in np.ndindex(2, 2):
        one = Placement(x[i, j], height[i, j], tilt[i, j], bool(flipped[i, j]))
        assert many[i, j] == pytest.approx(float(seating_share_percent(PATTERN, planes, one)))


def test_a_pattern_unknown_behind_gives_no_share() -> None:
    known = Pattern(
        angle_deg=frozen([-90.0, 0.0, 90.0]),
        band_hz=(500.0,),
        level_db=frozen([[-9.0, 0.0, -9.0]]),
        reference="test",
    )
    planes = SCENES["one rake"]
    assert np.isnan(seating_share_percent(known, planes, Placement(0.0, 5.0, -5.0)))
    many = Placements.of(np.zeros(3), np.full(3, 5.0), np.linspace(-9.0, 0.0, 3))
    assert np.isnan(seating_share_percent(known, planes, many)).all()
