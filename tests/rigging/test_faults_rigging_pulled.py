"""Tilts that a pulling line holds: the ranges against every tilt tried, by another solution.

The other solution solves the three equations of equilibrium as they stand, for the carrying line's
two components and the pull.
"""

import numpy as np
import pytest

from aiming.rigging import reachable_tilt_deg
from aiming.speaker.cabinet import Cabinet, Pick
from aiming.speaker.rigging import Rigging

AT = (0.4, 5.0)
TILTS = np.arange(-89.95, 90.0, 0.1)


def turned(at, tilts=TILTS):
    turn = np.radians(tilts)
    u, w = at
    return np.stack([u * np.cos(turn) - w * np.sin(turn), u * np.sin(turn) + w * np.cos(turn)])


def towards(point_m, pulled, tilts=TILTS):
    """Unit x and z of the pull to a fixed point, by tilt."""
    way = np.array(point_m)[:, None] - np.array(AT)[:, None] - turned(pulled, tilts)
    return way / np.hypot(*way)


def margins(carrying, pulled, centre, direction, least_share, tilts=TILTS):
    """The least of what must not be negative, by tilt; direction: of the pull, x and z."""
    (x_h, z_h), (x_p, z_p), (x_g, z_g) = (turned(at, tilts) for at in (carrying, pulled, centre))
    one, none = np.ones_like(x_h), np.zeros_like(x_h)
    across, up = direction
    rows = ((one, none, across), (none, one, up), (-z_h, x_h, x_p * up - z_p * across))
    matrix = np.moveaxis(np.array(rows), -1, 0)
    weight = np.moveaxis(np.array([none, one, x_g]), -1, 0)[..., None]
    _, upward, pull = np.moveaxis(np.linalg.solve(matrix, weight)[..., 0], -1, 0)
    over = z_h + (z_p - z_h) * (x_g - x_h) / (x_p - x_h) - z_g
    return np.min([pull - least_share, upward - least_share, 1.0 - pull, z_h - z_g, over], axis=0)


def check(carrying, pulled, centre, least_share, *, elevation_deg=None, point_m=None):
    cabinet = Cabinet(
        mass_kg=30.0,
        centre_of_gravity_m=centre,
        picks=(Pick("carry", carrying), Pick("pull", pulled)),
    )
    rigging = Rigging(
        "pull-back",
        ("carry", "pull"),
        pull_elevation_deg=elevation_deg,
        pulling_point_m=point_m,
    )
    if point_m is None:
        turn = np.radians(np.full_like(TILTS, elevation_deg))
        direction = (-np.cos(turn), np.sin(turn))
    else:
        direction = towards(point_m, pulled)
    margin = margins(carrying, pulled, centre, direction, least_share)
    reach = reachable_tilt_deg(cabinet, rigging, flipped=False, at_m=AT, least_share=least_share)
    clear = np.abs(margin) > 1e-6
    assert np.array_equal(reach.allows(TILTS)[clear], (margin > 0.0)[clear])
    return reach


@pytest.mark.parametrize("least_share", [0.0, 0.1, 0.3])
@pytest.mark.parametrize("elevation_deg", [-60.0, -20.0, 0.0, 25.0, 60.0, 90.0, 120.0])
def test_a_fixed_slope(elevation_deg, least_share):
    random = np.random.default_rng(7)
    count = 0
    for _ in range(40):
        places = np.round(random.uniform(-0.5, 0.5, (3, 2)), 3)
        carrying, pulled, centre = (tuple(map(float, place)) for place in places)
        found = check(carrying, pulled, centre, least_share, elevation_deg=elevation_deg)
        count += bool(found.intervals_deg)
    assert count >= 3


@pytest.mark.parametrize("least_share", [0.0, 0.1, 0.3])
def test_a_fixed_point(least_share):
    random = np.random.default_rng(8)
    count = 0
    for _ in range(50):
        places = np.round(random.uniform(-0.5, 0.5, (3, 2)), 3)
        carrying, pulled, centre = (tuple(map(float, place)) for place in places)
        far = np.round(random.uniform(-3.0, 3.0, 2), 2) + AT
        found = check(carrying, pulled, centre, least_share, point_m=tuple(map(float, far)))
        count += bool(found.intervals_deg)
    assert count >= 10


@pytest.mark.parametrize(
    ("carrying", "pulled", "centre", "far", "ends"),
    [
        ((0.46, 0.22), (0.04, -0.22), (-0.34, 0.47), (0.1, -2.3), (79.951, 90.0)),
        ((0.14, 0.35), (0.09, -0.24), (0.34, 0.01), (0.1, 1.5), (-90.0, -30.466)),
    ],
)
def test_as_far_as_on_end(carrying, pulled, centre, far, ends):
    """Held to the very end of what a tilt can be; the other end as computed once."""
    reach = check(carrying, pulled, centre, 0.0, point_m=(far[0] + AT[0], far[1] + AT[1]))
    [(low, high)] = reach.intervals_deg
    assert (low, high) == pytest.approx(ends, abs=1e-3)
    assert abs(low if low < 0.0 else high) == 90.0


def test_two_ranges_with_a_gap():
    reach = check((0.49, 0.23), (0.37, -0.45), (0.18, -0.06), 0.0, point_m=(-0.1, 6.2))
    assert np.ravel(reach.intervals_deg) == pytest.approx(
        [10.00798, 46.90915, 70.68278, 90.0], abs=1e-5
    )
    assert reach.range_deg[1] == 90.0


def test_the_end_of_a_range_is_where_the_least_share_is_borne():
    """To a millionth of a degree, both ends: the margin changes sign there."""
    places, point_m = ((0.05, 0.35), (-0.25, -0.30), (0.0, 0.0)), (-1.6, 5.5)
    for least_share in (0.05, 0.2):
        [(low, high)] = check(*places, least_share, point_m=point_m).intervals_deg
        tilts = np.array([low - 1e-6, low + 1e-6, high - 1e-6, high + 1e-6])
        direction = towards(point_m, places[1], tilts)
        held = margins(*places, direction, least_share, tilts) > 0.0
        assert held.tolist() == [False, True, True, False]
