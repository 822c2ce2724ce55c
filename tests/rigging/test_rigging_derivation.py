"""The numeric statics against what SymPy derives, and against virtual work and energy."""

import numpy as np
import pytest
import sympy
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from aiming.rigging import bridle, derivation
from aiming.rigging.statics import (
    one_point_doubt_deg,
    one_point_hole_m,
    one_point_tilt_deg,
    pull_back_shares,
    two_point_shares,
)

place = st.floats(-0.6, 0.6)
point = st.tuples(place, place)
tilt = st.floats(-60.0, 60.0)
quietly = settings(deadline=None, derandomize=True, max_examples=60)


def lambdified(formula, names):
    return sympy.lambdify([derivation.symbol(name) for name in names.split()], formula, "numpy")


def turned(at, tilt_deg):
    formulas = derivation.turned("G")
    work = [lambdified(formula, "u_G w_G tau") for formula in formulas]
    return tuple(float(one(*at, np.radians(tilt_deg))) for one in work)


@quietly
@given(front=point, rear=point, centre=point, tilt_deg=tilt)
def test_two_points_as_derived(front, rear, centre, tilt_deg):
    x_f, x_r, x_g = (turned(at, tilt_deg)[0] for at in (front, rear, centre))
    assume(abs(x_f - x_r) > 0.02)
    derived = [
        lambdified(derivation.two_points()[name], "W x_F x_R x_G")(1.0, x_f, x_r, x_g)
        for name in ("T_F", "T_R")
    ]
    found = two_point_shares(front, rear, centre, tilt_deg=tilt_deg)
    assert found == pytest.approx(derived, rel=1e-9, abs=1e-9)


@quietly
@given(carrying=point, pulled=point, centre=point, tilt_deg=tilt, elevation=st.floats(-80.0, 120.0))
def test_pull_back_as_derived(carrying, pulled, centre, tilt_deg, elevation):
    beta = np.radians(elevation)
    (x_h, z_h), (x_p, z_p), (x_g, _) = (turned(at, tilt_deg) for at in (carrying, pulled, centre))
    assume(abs((x_p - x_h) * np.sin(beta) + (z_p - z_h) * np.cos(beta)) > 0.02)
    formulas = derivation.pull_back()
    names = "W x_H z_H x_P z_P x_G beta"
    pull = lambdified(formulas["T"], names)(1.0, x_h, z_h, x_p, z_p, x_g, beta)
    across = lambdified(formulas["X_H"], "T beta")(pull, beta)
    up = lambdified(formulas["Z_H"], "W T beta")(1.0, pull, beta)
    carried, found, lean = pull_back_shares(
        carrying, pulled, centre, tilt_deg=tilt_deg, elevation_deg=elevation
    )
    assert float(found) == pytest.approx(pull, rel=1e-8, abs=1e-9)
    along = lambdified(formulas["T_H"], "X_H Z_H")(across, up)
    assert float(carried) == pytest.approx(along, rel=1e-8, abs=1e-9)
    assert float(lean) == pytest.approx(np.degrees(np.arctan2(across, up)), abs=1e-6)


@quietly
@given(hole_u=place, centre=point, rise=st.floats(0.05, 1.0))
def test_one_point_as_derived(hole_u, centre, rise):
    hole_w = centre[1] + rise
    formulas = derivation.one_point()
    tangent = lambdified(formulas["tan_tau"], "u_G u_H w_G w_H")(
        centre[0], hole_u, centre[1], hole_w
    )
    rest = float(one_point_tilt_deg(hole_u, hole_w, centre))
    assert rest == pytest.approx(np.degrees(np.arctan(tangent)), abs=1e-9)
    back = lambdified(formulas["u_H"], "u_G w_G w_H tau")(*centre, hole_w, np.radians(rest))
    assert back == pytest.approx(hole_u, abs=1e-9)
    assert float(one_point_hole_m(rest, hole_w, centre)) == pytest.approx(hole_u, abs=1e-9)
    slope = lambdified(formulas["doubt"], "w_G w_H tau")(centre[1], hole_w, np.radians(rest))
    doubt = float(one_point_doubt_deg(rest, rise, doubt_m=0.01))
    assert doubt == pytest.approx(-np.degrees(0.01 * slope), rel=1e-9)


