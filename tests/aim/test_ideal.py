"""The closed form of the trade's rule, by the two circles about the ends of the line.

Independent of the tool's trigonometry: the box lies where its distances to near and far end are d
and 2·d and the angle between them is half the coverage; all three are measured here on the result.
"""

import math

import numpy as np
import pytest
from scipy.optimize import minimize_scalar

from aiming.aim.ideal import derivation, ideal, working

SCENES = [
    (60.0, (3.0, 1.2), (23.0, 1.2)),
    (90.0, (2.0, 1.0), (18.0, 6.5)),
    (40.0, (-4.0, 0.5), (30.0, -3.0)),
    (1.0, (0.0, 1.2), (50.0, 9.0)),
    (170.0, (1.0, 2.0), (2.0, 2.5)),
    (120.0, (10.0, 1.0), (-6.0, 1.5)),
]


@pytest.mark.parametrize(("coverage_deg", "near_m", "far_m"), SCENES)
def test_the_place_has_both_throws_and_the_angle(
    coverage_deg: float, near_m: tuple[float, float], far_m: tuple[float, float]
) -> None:
    found = ideal(coverage_deg=coverage_deg, near_m=near_m, far_m=far_m)
    to_near = (near_m[0] - found.x_m, near_m[1] - found.height_m)
    to_far = (far_m[0] - found.x_m, far_m[1] - found.height_m)
    assert math.hypot(*to_near) == pytest.approx(found.near_throw_m, rel=1e-12)
    assert math.hypot(*to_far) == pytest.approx(2.0 * math.hypot(*to_near), rel=1e-12)
    assert found.far_throw_m == pytest.approx(2.0 * found.near_throw_m, rel=1e-15)
    aim = math.degrees(math.atan2(to_far[1], to_far[0]))
    assert (found.tilt_deg - aim) % 360.0 == pytest.approx(0.0, abs=1e-9) or (
        found.tilt_deg - aim
    ) % 360.0 == pytest.approx(360.0, abs=1e-9)
    down = math.degrees(math.atan2(to_near[1], to_near[0])) - aim
    assert down % 360.0 == pytest.approx(360.0 - 0.5 * coverage_deg, abs=1e-9)
    along = (far_m[0] - near_m[0], far_m[1] - near_m[1])
    cosine = (to_far[0] * along[0] + to_far[1] * along[1]) / (
        math.hypot(*to_far) * math.hypot(*along)
    )
    assert found.axis_to_plane_deg == pytest.approx(math.degrees(math.acos(cosine)), abs=1e-6)


@pytest.mark.parametrize(("coverage_deg", "near_m", "far_m"), SCENES)
def test_how_much_louder_the_line_is_between_its_ends(
    coverage_deg: float, near_m: tuple[float, float], far_m: tuple[float, float]
) -> None:
    """Against a search along the line, the lobe written out: −6.0206·(φ/φ_half)² dB."""
    found = ideal(coverage_deg=coverage_deg, near_m=near_m, far_m=far_m)

    def level_db(share: float) -> float:
        x = near_m[0] + share * (far_m[0] - near_m[0]) - found.x_m
        z = near_m[1] + share * (far_m[1] - near_m[1]) - found.height_m
        off = math.remainder(math.degrees(math.atan2(z, x)) - found.tilt_deg, 360.0)
        lobe = -20.0 * math.log10(2.0) * (off / (0.5 * coverage_deg)) ** 2
        return lobe - 20.0 * math.log10(math.hypot(x, z))

    best = minimize_scalar(
        lambda s: -level_db(s), bounds=(0.0, 1.0), method="bounded", options={"xatol": 1e-9}
    )
    assert found.excess_at_share == pytest.approx(float(best.x), abs=1e-4)
    assert found.excess_db == pytest.approx(level_db(float(best.x)) - level_db(0.0), abs=1e-6)
    assert level_db(0.0) == pytest.approx(level_db(1.0), abs=1e-9)


def test_the_loudest_point_is_found_to_a_forty_thousandth_of_the_line() -> None:
    """Where the slope of the level along the line is nothing, its root by bisection.

    With the box at the origin and its axis along x, lobe −k·φ² and 20·lg r, the slope per share is
    −2·k·φ·(x·dz − z·dx)/r² − (20/ln 10)·(x·dx + z·dz)/r².
    """
    coverage_deg = np.linspace(8.0, 172.0, 83)
    half = np.radians(0.5 * coverage_deg)
    curve = 20.0 * math.log10(2.0) / half**2
    dx, dz = 2.0 - np.cos(half), np.sin(half)
    low, high = np.zeros_like(half), np.ones_like(half)
    for _ in range(50):
        share = 0.5 * (low + high)
        x, z = np.cos(half) + share * dx, (share - 1.0) * dz
        rises = -2.0 * curve * np.arctan2(z, x) * (x * dz - z * dx)
        rises = rises > 20.0 / math.log(10.0) * (x * dx + z * dz)
        low, high = np.where(rises, share, low), np.where(rises, high, share)
    found = [
        ideal(coverage_deg=of, near_m=(0.0, 1.2), far_m=(20.0, 1.2)).excess_at_share
        for of in coverage_deg.tolist()
    ]
    assert np.abs(np.array(found) - low).max() <= 1.0 / 40_000.0 + 1e-9


