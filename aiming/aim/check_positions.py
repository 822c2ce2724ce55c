"""Where to put a microphone: the rows that tell most about what every row hears.

A measured level is  gain of its band (unknown) + level by the plan + place's error + band's error.
The gains take the place of box, EQ and amplifier, so only differences between positions count.
What may be otherwise, p, is the tilt, the place, and the pattern's width, edge and balance, each
with a standard deviation.  With C the covariance of one position's bands and J its derivatives, the
positions chosen leave the covariance of p

    S = (D⁻² + Σ (J_i − mean J)ᵀ · C⁻¹ · (J_i − mean J))⁻¹

and a row whose mean level changes by g with p, about the mean of all rows, is known to √(gᵀ·S·g).
Positions are added one by one where that leaves the worst row best known.
"""

from dataclasses import dataclass, replace

import numpy as np

from ..base.arrays import BoolArray, FloatArray, IntArray, frozen
from ..field.levels import sight
from ..geometry.section import Rows
from ..speaker.pattern import edge_deg
from ..speaker.speaker import Placement
from .problem import Problem

SITE_DB = 0.7
"""Standard deviation of what one position adds to all its bands: placing, reflections nearby.
A 2 kHz measurement outdoors lands within about 0.7 dB of the inverse square law (common practice,
no source)."""
BAND_DB = 1.0
"""Standard deviation of what is left in each band by itself; our own choice."""
DOUBT = (4.0, 0.15, 0.3, 0.1, 1.2, 0.7)
"""Standard deviations of tilt (degrees), height and x (m), the pattern's width (share), its level
at the edge and its balance (dB); our own choice."""
COUNT = 6
SPARE = 2
APART_M = 1.5
"""Nearer than this, two microphones stand in one reflection pattern and share a place's error."""
SPREAD_OUT = 9.0
"""In a long house they lie further apart: by its length over this."""
STEP_DEG, STEP_M = 0.5, 0.05
MOST_CANDIDATES = 60
EDGE_MOST = 1.6
THIRDS = ("front third", "middle third", "back third")


@dataclass(frozen=True, eq=False)
class Check:
    """One microphone position.

    row: index into the rows that were asked about
    x_m, z_m: the microphone; distance_m, off_axis_deg: seen from the acoustic centre
    levels_db: (bands,) predicted, relative to the first position
    level_per_degree_db: what a degree of tilt upwards does to the design level there
    reason: what the position is for
    spare: to be taken where another cannot be reached
    """

    row: int
    x_m: float
    z_m: float
    distance_m: float
    off_axis_deg: float
    levels_db: FloatArray
    level_per_degree_db: float
    reason: str
    spare: bool = False


