"""Loudspeakers where a single slip would not show elsewhere: figures, tables, boxes under boxes."""

import math

import numpy as np
import pytest
from pattern_samples import even_layout, unit

from aiming.base.arrays import frozen
from aiming.speaker.cabinet import Cabinet, turned_m
from aiming.speaker.groups import Company, Fill, HungUnder
from aiming.speaker.lobes import nominal_pattern, piston_db
from aiming.speaker.output import sum_db
from aiming.speaker.pattern import EDGE_DB, Pattern, edge_deg
from aiming.speaker.pattern_figures import (
    Coverage,
    Sphere,
    cells,
    control,
    control_from_hz,
    coverage,
    lobe_family,
    plane_directivity_index_db,
    sphere_directivity_index_db,
)
from aiming.speaker.rigging import Rigging, Underhung
from aiming.speaker.speaker import Hang, Placement, Speaker
from aiming.speaker.stack import Standing


def table(angle_deg: list[float], *levels_db: list[float]) -> Pattern:
    bands = (1000.0, 2000.0, 4000.0)[: len(levels_db)]
    return Pattern(frozen(angle_deg), bands, frozen(list(levels_db)), "invented")


def whole(band_hz: float, coverage_deg: float | None) -> Coverage:
    """A band of this coverage angle; None: never down by 6 dB."""
    if coverage_deg is None:
        return Coverage(band_hz, None, None, "never", "never")
    return Coverage(band_hz, 0.5 * coverage_deg, 0.5 * coverage_deg, "reached", "reached")


# The table.


def test_complete_is_the_whole_turn_in_every_band() -> None:
    round_about = [-180.0, -90.0, 90.0, 180.0]
    even = [-9.0, 0.0, 0.0, -9.0]
    assert table(round_about, even, even).complete
    assert not table(round_about, even, [-9.0, 0.0, np.nan, -9.0]).complete
    assert not table([-180.0, -90.0, 90.0, 179.0], even).complete
    assert not table([-179.0, -90.0, 90.0, 180.0], even).complete
    assert not table([-90.0, -45.0, 45.0, 90.0], even).complete


def test_symmetric_with_holes_alike_on_both_sides() -> None:
    assert table([-60.0, -30.0, 0.0, 30.0, 60.0], [-9.0, np.nan, 0.0, np.nan, -9.0]).symmetric


def test_a_single_angle_in_several_bands() -> None:
    single = table([0.0], [0.0], [-1.0])
    asked = single.read_db(np.array([[0.0, 1.0, 0.0], [2.0, 0.0, 0.0]]))
    assert asked.shape == (2, 2, 3)
    np.testing.assert_array_equal(asked[1], [[-1.0, np.nan, -1.0], [np.nan, -1.0, -1.0]])


@pytest.mark.parametrize(
    ("angle", "level", "edge"),
    [
        # A node within half a degree of the axis counts.
        ([0.0, 0.5, 10.0], [0.0, -8.0, -4.0], 0.5 * EDGE_DB / 8.0),
        # A hole on the way, whatever comes after it; beyond the edge it does no harm.
        ([0.0, 10.0, 20.0, 30.0], [0.0, np.nan, -3.0, -9.0], None),
        ([0.0, 10.0, 20.0], [0.0, -8.0, np.nan], 10.0 * EDGE_DB / 8.0),
        # The axis itself is not known.
        ([10.0, 20.0, 30.0], [0.0, -3.0, -9.0], None),
        # From the third node on: between 20° and 30°.
        ([0.0, 10.0, 20.0, 30.0], [0.0, -1.0, -4.0, -8.0], 20.0 + 10.0 * (EDGE_DB - 4.0) / 4.0),
    ],
)
def test_edge(angle: list[float], level: list[float], edge: float | None) -> None:
    above = edge_deg(frozen(angle), frozen(level), above=True)
    below = edge_deg(frozen([-a for a in angle[::-1]]), frozen(level[::-1]), above=False)
    if edge is None:
        assert above is None
        assert below is None
    else:
        assert above == pytest.approx(edge, abs=1e-9)
        assert below == pytest.approx(-edge, abs=1e-9)


# Figures.


@pytest.mark.parametrize("hole_deg", [0.0, 0.5])
def test_a_hole_at_the_axis_leaves_coverage_unknown(hole_deg: float) -> None:
    angle = sorted({-180.0, -60.0, 0.0, hole_deg, 60.0, 180.0})
    level = [np.nan if a == hole_deg else -2.0 if a else 0.0 for a in angle]
    (found,) = coverage(table(angle, level))
    assert found.reach_above == "unknown"


