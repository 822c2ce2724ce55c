"""Reflections by hand, and where the sound of a pattern lands."""

import math

import numpy as np
import pytest
from plain_air import tones

from aiming.base.arrays import FloatArray, frozen
from aiming.field.levels import levels_db
from aiming.field.reflections import ReflectedPaths, first_reflections, landing
from aiming.field.walls import walls_of
from aiming.geometry.section import Seating, Surface
from aiming.speaker.lobes import nominal_pattern
from aiming.speaker.pattern import Pattern
from aiming.speaker.speaker import Placement

C_M_S = 343.2
BANDS = (1000.0, 4000.0)
NO_AIR = np.zeros(2)
ROUND = Pattern(
    angle_deg=frozen([-180.0, 180.0]),
    band_hz=BANDS,
    level_db=frozen(np.zeros((2, 2))),
    reference="the same in every direction",
)
LOBE = nominal_pattern(above_deg=30.0, below_deg=30.0, bands_hz=BANDS)
FLOOR = Seating("stalls", np.array([[4.0, 0.0], [18.0, 0.0]]))
BACK = Surface("back wall", np.array([[20.0, 0.0], [20.0, 9.0]]), absorption=0.5)


def reflections(
    *surfaces: Surface,
    points: list[tuple[float, float]],
    pattern: Pattern = ROUND,
    placement: Placement | None = None,
    air: FloatArray = NO_AIR,
    **options: float,
) -> ReflectedPaths:
    return first_reflections(
        pattern,
        placement or Placement(x_m=0.0, height_m=6.0, tilt_deg=-15.0),
        np.array(points),
        surfaces=surfaces,
        walls=walls_of((FLOOR,), surfaces),
        air_loss=tones(air),
        c_m_s=C_M_S,
        **options,
    )


def test_back_wall_by_hand() -> None:
    # Mirrored at x = 20 the loudspeaker stands at (40, 6): 34 m and 4.8 m from (6, 1.2).
    found = reflections(BACK, points=[(6.0, 1.2)])
    assert len(found) == 1
    way, direct = math.hypot(34.0, 4.8), math.hypot(6.0, 4.8)
    assert found.distance_m[0] == pytest.approx(way, abs=1e-12)
    assert found.delay_ms[0] == pytest.approx(1e3 * (way - direct) / C_M_S, abs=1e-9)
    np.testing.assert_allclose(found.at_m[0], [20.0, 6.0 - 4.8 * 20.0 / 34.0], atol=1e-12)
    level = -20.0 * math.log10(way / direct) - 10.0 * math.log10(2.0)
    np.testing.assert_allclose(found.level_db[:, 0], level, atol=1e-9)


def test_level_is_that_of_the_image_source() -> None:
    """A second way: a mirrored loudspeaker behind the wall, its axis mirrored too."""
    air = np.array([0.005, 0.03])
    placement = Placement(x_m=0.0, height_m=6.0, tilt_deg=-12.0)
    wall = Surface("wall", BACK.line_m)
    points = np.array([[6.0, 1.2], [14.0, 1.2]])
    found = reflections(
        wall, points=[(6.0, 1.2), (14.0, 1.2)], pattern=LOBE, placement=placement, air=air
    )
    image = Placement(x_m=40.0, height_m=6.0, tilt_deg=180.0 + 12.0)
    of = [
        levels_db(LOBE, one, points[:, 0], points[:, 1], air_loss=tones(air))
        for one in (image, placement)
    ]
    np.testing.assert_allclose(found.level_db, of[0] - of[1], atol=1e-9)


def test_flipped_box_sends_its_other_side() -> None:
    lopsided = nominal_pattern(above_deg=20.0, below_deg=40.0, bands_hz=BANDS)
    turned = Placement(x_m=0.0, height_m=6.0, tilt_deg=-15.0, flipped=True)
    by_turning = reflections(BACK, points=[(6.0, 1.2)], pattern=lopsided, placement=turned)
    by_table = reflections(BACK, points=[(6.0, 1.2)], pattern=lopsided.flipped())
    np.testing.assert_allclose(by_turning.level_db, by_table.level_db, atol=1e-9)
    upright = reflections(BACK, points=[(6.0, 1.2)], pattern=lopsided)
    assert np.abs(upright.level_db - by_table.level_db).min() > 1.0


def test_only_where_the_surface_is_met_and_nothing_stands_between() -> None:
    low = Surface("low wall", np.array([[20.0, 0.0], [20.0, 3.0]]))
    # From (6, 1.2) the mirror point is at 3.18 m, above the low wall; from (14, 1.2) it is lower.
    found = reflections(low, points=[(6.0, 1.2), (14.0, 1.2)])
    assert found.point.tolist() == [1]
    screen = Surface("screen", np.array([[17.0, 0.0], [17.0, 5.0]]), absorption=1.0)
    assert len(reflections(low, screen, points=[(14.0, 1.2)])) == 0
    # On the wall's far side, or on the wall, there is no reflection of its own.
    assert len(reflections(BACK, points=[(22.0, 1.2), (20.0, 1.2)])) == 0


