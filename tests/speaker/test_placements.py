"""Many places are as many single ones, each alike in everything."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from aiming.speaker.groups import HungUnder
from aiming.speaker.rigging import Line, LinePart, Rigging
from aiming.speaker.speaker import Placement, Placements
from aiming.speaker.stack import Stack

X, HEIGHT, TILT = [-1.0, 0.5, 2.0], [4.0, 5.0, 6.5], [-20.0, -7.5, 3.0]
ONE = Placement(0.4, 5.2, -12.0, flipped=True, splay_deg=15.0)


def test_what_is_not_said_of_many_is_what_is_not_said_of_one() -> None:
    many = Placements.of(X, HEIGHT, TILT)
    assert many.shape == (3,)
    for k in range(3):
        assert many.at(k) == Placement(X[k], HEIGHT[k], TILT[k])
    # A part without a mass weighs nothing; what is not said to be tied can fall.
    assert LinePart("shackle").mass_kg == LinePart("shackle").length_m == 0.0
    assert not Stack().tied


def test_displaced_is_that_much_off_in_each() -> None:
    off = ONE.displaced(tilt_deg=1.5, height_m=-0.2, x_m=0.3)
    assert (off.tilt_deg, off.height_m, off.x_m) == pytest.approx((-10.5, 5.0, 0.7))
    assert (off.flipped, off.splay_deg) == (True, 15.0)
    many = Placements.of(X, HEIGHT, TILT, True, 15.0).displaced(
        tilt_deg=1.5, height_m=-0.2, x_m=0.3
    )
    for k in range(3):
        one = Placement(X[k], HEIGHT[k], TILT[k], flipped=True, splay_deg=15.0)
        assert many.at(k) == one.displaced(tilt_deg=1.5, height_m=-0.2, x_m=0.3)


def test_varied_is_alike_in_the_rest() -> None:
    higher = ONE.varied(height_m=np.array(HEIGHT))
    steeper = ONE.varied(tilt_deg=np.array(TILT))
    both = ONE.varied(height_m=np.array(HEIGHT), tilt_deg=np.array(TILT))
    for k in range(3):
        assert higher.at(k) == replace(ONE, height_m=HEIGHT[k])
        assert steeper.at(k) == replace(ONE, tilt_deg=TILT[k])
        assert both.at(k) == replace(ONE, height_m=HEIGHT[k], tilt_deg=TILT[k])
    assert ONE.varied().shape == ONE.shape == ()


def test_picked_are_those_and_no_others() -> None:
    many = Placements.of(X, 5.0, TILT, [True, False, True], [1.0, 2.0, 3.0])
    picked = many.pick(np.array([2, 0]))
    assert [picked.at(k) for k in (0, 1)] == [many.at(2), many.at(0)]


@given(
    tilt=st.floats(-90.0, 90.0), splay=st.floats(0.0, 60.0),
    joint=st.tuples(st.floats(-1.0, 1.0), st.floats(-1.0, 1.0)),
    own=st.tuples(st.floats(-1.0, 1.0), st.floats(-1.0, 1.0)),
)  # fmt: skip
def test_a_box_hung_under_another_shares_the_joint_with_it(
    tilt: float, splay: float, joint: tuple[float, float], own: tuple[float, float]
) -> None:
    """In complex numbers: turned by its own tilt, the joint is where the other's is."""
    under = HungUnder("main", joint, own, (0.0, 60.0))
    above = Placement(0.4, 5.2, tilt, splay_deg=splay)
    found = under.placement(above, flipped=True)
    assert found.tilt_deg == tilt - splay and found.flipped and found.splay_deg == 0.0
    places = (found, above)
    turns = (np.exp(1j * np.radians(of.tilt_deg)) for of in places)
    mine, its = (
        complex(of.x_m, of.height_m) + complex(*at) * turn
        for of, at, turn in zip(places, (own, joint), turns, strict=True)
    )
    assert mine == pytest.approx(its, abs=1e-12)
    away = np.hypot(found.x_m - 0.4, found.height_m - 5.2)
    assert away <= under.reach_m + 1e-12
    many = under.placements(Placements.of([0.4, 0.4], 5.2, tilt, False, splay), flipped=True)
    assert [many.at(0), many.at(1)] == [found, found]


def test_a_pick_has_its_own_line_or_the_one_of_all() -> None:
    rear, every = (LinePart("chain"),), (LinePart("hoist"), LinePart("sling"))
    rigging = Rigging(
        "two points", ("front", "rear"), lines=(Line(rear, picks=("rear",)), Line(every))
    )
    assert rigging.line_of("rear") == rear
    assert rigging.line_of("front") == every
    assert Rigging("two points", lines=(Line(rear, picks=("rear",)),)).line_of("front") == ()