def test_plane_index_of_levels_that_do_not_change() -> None:
    """−6 dB all round, but for the axis: 6 dB below what the axis would be."""
    found = plane_directivity_index_db(table([-180.0, 180.0], [-6.0, -6.0], [0.0, 0.0]))
    np.testing.assert_allclose(found, [6.0, 0.0], atol=1e-12)


def test_control_whatever_the_order_of_the_bands() -> None:
    """1/f below 1 kHz; 1.25 times 40° is reached at 800 Hz, log-log between the bands."""
    found = control((whole(500.0, 80.0), whole(4000.0, 40.0), whole(1000.0, 40.0)))
    assert found.steady_deg == pytest.approx(40.0)
    assert found.control_from_hz == pytest.approx(1000.0, rel=1e-9)


def test_the_steady_angle_is_that_of_1_khz_and_up() -> None:
    one = control((whole(500.0, 60.0), whole(1000.0, 56.0), whole(2000.0, 50.0)))
    assert one.steady_deg == pytest.approx(53.0)
    # With none from 1 kHz up: of all.
    two = control((whole(250.0, 60.0), whole(500.0, 50.0), whole(800.0, 52.0)))
    assert two.steady_deg == pytest.approx(52.0)


def test_exactly_a_quarter_wider_is_still_kept() -> None:
    found = control((whole(500.0, 50.0), whole(1000.0, 40.0), whole(2000.0, 40.0)))
    assert found.control_from_hz is None
    assert found.text == "kept down to the lowest band, 500 Hz"


def test_control_of_two_bands() -> None:
    """100° at 500 Hz over 50° at 1 kHz: 62.5° is met at 800 Hz, so control ends at 1 kHz."""
    found = control((whole(500.0, 100.0), whole(1000.0, 50.0)))
    assert found.control_from_hz == pytest.approx(1000.0, rel=1e-9)
    assert found.text == "lost below about 1000 Hz"


def test_control_that_is_nowhere() -> None:
    found = control((whole(1000.0, 40.0), whole(2000.0, 40.0), whole(4000.0, 100.0)))
    assert found.control_from_hz is None
    assert found.text.startswith("nowhere")


def test_a_band_that_never_falls_off_covers_the_whole_turn() -> None:
    """360° at 500 Hz over 40° at 1 kHz: 50° is met at the share lg 1.25 / lg 9 of the octave."""
    found = control((whole(500.0, None), whole(1000.0, 40.0), whole(2000.0, 40.0)))
    met_hz = 1000.0 * 0.5 ** (math.log(1.25) / math.log(9.0))
    assert found.control_from_hz == pytest.approx(1.25 * met_hz, rel=1e-9)


def test_keele_and_what_it_refuses() -> None:
    """2.54e4 m·deg·Hz: 60° from a mouth of 0.3 m holds down to 1411 Hz; small figures count."""
    assert control_from_hz(coverage_deg=60.0, mouth_m=0.3) == pytest.approx(1411.1, abs=0.1)
    assert control_from_hz(coverage_deg=0.5, mouth_m=0.5) == pytest.approx(101_600.0)
    for coverage_deg, mouth_m in ((0.0, 0.5), (-60.0, 0.5), (60.0, 0.0), (60.0, -0.5)):
        with pytest.raises(ValueError, match="both above 0"):
            control_from_hz(coverage_deg=coverage_deg, mouth_m=mouth_m)


def test_a_piston_for_half_angles_to_90() -> None:
    bands = (1000.0,)
    assert "piston" in lobe_family(above_deg=90.0, below_deg=30.0, bands_hz=bands)
    assert "piston" not in lobe_family(above_deg=30.0, below_deg=91.0, bands_hz=bands)


# Lobes.


def test_a_piston_that_widens_past_90_stays_there() -> None:
    angle = np.array([30.0, 60.0, 90.0])
    np.testing.assert_array_equal(piston_db(angle, 120.0), piston_db(angle, 90.0))
    assert float(piston_db(angle, 90.0)[2]) == pytest.approx(-EDGE_DB, abs=1e-5)


