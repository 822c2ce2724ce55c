"""Ground stacks and bridles: ballast, several boxes, footprints, and what is refused."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from aiming.rigging import NotChecked, RiggingError, bridle
from aiming.rigging.ground_stack import (
    Block,
    centre_outside_outline,
    footprint_m,
    stack_stability,
    standing_stack,
)
from aiming.speaker.cabinet import Cabinet, turned_m
from aiming.speaker.stack import Stack, Standing

quietly = settings(deadline=None, derandomize=True, max_examples=60)
BOX = Cabinet(
    mass_kg=26.0,
    outline_m=np.array([[-0.38, -0.20], [0.02, -0.20], [0.02, 0.44], [-0.38, 0.44]]),
    centre_of_gravity_m=(-0.17, 0.08),
)


@quietly
@given(
    mass_kg=st.floats(5.0, 300.0),
    x=st.floats(-0.2, 0.2),
    z=st.floats(0.1, 3.0),
    speed=st.floats(5.0, 40.0),
    friction=st.floats(0.1, 0.9),
)
def test_the_ballast_brings_just_the_margin_that_is_asked_for(mass_kg, x, z, speed, friction):
    boxes = (Block("box", mass_kg, (x, z), wind_area_m2=0.7, wind_z_m=z),)
    more = {"front_x_m": 0.4, "rear_x_m": -0.4, "gust_speed_m_s": speed, "friction": friction}
    alone = stack_stability(boxes, **more)
    if alone.ballast_kg < 1e-6:
        safeties = (alone.front.safety, alone.rear.safety, alone.sliding_safety)
        assert min(safeties) >= alone.asked - 1e-6
        return
    held = stack_stability((*boxes, Block("ballast", alone.ballast_kg, (0.0, 0.05))), **more)
    least = min(held.front.safety, held.rear.safety, held.sliding_safety)
    assert least == pytest.approx(alone.asked, rel=1e-9)


def test_boxes_on_one_base_are_one_body():
    two = stack_stability(
        (Block("low", 30.0, (0.1, 0.3)), Block("high", 10.0, (-0.1, 1.1))),
        front_x_m=0.5,
        rear_x_m=-0.5,
    )
    one = stack_stability((Block("both", 40.0, (0.05, 0.5)),), front_x_m=0.5, rear_x_m=-0.5)
    assert two.centre_of_gravity_m == pytest.approx(one.centre_of_gravity_m)
    assert two.front.tip_deg == pytest.approx(np.degrees(np.arctan2(0.45, 0.5)))
    assert two.rear.tip_deg == pytest.approx(one.rear.tip_deg)
    assert two.front.safety is None
    assert two.sliding_safety is None
    assert two.ballast_kg == 0.0


def test_a_centre_beyond_the_edge_falls():
    found = stack_stability((Block("box", 30.0, (0.6, 0.5)),), front_x_m=0.5, rear_x_m=-0.5)
    assert found.front.margin_m < 0.0
    assert found.front.tip_deg < 0.0
    assert found.front.ballast_kg > 0.0


def test_ballast_at_the_edge_cannot_help_that_edge():
    found = stack_stability(
        (Block("box", 30.0, (0.0, 1.0), wind_area_m2=1.0, wind_z_m=1.0),),
        front_x_m=0.2,
        rear_x_m=-0.2,
        gust_speed_m_s=20.0,
        ballast_x_m=0.2,
    )
    assert found.front.ballast_kg is None
    assert found.rear.ballast_kg > 0.0
    assert found.ballast_kg is None


def test_the_face_that_it_stands_on():
    assert footprint_m(BOX, tilt_deg=0.0, flipped=False) == pytest.approx((-0.38, 0.02))
    rear, front = footprint_m(BOX, tilt_deg=-10.0, flipped=False)
    corners = turned_m([[-0.38, -0.20], [0.02, -0.20]], tilt_deg=-10.0)
    assert (rear, front) == pytest.approx(tuple(corners[:, 0]))
    flipped = footprint_m(BOX, tilt_deg=0.0, flipped=True)
    assert flipped == pytest.approx((-0.38, 0.02))
    assert footprint_m(Cabinet(), tilt_deg=0.0, flipped=False) is None


def test_the_order_of_the_outline_does_not_matter():
    backwards = Cabinet(outline_m=BOX.outline_m[::-1])
    for tilt in (-30.0, 0.0, 20.0):
        for flipped in (False, True):
            assert footprint_m(backwards, tilt_deg=tilt, flipped=flipped) == pytest.approx(
                footprint_m(BOX, tilt_deg=tilt, flipped=flipped)
            )


def test_a_box_with_what_stands_beside_it():
    stack = Stack(
        friction=0.4,
        wind_area_m2=0.3,
        margin=2.0,
        margin_source="the house's own rule",
        also=(Standing("ballast", 40.0, (0.3, 1.25)),),
    )
    found = standing_stack(
        BOX, stack, flipped=False, tilt_deg=0.0, at_m=(0.5, 1.4), base_m=1.2, gust_speed_m_s=10.0
    )
    assert found.mass_kg == pytest.approx(66.0)
    z = (26.0 * (0.2 + 0.08) + 40.0 * 0.05) / 66.0
    assert found.centre_of_gravity_m == pytest.approx(((26.0 * -0.17 + 40.0 * -0.2) / 66.0, z))
    assert found.wind_z_m == pytest.approx(0.32)
    assert (found.asked, found.asked_source) == (2.0, "the house's own rule")


def test_a_stack_that_is_not_known_is_not_checked():
    place = {"flipped": False, "tilt_deg": 0.0, "at_m": (0.0, 1.0), "base_m": 0.8}
    for cabinet, stack, gust, missing in (
        (None, Stack(), 0.0, "mass or centre of gravity"),
        (
            Cabinet(mass_kg=3.0, centre_of_gravity_m=(0.0, 0.0)),
            Stack(),
            0.0,
            "footprint nor outline",
        ),
        (BOX, Stack(), 12.0, "wind area"),
    ):
        found = standing_stack(cabinet, stack, gust_speed_m_s=gust, **place)
        assert isinstance(found, NotChecked)
        assert missing in found.reason


@pytest.mark.parametrize(
    ("blocks", "edges", "reason"),
    [
        ((), (0.2, -0.2), "at least one box"),
        ((Block("box", 0.0, (0.0, 1.0)),), (0.2, -0.2), "mass 0 kg"),
        ((Block("box", 5.0, (0.0, 1.0)),), (-0.2, 0.2), "front edge must lie ahead"),
    ],
)
def test_stacks_that_are_refused(blocks, edges, reason):
    with pytest.raises(RiggingError, match=reason):
        stack_stability(blocks, front_x_m=edges[0], rear_x_m=edges[1])


@pytest.mark.parametrize(
    ("load_n", "drops", "reaches", "reason"),
    [
        (0.0, (1.0, 1.0), (1.0, 1.0), "more than 0"),
        (1.0, (0.0, 1.0), (1.0, 1.0), "above the apex"),
        (1.0, (1.0, 1.0), (-1.0, 1.0), "opposite sides"),
        (1.0, (1.0, 1.0), (0.0, 0.0), "not a bridle"),
    ],
)
def test_bridles_that_are_refused(load_n, drops, reaches, reason):
    with pytest.raises(RiggingError, match=reason):
        bridle(load_n=load_n, drops_m=drops, reaches_m=reaches)


def test_a_plumb_leg_takes_it_all():
    found = bridle(load_n=500.0, drops_m=(2.0, 3.0), reaches_m=(0.0, 1.0))
    assert [leg.tension_n for leg in found.legs] == pytest.approx([500.0, 0.0])


def test_a_centre_of_gravity_outside_the_outline():
    assert centre_outside_outline(BOX) is False
    outside = Cabinet(outline_m=BOX.outline_m, centre_of_gravity_m=(0.1, 0.0))
    assert centre_outside_outline(outside) is True
    behind = Cabinet(outline_m=BOX.outline_m, centre_of_gravity_m=(-0.5, 0.0))
    assert centre_outside_outline(behind) is True
    assert centre_outside_outline(Cabinet(mass_kg=1.0)) is None
