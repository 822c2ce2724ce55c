"""What a box stands on and whether its centre of gravity is inside it, for odd outlines."""

import numpy as np
import pytest

from aiming.rigging.ground_stack import centre_outside_outline, footprint_m
from aiming.speaker.cabinet import Cabinet, drop_m

WEDGE = [[0.0, -0.2], [0.0, 0.2], [-0.5, 0.4], [-0.5, -0.2]]
SLANTED = [[0.0, 0.1], [-0.1, 0.3], [-0.7, 0.3], [-0.7, -0.3], [-0.4, -0.3]]
"""A short foot of 0.3 m, and a slant of 0.57 m that looks down as far as 45°."""


@pytest.mark.parametrize("backwards", [False, True])
@pytest.mark.parametrize("first", range(5))
def test_the_foot_wherever_the_outline_starts(first, backwards):
    corners = np.roll(np.array(SLANTED), first, axis=0)
    box = Cabinet(outline_m=corners[::-1] if backwards else corners)
    assert footprint_m(box, tilt_deg=0.0, flipped=False) == pytest.approx((-0.7, -0.4))
    # Tilted back until the slant is the lowest face: its two corners, turned.
    turn = np.radians(-40.0)
    ends = [u * np.cos(turn) - w * np.sin(turn) for u, w in ((-0.4, -0.3), (0.0, 0.1))]
    found = footprint_m(box, tilt_deg=-40.0, flipped=False)
    assert found == pytest.approx(tuple(sorted(ends)))
    assert footprint_m(box, tilt_deg=0.0, flipped=True) == pytest.approx((-0.7, -0.1))


@pytest.mark.parametrize("first", range(3))
def test_the_foot_of_a_wedge_of_three_corners(first):
    corners = np.roll(np.array([[0.0, -0.3], [0.0, 0.4], [-0.6, -0.3]]), first, axis=0)
    for one in (corners, corners[::-1]):
        box = Cabinet(outline_m=one)
        assert footprint_m(box, tilt_deg=0.0, flipped=False) == pytest.approx((-0.6, 0.0))


def test_a_corner_given_twice_is_no_face():
    twice = Cabinet(outline_m=np.array([*SLANTED[:3], *SLANTED[2:]]))
    assert footprint_m(twice, tilt_deg=0.0, flipped=False) == pytest.approx((-0.7, -0.4))


def test_how_high_a_wedge_stands():
    """Nose up 30° the rear lower corner is the lowest: −0.5·sin 30° − 0.2·cos 30°."""
    box = Cabinet(outline_m=np.array(WEDGE))
    found = drop_m(box, tilt_deg=30.0, flipped=False)
    assert found == pytest.approx(0.25 + 0.2 * np.cos(np.radians(30.0)))


@pytest.mark.parametrize(
    ("u", "w", "outside"),
    [
        # Under the slanted top, w = 0.2 − 0.4·u, and just over it.
        (-0.25, 0.29, False), (-0.25, 0.31, True),
        (-0.45, 0.37, False), (-0.05, 0.23, True),
        (-0.05, 0.21, False), (-0.25, -0.19, False), (-0.25, -0.21, True),
        (0.01, 0.0, True), (-0.01, 0.0, False), (-0.49, 0.0, False), (-0.51, 0.0, True),
        # Level with a corner: the ray runs through it.
        (-0.3, 0.2, False), (-0.6, 0.2, True), (0.1, 0.2, True), (-0.6, 0.4, True),
    ],
)  # fmt: skip
def test_inside_a_wedge(u, w, outside):
    for corners in (WEDGE, WEDGE[::-1], WEDGE[2:] + WEDGE[:2]):
        box = Cabinet(outline_m=np.array(corners), centre_of_gravity_m=(u, w))
        assert centre_outside_outline(box) is outside


@pytest.mark.parametrize(("u", "outside"), [(-1.5, True), (-0.5, False), (0.5, False), (1.5, True)])
def test_a_ray_through_the_corner_of_a_diamond_counts_it_once(u, outside):
    for turn in range(4):
        corners = np.roll(np.array([[1.0, 0.0], [0.0, 1.0], [-1.0, 0.0], [0.0, -1.0]]), turn, 0)
        box = Cabinet(outline_m=corners, centre_of_gravity_m=(u, 0.0))
        assert centre_outside_outline(box) is outside


@pytest.mark.parametrize("given", [{"outline_m": np.array(WEDGE)}, {"centre_of_gravity_m": (0, 0)}])
def test_half_known_is_not_told(given):
    assert centre_outside_outline(Cabinet(**given)) is None