def choose_checks(
    problem: Problem, placement: Placement, *, count: int = COUNT, spare: int = 0
) -> tuple[Check, ...]:
    """Check positions among the rows of a problem, for one placement, in walking order, spare ones
    last.

    Every third of the rows has one, and every seating; at least APART_M lies between any two.
    Rows whose level is unknown are left out; () where fewer than two are known.
    """
    rows = problem.rows
    per_doubt = _per_doubt(problem, placement)
    level = problem.levels_db(placement)
    known = np.flatnonzero(np.isfinite(level).all(axis=0) & np.isfinite(per_doubt).all(axis=(0, 2)))
    if len(known) < 2:
        return ()
    chosen = [int(known[k]) for k in _chosen(per_doubt[:, known], rows.pick(known), count + spare)]
    main, further = chosen[:count], chosen[count:]
    visited = {int(rows.seating[row]) for row in main}
    for seating in sorted(set(rows.seating[known].tolist()) - visited):
        of = known[rows.seating[known] == seating]
        main.append(int(of[len(of) // 2]))
    further = [row for row in further if row not in main]
    order = [*sorted(main), *sorted(further)]
    seen = sight(placement, rows.x_m, rows.z_m)
    design = level.mean(axis=0)
    per_degree = per_doubt[:, :, 0].mean(axis=0) / DOUBT[0]
    first = order[0]
    return tuple(
        Check(
            row=row,
            x_m=float(rows.x_m[row]),
            z_m=float(rows.z_m[row]),
            distance_m=float(seen.distance_m[row]),
            off_axis_deg=float(seen.off_axis_deg[row]),
            levels_db=frozen(level[:, row] - level[:, first]),
            level_per_degree_db=float(per_degree[row]),
            reason=_reason(row, known, design, spare=row in further),
            spare=row in further,
        )
        for row in order
    )


def microphone_z_m(rows: Rows, mic_height_m: float | None) -> FloatArray:
    """(n,) z of microphones at these rows: at the ears, or this far above the floor."""
    if mic_height_m is None:
        return rows.z_m
    ears = np.array([seating.ear_height_m for seating in rows.seatings])
    return frozen(rows.z_m - ears[rows.seating] + mic_height_m)


def band_root(bands: int, *, site_db: float = SITE_DB, band_db: float = BAND_DB) -> FloatArray:
    """(bands, bands) symmetric W with WᵀW = C⁻¹, C = site²·11ᵀ + band²·I of one position's bands.

    The vector of ones is an eigenvector of C, so W shrinks the mean of the bands and leaves what
    differs between them.
    """
    mean = np.full((bands, bands), 1.0 / bands)
    whole = 1.0 / np.sqrt(band_db**2 + bands * site_db**2)
    return np.asarray((np.eye(bands) - mean) / band_db + mean * whole)


def _per_doubt(problem: Problem, placement: Placement) -> FloatArray:
    """(bands, n, 6) change of every level by one standard deviation of each of DOUBT.

    A pattern wider by the share s reads P(φ / (1 + s)), so dL/ds = −φ·P' = φ·dL/dτ.
    """
    at = problem.levels_db
    tilt_deg, height_m, x_m = placement.tilt_deg, placement.height_m, placement.x_m
    tilt = at(replace(placement, tilt_deg=tilt_deg + STEP_DEG))
    tilt = (tilt - at(replace(placement, tilt_deg=tilt_deg - STEP_DEG))) / (2.0 * STEP_DEG)
    height = at(replace(placement, height_m=height_m + STEP_M))
    height = (height - at(replace(placement, height_m=height_m - STEP_M))) / (2.0 * STEP_M)
    x = at(replace(placement, x_m=x_m + STEP_M))
    x = (x - at(replace(placement, x_m=x_m - STEP_M))) / (2.0 * STEP_M)
    off = sight(placement, problem.rows.x_m, problem.rows.z_m).off_axis_deg
    turned = -off if placement.flipped else off
    out = np.clip(turned / _half_deg(problem, turned), -EDGE_MOST, EDGE_MOST)
    same = np.ones((len(tilt), 1))
    each = (tilt, height, x, tilt * off, same * out**2, same * out)
    return np.stack([one * doubt for one, doubt in zip(each, DOUBT, strict=True)], axis=-1)


def _half_deg(problem: Problem, off_axis_deg: FloatArray) -> FloatArray:
    """(n,) half of the coverage angle on the side of each direction; 90° where there is no edge."""
    angle, design = problem.pattern.angle_deg, problem.pattern.mean()
    halves = [edge_deg(angle, design, above=above) for above in (False, True)]
    below, above = (90.0 if one is None else max(abs(one), 3.0) for one in halves)
    return np.where(off_axis_deg > 0.0, above, below)


def _chosen(per_doubt: FloatArray, rows: Rows, count: int) -> list[int]:
    """Places in rows, each added where it leaves the worst row best known."""
    bands, total, _ = per_doubt.shape
    # Evenly spaced and so each once: at most as many are asked for as there are.
    candidates = np.linspace(0, total - 1, min(total, MOST_CANDIDATES)).round().astype(np.intp)
    white = np.einsum("ab,bnp->nap", band_root(bands), per_doubt)[candidates]
    own = np.einsum("nap,naq->npq", white, white)
    design = per_doubt.mean(axis=0)
    design = design - design.mean(axis=0)
    apart = max(APART_M, float(np.ptp(rows.x_m)) / SPREAD_OUT)
    far = _far_apart(rows.x_m[candidates], rows.z_m[candidates], apart)
    third = (3 * candidates // total).clip(0, 2)
    chosen: list[int] = []
    while len(chosen) < min(count, len(candidates)):
        left = np.array([k for k in range(len(candidates)) if k not in chosen])
        missing = [part for part in range(3) if part not in third[chosen]]
        left = _if_any(left, _among(third[left], missing)) if missing else left
        clear = _if_any(left, np.asarray(far[left][:, chosen].all(axis=1))) if chosen else left
        if len(chosen) >= 3 and not far[clear][:, chosen].all(axis=1).any():
            break
        chosen.append(int(clear[int(np.argmin(_worst_row(white, own, chosen, clear, design)))]))
    return [int(candidates[k]) for k in chosen]


def _among(value: IntArray, wanted: list[int]) -> BoolArray:
    """(n,) which of the values are wanted."""
    return np.asarray((value[:, np.newaxis] == np.array(wanted)).any(axis=1))


def _if_any(left: IntArray, wanted: BoolArray) -> IntArray:
    """Those wanted, or all where none is."""
    return left[wanted] if wanted.any() else left


def _worst_row(
    white: FloatArray, own: FloatArray, chosen: list[int], more: IntArray, design: FloatArray
) -> FloatArray:
    """(more,) largest variance of a row's level if each of more were added to the chosen."""
    n = len(chosen) + 1
    total = white[chosen].sum(axis=0) + white[more]
    within = own[chosen].sum(axis=0) + own[more]
    # Σ (J − mean J)ᵀ(J − mean J) = Σ JᵀJ − (Σ J)ᵀ(Σ J) / n
    information = within - np.einsum("map,maq->mpq", total, total) / n
    left = np.linalg.inv(information + np.eye(design.shape[1]))
    return np.asarray(np.einsum("rp,mpq,rq->mr", design, left, design).max(axis=1))


def _far_apart(x_m: FloatArray, z_m: FloatArray, apart_m: float) -> BoolArray:
    """(n, n) whether two positions are far enough apart to have errors of their own."""
    return np.asarray(
        np.hypot(x_m[:, np.newaxis] - x_m, z_m[:, np.newaxis] - z_m) >= apart_m - 1e-9
    )


def _reason(row: int, known: IntArray, design_db: FloatArray, *, spare: bool) -> str:
    """Which third it stands for, and whether it is the loudest or softest row."""
    place = int(np.searchsorted(known, row))
    told = [THIRDS[min(3 * place // len(known), 2)]]
    if row == known[np.argmax(design_db[known])]:
        told.append("loudest row")
    if row == known[np.argmin(design_db[known])]:
        told.append("softest row")
    return f"spare; {', '.join(told)}" if spare else ", ".join(told)
