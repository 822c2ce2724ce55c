"""The calculation sheet line by line: names, formulas, and results worked by hand."""

from dataclasses import replace

import numpy as np
import pytest
import sympy
from hung_boxes import BAR, BOX, PULL

from aiming.base.units import G_M_S2 as G
from aiming.rigging import NotChecked, loads_at
from aiming.rigging import derivation as derived
from aiming.rigging.calculation import working
from aiming.rigging.steps import Sheet, worked, written
from aiming.speaker.cabinet import Cabinet, Pick
from aiming.speaker.rigging import Rigging

TWO = Rigging("two points", ("front", "rear"), extra_mass_kg=4.0, extra_at_m=(-0.20, 0.58))


def sheet(rigging, tilt_deg=-20.0, **more):
    return working(BOX, rigging, flipped=False, tilt_deg=tilt_deg, **more)


def by_name(steps):
    return {step.name: step for step in steps}


# --- formulas


def test_symbols_are_real():
    assert derived.symbol("x").is_real is True


def test_formulas_as_they_are_printed():
    assert {name: str(one) for name, one in derived.bridle().items()} == {
        "L_1": "sqrt(H_1**2 + V_1**2)",
        "L_2": "sqrt(H_2**2 + V_2**2)",
        "T_1": "H_2*L_1*W/(H_1*V_2 + H_2*V_1)",
        "T_2": "H_1*L_2*W/(H_1*V_2 + H_2*V_1)",
    }
    pull = by_name(sheet(PULL))
    tension = pull["rear, base: tension of the pulling line"].formula
    assert tension == "W·(x_G - x_H)/((x_P - x_H)·sin(β) + (z_P - z_H)·cos(β))"
    assert pull["front: pull forward"].formula == "T·cos(β)"
    assert pull["front: pull up"].formula == "W - T·sin(β)"
    assert pull["front: tension along its line"].formula == "sqrt(X_H^2 + Z_H^2)"


def test_the_ends_by_hand():
    """A pick bears nothing when the other is plumb over the centre: tan τ = Δu/Δw."""
    places = {"u_F": 0.2, "w_F": 0.5, "u_R": -0.3, "w_R": 0.4, "u_G": 0.1, "w_G": -0.1}
    ends = derived.two_points_slack()
    assert worked(ends["T_R"], places) == pytest.approx(-0.1 / -0.6)
    assert worked(ends["T_F"], places) == pytest.approx(-0.4 / 0.5)


def test_numbers_in_the_text():
    x, tau = derived.symbol("x"), derived.symbol("tau")
    assert written(x, {"x": 0.0}) == "0"
    assert written(x, {"x": -1.0 / 3.0}) == "(-0.333333)"
    assert written(sympy.cos(tau), {"tau": np.pi / 6.0}) == "cos(30°)"
    assert written(3 * x**2) == "3·x^2"
    assert written(tau) == "τ"
    lines = Sheet()
    lines.known["x"] = 0.5
    assert lines.add("slope", "a", sympy.atan(2 * x), "deg", "here") == pytest.approx(np.pi / 4)
    assert lines.steps[0].result == pytest.approx(45.0)
    assert lines.known["a"] == pytest.approx(np.pi / 4.0)


# --- the lines


def test_masses_first():
    steps = sheet(TWO)
    assert (steps[0].name, steps[0].formula) == ("mass: cabinet + extra", "m_1 + m_2")
    assert steps[0].result == 30.0
    assert steps[1].formula == "(m_1·u_1 + m_2·u_2)/m"
    assert steps[1].result == pytest.approx((26.0 * -0.17 + 4.0 * -0.20) / 30.0)
    assert steps[2].result == pytest.approx((26.0 * 0.08 + 4.0 * 0.58) / 30.0)
    assert (steps[3].name, steps[3].result) == ("weight", pytest.approx(30.0 * G))