def test_ceiling_of_two_pieces_sends_one_reflection_from_its_joint() -> None:
    ceiling = Surface("ceiling", np.array([[0.0, 10.0], [6.0, 10.0], [20.0, 10.0]]))
    # Mirrored at z = 10 the loudspeaker is at (0, 14): to (12, 6) it passes z = 10 at x = 6.
    found = reflections(ceiling, points=[(12.0, 6.0)])
    assert len(found) == 1
    np.testing.assert_allclose(found.at_m[0], [6.0, 10.0], atol=1e-9)
    assert found.delay_ms[0] == pytest.approx(1e3 * (math.hypot(12, 8) - 12.0) / C_M_S)


def test_direct_sound_in_shadow_makes_a_reflection_stand_out() -> None:
    alone = reflections(BACK, points=[(6.0, 1.2)])
    shaded = reflections(BACK, points=[(6.0, 1.2)], direct_loss_db=7.5)
    np.testing.assert_allclose(shaded.level_db - alone.level_db, 7.5, atol=1e-12)


def test_unknown_direction_makes_the_level_unknown() -> None:
    half = Pattern(frozen([-40.0, 25.0]), BANDS, frozen(np.zeros((2, 2))), "a half-known box")
    ceiling = Surface("ceiling", np.array([[0.0, 10.0], [20.0, 10.0]]))
    found = reflections(BACK, ceiling, points=[(6.0, 1.2)], pattern=half)
    assert found.surface.tolist() == [0, 1]
    assert np.isfinite(found.level_db[:, 0]).all()
    assert np.isnan(found.level_db[:, 1]).all()  # 63 degrees up is not in the table


def test_no_surfaces_no_reflections() -> None:
    assert reflections(points=[(6.0, 1.2)]).level_db.shape == (2, 0)


# Where the sound lands


def test_shares_of_a_round_source_are_the_angles_it_sees() -> None:
    placement = Placement(x_m=0.0, height_m=6.0, tilt_deg=0.0)
    found = landing(ROUND, placement, seatings=(FLOOR,), surfaces=(BACK,))
    plane = math.degrees(math.atan2(4.8, 4.0) - math.atan2(4.8, 18.0))
    feet = math.degrees(math.atan2(6.0, 4.0) - math.atan2(4.8, 4.0))  # under the plane's front
    wall = math.degrees(math.atan2(3.0, 20.0) + math.atan2(4.8, 18.0))
    # Below the last ear the wall is met as well, but for nothing: the plane's end hides it there.
    np.testing.assert_allclose(found.seating[:, 0], (plane + feet) / 360.0, atol=3e-4)
    np.testing.assert_allclose(found.surface[:, 0], wall / 360.0, atol=3e-4)
    np.testing.assert_allclose(found.beneath, 0.0, atol=1e-12)
    whole = found.seating.sum(axis=1) + found.surface.sum(axis=1) + found.beneath + found.nowhere
    np.testing.assert_allclose(whole, 1.0, atol=1e-12)
    np.testing.assert_allclose(found.known_deg, 360.0)


def test_underside_of_a_balcony_is_no_seating() -> None:
    balcony = Seating("balcony", np.array([[10.0, 4.0], [16.0, 4.0]]))
    placement = Placement(x_m=0.0, height_m=2.0, tilt_deg=0.0)
    found = landing(ROUND, placement, seatings=(FLOOR, balcony), surfaces=())
    seen = math.degrees(math.atan2(2.0, 10.0) - math.atan2(2.0, 16.0))
    np.testing.assert_allclose(found.beneath, seen / 360.0, atol=3e-4)
    # Over the front the ray meets the heads from beneath: those are listeners.
    heads = math.degrees(math.atan2(3.2, 10.0) - math.atan2(2.0, 10.0))
    np.testing.assert_allclose(found.seating[:, 1], heads / 360.0, atol=3e-4)


def test_a_narrow_lobe_aimed_at_seating_lands_there_and_over_the_wall_nowhere() -> None:
    narrow = nominal_pattern(above_deg=5.0, below_deg=5.0, bands_hz=BANDS, lowest_db=-60.0)
    at = [
        landing(
            narrow, Placement(x_m=0.0, height_m=6.0, tilt_deg=tilt), seatings=(FLOOR,), surfaces=()
        )
        for tilt in (-30.0, 30.0)
    ]
    assert (at[0].seating[:, 0] > 0.99).all()
    assert (at[1].nowhere > 0.99).all()
    half = Pattern(frozen([-90.0, 90.0]), BANDS, frozen(np.zeros((2, 2))), "half known")
    known = landing(
        half, Placement(x_m=0.0, height_m=6.0, tilt_deg=0.0), seatings=(FLOOR,), surfaces=()
    )
    np.testing.assert_allclose(known.known_deg, 180.0, atol=0.2)
