"""The ripple that a floor puts into a fine trace, by the closed form of its image path."""

import numpy as np
import pytest
from onsite_scenes import prediction, problem

from aiming.base.arrays import FloatArray
from aiming.site.prediction import Points, image_m
from aiming.site.ripple import fit_ripple, ripples_taken_out
from aiming.site.traces import Trace
from aiming.speaker.speaker import Placement

C_M_S = 343.2
F_HZ = np.geomspace(100.0, 12_000.0, 1200)
SMOOTH_DB = -30.0 + 2.0 * np.log10(F_HZ / 1000.0)


def wave_db(share: float, detour_m: float) -> FloatArray:
    """20·lg |1 + ρ·e^(−i2πfΔ/c)|: direct sound and floor as two complex pressures."""
    turned = np.exp(-2j * np.pi * F_HZ * detour_m / C_M_S)
    return np.asarray(20.0 * np.log10(np.abs(1.0 + share * turned)))


def trace(name: str, level_db: FloatArray) -> Trace:
    return Trace(name, F_HZ, level_db, np.ones(len(F_HZ)), "f", 1)


def test_the_ripple_of_a_hard_floor_is_found_and_a_smooth_trace_has_none() -> None:
    # Δ 0.68859 m (images): first notch at 249.2 Hz.
    rng = np.random.default_rng(1)
    level = SMOOTH_DB + wave_db(0.6, 0.68859) + rng.normal(0.0, 0.3, len(F_HZ))
    found = fit_ripple(trace("a", level), 0.70, C_M_S)
    assert found is not None
    share, detour, ripple = found
    assert share == pytest.approx(0.6, abs=0.05)
    assert C_M_S / (2.0 * detour) == pytest.approx(249.2, abs=1.5)
    assert np.std(level - ripple - SMOOTH_DB) < 0.8
    plain = trace("a", SMOOTH_DB + rng.normal(0.0, 0.5, len(F_HZ)))
    assert fit_ripple(plain, 0.70, C_M_S) is None


@pytest.mark.parametrize(("share", "stretch"), [(0.6, 0.985), (0.15, 1.1), (0.95, 0.9)])
def test_a_ripple_without_noise_comes_back_as_it_is(share: float, stretch: float) -> None:
    level = SMOOTH_DB + wave_db(share, 0.7 * stretch)
    found = fit_ripple(trace("a", level), 0.7, C_M_S)
    assert found is not None
    assert found[0] == pytest.approx(share, abs=0.005)
    assert found[1] == pytest.approx(0.7 * stretch, abs=0.001)
    assert found[2] == pytest.approx(level - SMOOTH_DB, abs=0.1)


def test_a_ripple_is_looked_for_within_a_tenth_of_the_detour_alone() -> None:
    for stretch in (0.8, 1.2):
        assert fit_ripple(trace("a", SMOOTH_DB + wave_db(0.6, 0.7 * stretch)), 0.7, C_M_S) is None


def test_a_floor_that_sends_back_next_to_nothing_is_none() -> None:
    assert fit_ripple(trace("a", SMOOTH_DB + wave_db(0.1, 0.7)), 0.7, C_M_S) is None


def test_a_ripple_counts_where_it_explains_more_than_what_is_left() -> None:
    # Of random levels of as much energy as the ripple, half is left; of less, less.
    rng = np.random.default_rng(5)
    wave = wave_db(0.6, 0.7)
    noise = rng.normal(0.0, 1.0, len(F_HZ)) * np.std(wave)
    assert fit_ripple(trace("a", SMOOTH_DB + wave + 0.8 * noise), 0.7, C_M_S) is not None
    assert fit_ripple(trace("a", SMOOTH_DB + wave + 1.3 * noise), 0.7, C_M_S) is None


def test_lines_too_far_apart_show_no_ripple() -> None:
    # Of 0.7 m the notches lie 490 Hz apart: lines 25 Hz apart show them, thirds of octaves do not.
    for f, seen in ((np.arange(200.0, 9000.0, 25.0), True), (np.geomspace(200.0, 1e4, 18), False),
                    (np.arange(200.0, 9000.0, 120.0), False),
                    (np.arange(200.0, 800.0, 5.0), False)):  # fmt: skip
        turned = np.exp(-2j * np.pi * f * 0.7 / C_M_S)
        level = 20.0 * np.log10(np.abs(1.0 + 0.6 * turned))
        found = fit_ripple(Trace("a", f, level, np.ones(len(f)), "f", 1), 0.7, C_M_S)
        assert (found is not None) is seen


def test_each_microphone_loses_the_ripple_of_its_own_floor() -> None:
    """On a stand over the floor; lying on it, where both ways are one; beyond the floor."""
    of = problem(floor=((1.0, 0.0), (24.0, 0.0)))
    model = prediction(of, Placement(0.0, 6.0, -15.0))
    x, z = np.array([20.0, 12.0, 30.0, 8.0]), np.array([1.2, 0.0, 1.2, 1.5])
    image = image_m(of.rows.seatings, x, z)
    detour = [np.hypot(a, h + 6.0) - np.hypot(a, h - 6.0) for a, h in zip(x, z, strict=True)]
    assert detour[0] == pytest.approx(0.68859, abs=1e-5)
    waves = [wave_db(0.6, detour[0]), 0.0 * F_HZ, 0.0 * F_HZ, wave_db(0.4, detour[3])]
    traces = tuple(trace(name, SMOOTH_DB + wave)
                   for name, wave in zip("abcd", waves, strict=True))  # fmt: skip
    cleaned, ripples = ripples_taken_out(traces, model, Points(x, z, image))
    assert [one.position for one in ripples] == ["a", "d"]
    assert [one.share for one in ripples] == pytest.approx([0.6, 0.4], abs=0.005)
    for one, way in zip(ripples, (detour[0], detour[3]), strict=True):
        assert one.detour_m == pytest.approx(way, abs=0.002)
        assert one.first_notch_hz == pytest.approx(C_M_S / (2.0 * way), rel=0.003)
    for one in cleaned:
        assert one.level_db == pytest.approx(SMOOTH_DB, abs=0.1)
    assert [one.position for one in cleaned] == list("abcd")
    unknown = Points(x, z, np.full((4, 2), np.nan))
    assert ripples_taken_out(traces, model, unknown) == (traces, ())