@pytest.mark.parametrize("coverage_deg", [0.0, 180.0, -1.0, math.nan])
def test_no_coverage_no_place(coverage_deg: float) -> None:
    with pytest.raises(ValueError, match="between 0 and 180"):
        ideal(coverage_deg=coverage_deg, near_m=(0.0, 0.0), far_m=(1.0, 0.0))


def test_coverage_next_to_its_ends() -> None:
    for coverage_deg in (1e-6, 0.5, 179.0, 179.999):
        found = ideal(coverage_deg=coverage_deg, near_m=(0.0, 0.0), far_m=(1.0, 0.0))
        assert math.isfinite(found.tilt_deg)


def test_no_line_no_place() -> None:
    with pytest.raises(ValueError, match="no length"):
        ideal(coverage_deg=60.0, near_m=(2.0, 1.0), far_m=(2.0, 1.0))
    upright = ideal(coverage_deg=60.0, near_m=(2.0, 1.0), far_m=(2.0, 2.0))
    assert upright.near_throw_m == pytest.approx(1.0 / math.sqrt(5.0 - 2.0 * math.sqrt(3.0)))


def test_the_working_says_what_the_answer_says() -> None:
    """Each line's result, read back from its text, against the answer and the place itself."""
    coverage_deg, near_m, far_m = SCENES[1]
    found = ideal(coverage_deg=coverage_deg, near_m=near_m, far_m=far_m)
    steps = {
        step.name: step for step in working(coverage_deg=coverage_deg, near_m=near_m, far_m=far_m)
    }
    run, rise = far_m[0] - near_m[0], far_m[1] - near_m[1]
    length = math.hypot(run, rise)
    out = (found.x_m - near_m[0], found.height_m - near_m[1])
    along = (out[0] * run + out[1] * rise) / length
    above = (out[1] * run - out[0] * rise) / length
    expected = {
        "near throw d": found.near_throw_m,
        "far throw": found.far_throw_m,
        "axis to audience line": found.axis_to_plane_deg,
        "tilt": found.tilt_deg,
        "along the audience line from its near end": along,
        "square above the audience line": above,
        "x of the acoustic centre": found.x_m,
        "height of the acoustic centre": found.height_m,
    }
    assert list(steps) == list(expected)
    for name, value in expected.items():
        told = float(steps[name].result.split()[0].rstrip("°"))
        assert told == pytest.approx(value, abs=6e-3 if "°" in steps[name].result else 6e-4), name
    assert f"L = {length:.4g} m, φ = 45°" in steps["near throw d"].numbers
    slope = math.degrees(math.atan2(rise, run))
    assert f"slope = {slope:.2f}°" in steps["tilt"].numbers
    assert f"β = {found.axis_to_plane_deg:.2f}°" in steps["tilt"].numbers
    assert steps["far throw"].numbers == f"d = {found.near_throw_m:.3f} m"
    assert steps["x of the acoustic centre"].numbers == f"x_near = {near_m[0]:.3f} m"
    assert steps["height of the acoustic centre"].numbers == f"z_near = {near_m[1]:.3f} m"


def test_the_derivation_is_the_law_of_cosines() -> None:
    """Solved with SymPy; against numbers from the two circles."""
    solved = derivation()
    assert set(solved) == {"L", "phi", "near", "along", "above", "beta"}
    for length, half in ((20.0, 0.5), (7.0, 1.2)):
        put = {solved["L"]: length, solved["phi"]: half}
        near, along, above, beta = (
            float(solved[name].subs(put)) for name in ("near", "along", "above", "beta")
        )
        assert math.hypot(along, above) == pytest.approx(near, rel=1e-12)
        assert math.hypot(length - along, above) == pytest.approx(2.0 * near, rel=1e-12)
        assert beta == pytest.approx(math.atan2(above, length - along), rel=1e-12)
        between = np.arctan2(above, length - along) + np.arctan2(above, along)
        assert math.pi - float(between) == pytest.approx(half, rel=1e-12)
