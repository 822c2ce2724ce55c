"""Arrivals and polarities by the phase, against delays that were put in."""

import numpy as np
import pytest

from aiming.site.arrival import Arrival, apart, arrivals, exchanged
from aiming.site.traces import Trace

FINE = np.geomspace(20.0, 20_000.0, 480)
EVEN = np.arange(5.0, 20_000.0, 5.0)


def delayed(
    ms: float,
    *,
    f: np.ndarray = FINE,
    sign: float = 1.0,
    turned_deg: float = 0.0,
    noise: float = 0.1,
    name: str = "a",
    seed: int = 1,
) -> Trace:
    """A transfer function with this delay, a floor behind it 10 dB down, and noise."""
    rng = np.random.default_rng(seed)
    h = sign * np.exp(-2j * np.pi * f * ms / 1e3 + 1j * np.radians(turned_deg))
    h = h * (1.0 + 0.3 * np.exp(-2j * np.pi * f * 0.0031))
    h = h + noise * (rng.normal(size=len(f)) + 1j * rng.normal(size=len(f)))
    return Trace(
        name, f, 20.0 * np.log10(np.abs(h)), np.ones(len(f)), "f.txt", 1,
        phase_deg=np.degrees(np.angle(h)),
    )  # fmt: skip


@pytest.mark.parametrize("f", [FINE, EVEN], ids=["even in the octave", "even in Hz"])
@pytest.mark.parametrize("ms", [-13.0, 0.0, 3.3, 41.2])
@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_the_delay_and_the_sign_that_were_put_in(f: np.ndarray, ms: float, sign: float) -> None:
    found = apart(delayed(20.0 + ms, f=f, sign=sign, seed=2), delayed(20.0, f=f))
    assert found is not None
    assert found.after_ms == pytest.approx(ms, abs=0.01)
    assert found.reversed is (sign < 0.0)


def test_phases_neither_alike_nor_opposite_tell_no_polarity() -> None:
    found = apart(delayed(3.0, turned_deg=90.0), delayed(0.0))
    assert found is not None
    assert found.after_ms == pytest.approx(3.0, abs=0.01)
    assert found.reversed is None


def test_noise_other_frequencies_and_no_phase_tell_nothing() -> None:
    noise, other = delayed(0.0, noise=30.0), delayed(0.0, noise=30.0, seed=9)
    assert apart(noise, other) is None
    assert apart(delayed(1.0), delayed(0.0, f=FINE * 1.01)) is None
    assert apart(delayed(1.0), delayed(0.0, f=EVEN)) is None
    few = np.geomspace(500.0, 8000.0, 20)
    assert apart(delayed(1.0, f=few), delayed(0.0, f=few)) is None
    bare = Trace("a", FINE, np.zeros(480), np.ones(480), "f.txt", 1)
    assert apart(bare, delayed(0.0)) is None
    assert apart(delayed(0.0), bare) is None


def test_a_delay_is_told_only_where_no_other_gives_the_same_lines() -> None:
    # Lines 40 Hz apart repeat every 25 ms: 20 ms and −5 ms are one.
    coarse = np.arange(400.0, 9000.0, 40.0)
    found = apart(delayed(20.0, f=coarse), delayed(0.0, f=coarse))
    assert found is not None
    assert found.after_ms == pytest.approx(-5.0, abs=0.02)


def test_incoherent_lines_count_for_nothing() -> None:
    level, phase = np.zeros(480), delayed(4.0).phase_deg
    assert phase is not None
    wild = np.where(FINE > 2000.0, np.random.default_rng(3).uniform(-180.0, 180.0, 480), phase)
    sure = np.where(FINE > 2000.0, 0.0, 1.0)
    found = apart(Trace("a", FINE, level, sure, "f", 1, phase_deg=wild), delayed(0.0))
    assert found is not None
    assert found.after_ms == pytest.approx(4.0, abs=0.05)
    assert apart(Trace("a", FINE, level, 0.0 * sure, "f", 1, phase_deg=wild), delayed(0.0)) is None


WAY_M = np.array([6.0, 8.0, 11.0, 14.0, 16.0])


def walked(way_m: np.ndarray, signs: tuple[float, ...] = (1.0,) * 5) -> tuple[Arrival, ...]:
    """Microphones that stood at these distances, said to have stood at WAY_M."""
    traces = tuple(
        delayed(1e3 * way / 343.2 - 10.0, sign=sign, name=f"row {n}", seed=n)
        for n, (way, sign) in enumerate(zip(way_m, signs, strict=True), start=1)
    )
    return arrivals(traces, WAY_M, 343.2)


def test_microphones_in_their_places_arrive_when_they_should() -> None:
    found = walked(WAY_M)
    assert len(found) == 5
    assert not any(one.elsewhere or one.other_sign for one in found)
    assert max(abs(one.farther_m) for one in found) < 0.02
    assert exchanged(found) is None


@pytest.mark.parametrize("row", range(5))
def test_a_row_counted_wrong_is_told_with_how_far(row: int) -> None:
    at = WAY_M.copy()
    at[row] += 0.9
    found = walked(at)
    assert [one.position for one in found if one.elsewhere] == [f"row {row + 1}"]
    assert found[row].farther_m == pytest.approx(0.9, abs=0.03)
    assert exchanged(found) is None


def test_half_a_seat_is_no_other_place() -> None:
    at = WAY_M.copy()
    at[2] += 0.35
    assert not any(one.elsewhere for one in walked(at))
    at[2] += 0.15
    assert walked(at)[2].elsewhere


@pytest.mark.parametrize("pair", [(0, 3), (1, 2), (3, 4)])
def test_two_that_changed_places_are_told(pair: tuple[int, int]) -> None:
    at = WAY_M.copy()
    at[list(pair)] = at[list(pair)[::-1]]
    assert exchanged(walked(at)) == (f"row {pair[0] + 1}", f"row {pair[1] + 1}")


@pytest.mark.parametrize("odd", [0, 2])
def test_the_one_with_the_other_sign_is_told(odd: int) -> None:
    signs = tuple(-1.0 if n == odd else 1.0 for n in range(5))
    assert [one.other_sign for one in walked(WAY_M, signs)] == [n == odd for n in range(5)]


def test_delays_taken_out_one_by_one_tell_nothing_nor_do_two() -> None:
    assert walked(np.full(5, 9.0)) == ()
    two = tuple(delayed(1e3 * way / 343.2 - 10.0) for way in WAY_M[:2])
    assert arrivals(two, WAY_M[:2], 343.2) == ()
