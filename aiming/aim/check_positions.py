"""Where to put a microphone: the rows that tell most about how the box really hangs.

A measured level is  gain of its band (unknown) + level by the plan + site error + band error.  The
gains take the place of box, EQ and amplifier, so only differences between positions count, and a
row at the aim point, where a degree of tilt changes nothing, is worth something only against one at
the edge of the pattern.  With C the covariance of one position's bands and J its derivatives, the
information about tilt and pattern width is, once the gains are eliminated,

    M = Σ (J_i − mean J)ᵀ · C⁻¹ · (J_i − mean J)
"""

from dataclasses import dataclass
from itertools import combinations

import numpy as np

from ..base.arrays import BoolArray, FloatArray, IntArray, frozen
from ..field.levels import sight
from ..geometry.section import Rows
from ..speaker.speaker import Placement
from .problem import Problem

SITE_DB = 0.7
"""Standard deviation of what one position adds to all its bands: placing, reflections nearby.
A 2 kHz measurement outdoors lands within about 0.7 dB of the inverse square law (common practice,
no source)."""
BAND_DB = 1.0
"""Standard deviation of what is left in each band by itself; our own choice."""
WIDTH_DOUBT = 0.1
"""How far (share, one standard deviation) a real pattern is expected beside its data."""
STEP_DEG = 0.5
MOST_CANDIDATES = 48
APART_M = 1.0
"""Nearer than this, two microphones stand in one reflection pattern and share a site error."""
TELLING = 5
"""Three positions for tilt, two more for the width of the pattern."""


@dataclass(frozen=True, eq=False)
class Check:
    """One microphone position.

    row: index into the rows that were asked about
    x_m, z_m: the microphone; distance_m, off_axis_deg: seen from the acoustic centre
    levels_db: (bands,) predicted, relative to the first position
    level_per_degree_db: what a degree of tilt upwards does to the design level there
    reason: what the position is for
    """

    row: int
    x_m: float
    z_m: float
    distance_m: float
    off_axis_deg: float
    levels_db: FloatArray
    level_per_degree_db: float
    reason: str