@pytest.mark.parametrize(("rigging", "second"), [(TWO, "rear"), (PULL, "rear, base")])
def test_each_point_has_its_two_lines(rigging, second):
    steps = by_name(sheet(rigging))
    sine, cosine = np.sin(np.radians(-20.0)), np.cos(np.radians(-20.0))
    for name in ("front", second):
        u, w = BOX.pick(name).at_m
        ahead = steps[f"{name}, ahead of the acoustic centre"].result
        above = steps[f"{name}, above the acoustic centre"].result
        assert (ahead, above) == pytest.approx((u * cosine - w * sine, u * sine + w * cosine))


def test_doubt_of_two_points():
    found = by_name(sheet(TWO))["tension's doubt for e in the centre of gravity"]
    assert found.result == pytest.approx(0.01 * 30.0 * G / (0.28 * np.cos(np.radians(20.0))))
    loads = loads_at(BOX, TWO, flipped=False, tilt_deg=-20.0)
    assert [point.doubt_n for point in loads.points] == pytest.approx([found.result] * 2)


def test_an_end_that_is_no_tilt_has_no_line():
    """The centre as high as the front pick: that pick never comes plumb over it."""
    picks = (Pick("front", (0.2, 0.0)), Pick("rear", (-0.2, 0.3)))
    box = Cabinet(mass_kg=10.0, centre_of_gravity_m=(0.0, 0.0), picks=picks)
    steps = by_name(working(box, Rigging("two points", ("front", "rear")), flipped=False,
                            tilt_deg=0.0))  # fmt: skip
    assert "rear: tilt at which it bears nothing" not in steps
    end = steps["front: tilt at which it bears nothing"].result
    assert end == pytest.approx(-np.degrees(np.arctan2(0.2, 0.3)))


def test_the_sheet_of_one_point():
    steps = by_name(sheet(BAR))
    turn = np.radians(-20.0)
    for u in (-0.20, -0.15):
        rest = steps[f"rest tilt, hung at u = {u:g} m"].result
        assert rest == pytest.approx(np.degrees(np.arctan((u + 0.17) / 0.42)))
    hole = steps["where the hole must be for this tilt"].result
    assert hole == pytest.approx(-0.17 + 0.42 * np.tan(turn))
    slope = steps["tilt's change for e more of u_G"].result
    assert slope == pytest.approx(-np.degrees(0.01 * np.cos(turn) ** 2 / 0.42))


def test_the_sheet_of_a_single_pick():
    single = Rigging("one point", ("front",))
    for rigging in (single, replace(single, bar_w_m=0.9)):
        steps = by_name(sheet(rigging))
        rest = steps["rest tilt, hung at u = -0.06 m"].result
        assert rest == pytest.approx(np.degrees(np.arctan2(0.11, 0.36)))
        assert "where the hole must be for this tilt" not in steps
        assert steps["front: share of the weight"].result == 1.0
        assert steps["front: utilisation"].result == pytest.approx(26.0 / 65.0)


def test_the_limits_with_their_factors():
    held = replace(TWO, dynamic_factor=1.4, wll_share=0.25)
    steps = by_name(sheet(held))
    for point in loads_at(BOX, held, flipped=False, tilt_deg=-20.0).points:
        assert steps[f"{point.name}: utilisation"].result == pytest.approx(point.utilisation)
        whole = steps[f"{point.name}: with the whole weight on it"].result
        assert whole == pytest.approx(1.4 * 30.0 / (130.0 * 0.25))
    pull = by_name(sheet(PULL))
    assert "front: utilisation" in pull
    assert "rear, base: utilisation" not in pull
    assert "rear, base: share of the weight" in pull


def test_no_sheet_where_nothing_is_known():
    for cabinet in (None, Cabinet(mass_kg=2.0)):
        found = working(cabinet, TWO, flipped=False, tilt_deg=0.0)
        assert isinstance(found, NotChecked)
        assert "not given" in found.reason
    point = replace(PULL, pull_elevation_deg=None, pulling_point_m=(-3.0, 7.0))
    assert "depends on where" in sheet(point).reason
    assert "front: height" in by_name(sheet(point, at_m=(0.0, 5.0)))
    assert "front: height" not in by_name(sheet(PULL))
    assert "front: height" not in by_name(sheet(BAR, at_m=(0.0, 5.0)))