def test_the_doubt_is_the_slope_of_the_rest_tilt():
    """A second formula: 10 mm more of u_G moves the rest tilt by that much, nose down."""
    here, there = (float(one_point_tilt_deg(0.0, 0.4, (u, 0.0))) for u in (0.025, 0.035))
    middle = float(one_point_tilt_deg(0.0, 0.4, (0.030, 0.0)))
    doubt = float(one_point_doubt_deg(middle, 0.4, doubt_m=0.01))
    assert here - there == pytest.approx(doubt, abs=1e-4)


@quietly
@given(hole=point, centre=point)
def test_a_body_rests_where_its_energy_is_least(hole, centre):
    """Height of the centre of gravity over the hole, over every tilt: least at the rest tilt."""
    assume(hole[1] - centre[1] > 0.05)
    names = "u_G w_G u_H w_H tau"
    height = derivation.turned("G")[1] - derivation.turned("H")[1]
    energy = lambdified(height, names)
    rest = float(one_point_tilt_deg(hole[0], hole[1], centre))
    everywhere = energy(*centre, *hole, np.radians(np.linspace(-180.0, 180.0, 721)))
    assert energy(*centre, *hole, np.radians(rest)) <= everywhere.min() + 1e-12
    slope = lambdified(sympy.diff(height, derivation.symbol("tau")), names)
    assert slope(*centre, *hole, np.radians(rest)) == pytest.approx(0.0, abs=1e-12)


@quietly
@given(front=point, rear=point, centre=point, tilt_deg=tilt)
def test_two_points_by_virtual_work(front, rear, centre, tilt_deg):
    """Hold the rear pick, turn by dτ: the front line's work is the weight's gain in height."""
    (x_f, z_f), (x_r, z_r), (x_g, z_g) = (turned(at, tilt_deg) for at in (front, rear, centre))
    assume(abs(x_f - x_r) > 0.02)
    turn = 1e-6

    def lifted(x, z):
        """Rise of a point when the body turns nose-up about the rear pick."""
        return (x - x_r) * np.sin(turn) + (z - z_r) * (np.cos(turn) - 1.0)

    share = lifted(x_g, z_g) / lifted(x_f, z_f)
    found = two_point_shares(front, rear, centre, tilt_deg=tilt_deg)
    assert float(found[0]) == pytest.approx(share, rel=1e-3, abs=1e-4)


@pytest.mark.parametrize("elevation", [-30.0, 0.0, 45.0, 90.0])
def test_pull_back_by_energy(elevation):
    """A weight T on the pulling line, over a far pulley, is at rest at the very tilt: with the
    carrying pick held, m·g·z_G − T·(travel along the line) is stationary there."""
    carrying, pulled, centre = (0.05, 0.35), (-0.25, -0.30), (0.0, 0.0)
    _, pull, _ = pull_back_shares(carrying, pulled, centre, tilt_deg=-20.0, elevation_deg=elevation)
    beta = np.radians(elevation)

    def energy(tilt_deg):
        (x_h, z_h), (x_p, z_p), (_, z_g) = (
            turned(at, tilt_deg) for at in (carrying, pulled, centre)
        )
        travel = -(x_p - x_h) * np.cos(beta) + (z_p - z_h) * np.sin(beta)
        return (z_g - z_h) - float(pull) * travel

    slope = (energy(-19.99) - energy(-20.01)) / np.radians(0.02)
    assert slope == pytest.approx(0.0, abs=1e-6)


@quietly
@given(
    drops=st.tuples(st.floats(0.2, 9.0), st.floats(0.2, 9.0)),
    reaches=st.tuples(st.floats(0.0, 9.0), st.floats(0.1, 9.0)),
)
def test_bridle_as_derived_and_at_rest(drops, reaches):
    found = bridle(load_n=1000.0, drops_m=drops, reaches_m=reaches)
    formulas = derivation.bridle()
    lengths = [leg.length_m for leg in found.legs]
    names = "W V_1 H_1 V_2 H_2 L_1 L_2"
    given_ = (1000.0, drops[0], reaches[0], drops[1], reaches[1], *lengths)
    derived = [lambdified(formulas[name], names)(*given_) for name in ("T_1", "T_2")]
    assert [leg.tension_n for leg in found.legs] == pytest.approx(derived, rel=1e-9)
    assert sum(leg.vertical_n for leg in found.legs) == pytest.approx(1000.0, rel=1e-9)
    first, second = found.legs
    assert first.horizontal_n == pytest.approx(second.horizontal_n, rel=1e-9, abs=1e-9)
    assert found.horizontal_n == pytest.approx(first.horizontal_n, rel=1e-9, abs=1e-9)