def choose_checks(problem: Problem, placement: Placement) -> tuple[Check, ...]:
    """Check positions among the rows of a problem, for one placement, the most telling first.

    The first three are the best three for telling tilt; two more tell the width of the pattern;
    then come the loudest row, the softest row, and the middle of every seating not yet visited.
    Rows whose level is unknown are left out; () where fewer than two are known.
    """
    rows = problem.rows
    turned = problem.levels_db(_turned(placement, np.array([-STEP_DEG, 0.0, STEP_DEG])))
    seen = sight(placement, rows.x_m, rows.z_m)
    per_degree = (turned[2] - turned[0]) / (2.0 * STEP_DEG)
    known = np.flatnonzero(np.isfinite(turned).all(axis=(0, 1)))
    if len(known) < 2:
        return ()
    telling = _telling(per_degree, seen.off_axis_deg, _thinned(known), rows)
    design = turned[1].mean(axis=0)
    reasons = {row: _reason(order) for order, row in enumerate(telling)}
    wished = [
        (int(known[np.argmax(design[known])]), "loudest row"),
        (int(known[np.argmin(design[known])]), "softest row"),
    ]
    visited = {int(rows.seating[row]) for row in (*reasons, *(row for row, _ in wished))}
    for seating in sorted(set(rows.seating[known].tolist())):
        if seating not in visited:
            of = known[rows.seating[known] == seating]
            name = rows.seatings[seating].name
            wished.append((int(of[len(of) // 2]), f"middle of {name}"))
    for row, reason in wished:
        reasons[row] = f"{reasons[row]}; {reason}" if row in reasons else reason
    first = next(iter(reasons))
    return tuple(
        Check(
            row=row,
            x_m=float(rows.x_m[row]),
            z_m=float(rows.z_m[row]),
            distance_m=float(seen.distance_m[row]),
            off_axis_deg=float(seen.off_axis_deg[row]),
            levels_db=frozen(turned[1][:, row] - turned[1][:, first]),
            level_per_degree_db=float(per_degree[:, row].mean()),
            reason=reason,
        )
        for row, reason in reasons.items()
    )


def microphone_z_m(rows: Rows, mic_height_m: float | None) -> FloatArray:
    """(n,) z of microphones at these rows: at the ears, or this far above the floor."""
    if mic_height_m is None:
        return rows.z_m
    ears = np.array([seating.ear_height_m for seating in rows.seatings])
    return frozen(rows.z_m - ears[rows.seating] + mic_height_m)


def tilt_doubt_deg(problem: Problem, placement: Placement, checks: tuple[Check, ...]) -> float:
    """Half of the 90 % interval of tilt (degrees) that these positions would give; inf for none.

    Of the linear model, with the width of the pattern in doubt by WIDTH_DOUBT.
    """
    if len(checks) < 2:
        return float("inf")
    at = np.array([check.row for check in checks])
    low, high = problem.levels_db(_turned(placement, np.array([-STEP_DEG, STEP_DEG])))[..., at]
    off_axis = np.array([check.off_axis_deg for check in checks])
    derivatives = _whitened((high - low) / (2.0 * STEP_DEG), off_axis)
    away = derivatives - derivatives.mean(axis=0)
    information = np.einsum("nbp,nbq->pq", away, away)
    return 1.6449 * float(np.sqrt(_tilt_variance(information)))


def band_root(bands: int, *, site_db: float = SITE_DB, band_db: float = BAND_DB) -> FloatArray:
    """(bands, bands) symmetric W with WᵀW = C⁻¹, C = site²·11ᵀ + band²·I of one position's bands.

    The vector of ones is an eigenvector of C, so W shrinks the mean of the bands and leaves what
    differs between them.
    """
    mean = np.full((bands, bands), 1.0 / bands)
    whole = 1.0 / np.sqrt(band_db**2 + bands * site_db**2)
    return np.asarray((np.eye(bands) - mean) / band_db + mean * whole)


def _turned(placement: Placement, by_deg: FloatArray) -> Placement:
    """The placement at several tilts, for levels (tilts, bands, rows)."""
    there = np.zeros(len(by_deg))
    return Placement(
        x_m=placement.x_m + there,
        height_m=placement.height_m + there,
        tilt_deg=placement.tilt_deg + by_deg,
        flipped=placement.flipped,
    )


def _whitened(per_degree_db: FloatArray, off_axis_deg: FloatArray) -> FloatArray:
    """(n, bands, 2) derivatives by tilt (1°) and by the pattern's width (share), whitened.

    A pattern wider by the share s reads P(φ / (1 + s)), so dL/ds = −φ·P' = φ·dL/dτ.
    """
    both = np.stack([per_degree_db, per_degree_db * off_axis_deg], axis=-1)
    return np.asarray(np.einsum("ab,bnp->nap", band_root(len(per_degree_db)), both))


def _tilt_variance(information: FloatArray) -> FloatArray:
    """(…) variance of tilt (deg²) from (…, 2, 2), the width being in doubt by WIDTH_DOUBT."""
    width = information[..., 1, 1] + WIDTH_DOUBT**-2
    left = information[..., 0, 0] - information[..., 0, 1] ** 2 / width
    return np.asarray(1.0 / np.maximum(left, 1e-12))


def _width_told(information: FloatArray) -> FloatArray:
    """(…) information about the width (1/share²) from (…, 2, 2), tilt unknown."""
    tilt = np.maximum(information[..., 0, 0], 1e-12)
    return np.asarray(information[..., 1, 1] - information[..., 0, 1] ** 2 / tilt)


def _thinned(known: IntArray) -> IntArray:
    """At most MOST_CANDIDATES of the known rows, both ends among them."""
    at = np.linspace(0, len(known) - 1, min(len(known), MOST_CANDIDATES)).round()
    return np.asarray(known[at.astype(np.intp)])


def _telling(
    per_degree_db: FloatArray, off_axis_deg: FloatArray, candidates: IntArray, rows: Rows
) -> list[int]:
    """Rows, the most telling first: the best three for tilt, then greedily for width."""
    derivatives = _whitened(per_degree_db, off_axis_deg)[candidates]
    difference = derivatives[:, np.newaxis] - derivatives
    pair = np.einsum("ijbp,ijbq->ijpq", difference, difference)
    far = _far_apart(rows.x_m[candidates], rows.z_m[candidates])
    chosen = _best_three(pair, far, np.abs(off_axis_deg[candidates]))
    while len(chosen) < min(TELLING, len(candidates)):
        # The scatter about the mean is the sum over pairs over their number, the same for each.
        within = pair[np.ix_(chosen, chosen)].sum(axis=(0, 1)) / 2.0
        told = _width_told(within + pair[:, chosen].sum(axis=1))
        told[chosen] = -np.inf
        free = far[:, chosen].all(axis=1)
        if free.any():
            told[~free] = -np.inf
        chosen.append(int(np.argmax(told)))
    return [int(candidates[k]) for k in chosen]


def _best_three(pair: FloatArray, far: BoolArray, off_axis_deg: FloatArray) -> list[int]:
    """The three (or two) that leave least variance of tilt; the best pair of them first."""
    count = len(pair)
    sets = np.array(list(combinations(range(count), min(3, count))))
    sides = list(combinations(range(sets.shape[1]), 2))
    scatter = sum(pair[sets[:, a], sets[:, b]] for a, b in sides) / sets.shape[1]
    variance = _tilt_variance(np.asarray(scatter))
    clear = np.logical_and.reduce([far[sets[:, a], sets[:, b]] for a, b in sides])
    if clear.any():
        variance[~clear] = np.inf
    best = sets[int(np.argmin(variance))]
    a, b = min(
        ((best[a], best[b]) for a, b in sides),
        key=lambda two: float(_tilt_variance(pair[two[0], two[1]] / 2.0)),
    )
    ordered = sorted((int(a), int(b)), key=lambda k: (off_axis_deg[k], k))
    return ordered + [int(k) for k in best if k not in (a, b)]


def _far_apart(x_m: FloatArray, z_m: FloatArray) -> BoolArray:
    """(n, n) whether two positions are far enough apart to have site errors of their own."""
    return np.asarray(
        np.hypot(x_m[:, np.newaxis] - x_m, z_m[:, np.newaxis] - z_m) >= APART_M - 1e-9
    )


def _reason(order: int) -> str:
    return "tells tilt" if order < 3 else "tells the width of the pattern"
