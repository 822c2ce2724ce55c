"""When the sound arrives, and with which polarity, from traces with phase that share one time.

    H1, H2       two transfer functions; their cross spectrum H2·conj(H1), lines of any spacing
    e(τ) = |Σ w·e^(i·(φ2 − φ1 + 2πfτ))| / Σ w       w: coherences times a line's share of log f

e is 1 where H2 is H1 delayed by τ, whatever the levels, and its angle there tells the polarity.
The loudspeakers' own phases stay in it: alike ones drop out, of unlike ones the part that no delay
takes out makes e smaller.
"""

from dataclasses import dataclass
from typing import Annotated

import numpy as np

from ..base.arrays import FloatArray
from .traces import Trace

FROM_HZ, TO_HZ = 400.0, 10_000.0
LOOKED_MS = 150.0
GRID_HZ = 0.5
"""Lines are rounded to this for the transform: at LOOKED_MS their phase moves by 13° at most."""
POINTS = 2**17
"""Of the transform: STEP_MS apart."""
STEP_MS = 1e3 / (POINTS * GRID_HZ)
CLEAR = 0.45
"""A peak lower than this is no arrival; our own choice."""
OVER_NEXT = 1.3
"""A peak no more than this over the next that is no part of it is not told; our own choice."""
BESIDE_MS = 2.0
"""What lies nearer to a peak belongs to it."""
FEWEST = 30


@dataclass(frozen=True)
class Apart:
    """One trace against another: how much later it arrives, and whether its sign is the other.

    reversed: None where the phases are neither alike nor opposite
    clear: height of the peak, 0 to 1
    """

    after_ms: float
    reversed: bool | None
    clear: float


def apart(trace: Trace, other: Trace) -> Apart | None:
    """How much later `trace` arrives than `other`; None where their phases do not tell it.

    Both need the same frequencies, close enough that no other delay gives the same phases.
    """
    f = trace.frequency_hz
    if trace.phase_deg is None or other.phase_deg is None:
        return None
    if len(f) != len(other.frequency_hz) or not np.allclose(f, other.frequency_hz, rtol=1e-4):
        return None
    used = (f >= FROM_HZ) & (f <= TO_HZ)
    if used.sum() < FEWEST:
        return None
    f = f[used]
    weight = np.gradient(np.log(f)) * (trace.coherence * other.coherence)[used]
    if not weight.sum() > 0.0:
        return None
    turn = np.radians((trace.phase_deg - other.phase_deg)[used])
    lines = weight / weight.sum() * np.exp(1j * turn)
    held = np.zeros(POINTS, dtype=complex)
    np.add.at(held, np.rint(f / GRID_HZ).astype(np.intp), lines)
    height = np.abs(np.fft.ifft(held)) * POINTS
    looked = min(LOOKED_MS, 500.0 / float(np.diff(f).min()))
    times = np.fft.fftfreq(POINTS, d=1.0 / (POINTS * STEP_MS))
    height[np.abs(times) > looked] = 0.0
    k = int(np.argmax(height))
    beside = height[np.abs(times - times[k]) > BESIDE_MS].max()
    if height[k] < CLEAR or height[k] < OVER_NEXT * beside:
        return None
    fine = times[k] + STEP_MS * np.linspace(-1.0, 1.0, 41)
    found = np.exp(2e-3j * np.pi * fine[:, np.newaxis] * f) @ lines
    best = int(np.argmax(np.abs(found)))
    aligned = float(np.cos(np.angle(found[best])))
    return Apart(
        after_ms=float(fine[best]),
        reversed=None if abs(aligned) < 0.5 else aligned < 0.0,
        clear=float(np.abs(found[best])),
    )


TOGETHER_MS = 1.5
"""Arrivals within this of one another, at places much farther apart than that, had their delay
taken out one by one."""
FARTHER_MS = 1.2
"""An arrival this far beside that of its place is another place's: 0.4 m; our own choice."""


@dataclass(frozen=True)
class Arrival:
    """When the sound came to one position, after it came to the first that tells it."""

    position: Annotated[str, "the microphone's"]
    after_ms: Annotated[float, "how much later the sound came than to the first position, ms"]
    expected_ms: Annotated[float, "the same by its distance, ms"]
    farther_m: Annotated[float, "how much farther than its place the microphone stood by that, m"]
    other_sign: Annotated[bool, "whether its polarity is against that of the others"]

    @property
    def elsewhere(self) -> bool:
        """Whether it cannot have stood where it is said to have stood."""
        return abs(self.after_ms - self.expected_ms) > FARTHER_MS


def arrivals(
    traces: tuple[Trace, ...], distance_m: FloatArray, speed_m_s: float
) -> tuple[Arrival, ...]:
    """What the phases tell of where the microphones stood; () where they tell nothing.

    distance_m (n,): from the loudspeaker to where each is said to have stood
    """
    told = [(n, apart(trace, traces[0])) for n, trace in enumerate(traces)]
    found = [(n, one) for n, one in told if one is not None]
    if len(found) < 3:
        return ()
    at = np.array([n for n, _ in found])
    after = np.array([one.after_ms for _, one in found])
    expected = 1e3 * (distance_m[at] - distance_m[0]) / speed_m_s
    if np.ptp(after) < TOGETHER_MS < 0.3 * np.ptp(expected):
        return ()
    expected = expected + np.median(after - expected)
    signs = [bool(one.reversed) for _, one in found]
    odd = sum(signs) * 2 < len(signs)
    return tuple(
        Arrival(
            position=traces[n].position,
            after_ms=one.after_ms,
            expected_ms=float(by_way),
            farther_m=float(one.after_ms - by_way) * speed_m_s / 1e3,
            other_sign=one.reversed is not None and bool(one.reversed) is odd,
        )
        for (n, one), by_way in zip(found, expected, strict=True)
    )


def exchanged(found: tuple[Arrival, ...]) -> tuple[str, str] | None:
    """The two positions whose arrivals are each other's; None where there are none."""
    wrong = [one for one in found if one.elsewhere]
    if len(wrong) != 2:
        return None
    one, other = wrong
    crossed = (one.after_ms - other.expected_ms, other.after_ms - one.expected_ms)
    return (one.position, other.position) if max(map(abs, crossed)) < FARTHER_MS else None