def test_a_lobe_is_sampled_as_finely_as_it_needs() -> None:
    """A parabola −a·φ² read linearly over h errs by a·h²/4: 0.4 mdB at 0.5°, 1.7 mdB at 1°.

    Beyond the floor, 2·30·√(24/24.08) = 59.9°, nothing changes and 2° do.
    """
    angle = nominal_pattern(above_deg=30.0, below_deg=30.0, bands_hz=(1000.0,)).angle_deg
    inner, outer = angle[np.abs(angle) <= 58.0], angle[angle >= 60.0]
    np.testing.assert_allclose(inner, np.arange(-58.0, 58.5, 0.5), atol=1e-12)
    np.testing.assert_allclose(outer, np.arange(60.0, 181.0, 2.0), atol=1e-12)
    np.testing.assert_array_equal(angle, -angle[::-1])


def test_a_needle_is_sampled_no_finer_than_a_ten_thousandth() -> None:
    """Halves of 2° down to the first at or below 0.1 mdeg: 2°/2¹⁵ = 0.06 mdeg."""
    angle = nominal_pattern(above_deg=0.02, below_deg=0.02, bands_hz=(1000.0,)).angle_deg
    assert float(np.diff(angle).min()) == pytest.approx(2.0 / 2.0**15, rel=1e-6)


# Output.


def test_a_weighted_sum_over_three_bands_at_two_rows() -> None:
    """125 Hz, 1 kHz and 4 kHz weigh −16.1, 0 and +1.0 dB (IEC 61672-1:2013, Table 3)."""
    level = np.array([[90.0, 70.0], [80.0, 70.0], [70.0, 70.0]])
    found = sum_db(level, (125.0, 1000.0, 4000.0))
    expected = [
        10.0 * math.log10(sum(10.0 ** (one / 10.0) for one in (90.0 - 16.1, 80.0, 70.0 + 1.0))),
        10.0 * math.log10(sum(10.0 ** (one / 10.0) for one in (70.0 - 16.1, 70.0, 70.0 + 1.0))),
    ]
    np.testing.assert_allclose(found, expected, atol=0.05)


# The sphere.


def test_four_directions_share_the_sphere_alike() -> None:
    """A tetrahedron: a quarter each; the middle of a face lies arccos ⅓ from its corners."""
    corners = np.array([[1, 1, 1], [1, -1, -1], [-1, 1, -1], [-1, -1, 1]]) / math.sqrt(3.0)
    found = cells(corners)
    assert found is not None
    np.testing.assert_allclose(found.share, 0.25, atol=1e-12)
    assert found.hole_deg == pytest.approx(math.degrees(math.acos(1.0 / 3.0)), abs=1e-6)
    assert cells(corners[:3]) is None
    assert cells(corners[:0]) is None


@pytest.mark.parametrize(("bare_deg", "known"), [(17.0, True), (20.5, False)])
def test_a_bare_patch_of_more_than_20_degrees_leaves_no_index(bare_deg: float, known: bool) -> None:
    """Some 2° between directions, so the patch is as large as it was cut, or a degree larger."""
    direction = unit(even_layout(8_000))
    direction = direction[direction[:, 0] > -math.cos(math.radians(bare_deg))]
    found = cells(direction)
    assert found is not None
    assert bare_deg < found.hole_deg < bare_deg + 1.4
    sphere = Sphere(direction, (1000.0,), np.zeros((1, len(direction))))
    assert (sphere_directivity_index_db(sphere) is not None) == known


# One box under another.

UNDER = HungUnder("top", joint_m=(0.1, -0.4), own_joint_m=(0.2, 0.3), splay_deg=(0.0, 12.0))


def second_offset_m(tilt_deg: float, splay_deg: float) -> complex:
    """By complex numbers: out to the joint in the upper box's axes, back in the lower one's."""
    upper = complex(*UNDER.joint_m) * np.exp(1j * math.radians(tilt_deg))
    lower = complex(*UNDER.own_joint_m) * np.exp(1j * math.radians(tilt_deg - splay_deg))
    return complex(upper - lower)


def test_offset_of_a_box_under_another() -> None:
    tilts, splays = np.array([[0.0], [-20.0], [35.0]]), np.array([0.0, 7.0])
    found = UNDER.offset_m(tilts, splays)
    assert found.shape == (3, 2, 2)
    for row, tilt in enumerate(tilts[:, 0]):
        for column, splay in enumerate(splays):
            expected = second_offset_m(float(tilt), float(splay))
            np.testing.assert_allclose(
                found[row, column], [expected.real, expected.imag], atol=1e-12
            )
    assert UNDER.reach_m == pytest.approx(math.hypot(0.1, 0.4) + math.hypot(0.2, 0.3))
    # Level and without splay: straight from joint to joint.
    np.testing.assert_allclose(UNDER.offset_m(0.0, 0.0), [-0.1, -0.7], atol=1e-12)


def test_placement_of_a_box_under_another() -> None:
    found = UNDER.placement(Placement(3.0, 6.0, -20.0, splay_deg=7.0), flipped=True)
    expected = second_offset_m(-20.0, 7.0)
    assert float(found.x_m) == pytest.approx(3.0 + expected.real, abs=1e-12)
    assert float(found.height_m) == pytest.approx(6.0 + expected.imag, abs=1e-12)
    assert float(found.tilt_deg) == pytest.approx(-27.0)
    assert found.orientation == "flipped"
    assert Placement(3.0, 6.0, -20.0).orientation == "upright"


def test_who_hangs_under_whom() -> None:
    company = Company(hung_under={"low": UNDER})
    assert company.under("top") == "low"
    assert company.under("low") is None
    assert not Company().attached
    assert company.attached
    assert Company(fills={"fill": Fill("main")}).attached
    assert Company(coherent=True).attached


# What is left to choose.


def test_a_range_is_replaced_by_its_name() -> None:
    hang = Hang(x_m=(0.0, 1.0), vertical_m=(4.0, 5.0), tilt_deg=(-30.0, 0.0))
    assert hang.with_range("x_m", (2.0, 2.0)) == Hang(
        x_m=(2.0, 2.0), vertical_m=(4.0, 5.0), tilt_deg=(-30.0, 0.0)
    )
    assert hang.with_range("vertical_m", (2.0, 2.0)).vertical_m == (2.0, 2.0)
    assert hang.with_range("vertical_m", (2.0, 2.0)).x_m == (0.0, 1.0)
    assert hang.with_range("tilt_deg", (2.0, 2.0)).tilt_deg == (2.0, 2.0)
    assert hang.with_range("tilt_deg", (2.0, 2.0)).vertical_m == (4.0, 5.0)


def test_fixed_is_nothing_left_to_choose() -> None:
    fixed = Hang(x_m=(1.0, 1.0), vertical_m=(4.0, 4.0), tilt_deg=(-10.0, -10.0))
    assert fixed.fixed
    assert not fixed.with_range("tilt_deg", (-10.0, 0.0)).fixed
    either = Hang(
        x_m=(1.0, 1.0),
        vertical_m=(4.0, 4.0),
        tilt_deg=(-10.0, -10.0),
        orientations=("upright", "flipped"),
    )
    assert not either.fixed


def test_what_holds_where_nothing_is_said() -> None:
    """A cabinet's face along its axis, a line meant to be pulled up, nothing beside the box."""
    assert Cabinet().reference_face_deg == 0.0
    standing = Standing("riser", 80.0, (0.0, 0.5))
    assert standing.wind_area_m2 == 0.0
    rigging = Rigging("two points")
    assert (rigging.extra_mass_kg, rigging.wll_share, rigging.dynamic_factor) == (0.0, 0.5, 1.0)
    assert (rigging.fitting_axis_deg, rigging.secondary_suspension) == (90.0, False)
    assert Underhung(20.0, (0.0, -0.4), (0.0, -0.3)).splay_deg == 0.0
    fill = Fill("main")
    assert (fill.behind_ms, fill.ceiling_db) == (10.0, 6.0)
    assert not fill.gain_given
    assert not fill.delay_given
    assert (Company().coherent, Company().attached) == (False, False)
    placement = Placement(0.0, 5.0, -10.0)
    assert (placement.flipped, placement.splay_deg) == (False, 0.0)
    assert placement.orientation == "upright"
    hang = Hang()
    assert (hang.x_m, hang.vertical_m, hang.tilt_deg) == ((0.0, 0.0), (0.0, 0.0), (-90.0, 90.0))
    lobe = nominal_pattern(above_deg=20.0, below_deg=20.0, bands_hz=(1000.0,))
    assert lobe.level_db.min() == -24.0
    speaker = Speaker("one", lobe, frozen([0.0]), (0,), hang)
    assert (speaker.delay_ms, speaker.gain_db, speaker.coverage_only) == (0.0, 0.0, False)
    family = lobe_family(above_deg=20.0, below_deg=20.0, bands_hz=(1000.0,))
    assert {one.level_db.min() for one in family.values()} == {-24.0}
    np.testing.assert_array_equal(
        turned_m((0.1, 0.2), tilt_deg=0.0), turned_m((0.1, 0.2), tilt_deg=0.0, flipped=False)
    )
