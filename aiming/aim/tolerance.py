"""What a loudspeaker that hangs a little off its placement costs, at worst, and proven.

Around one placement the largest objective is looked for by boxes of displacements, with upper
bounds from the same enclosures as the search's lower bounds: over a box the objective of the affine
part is convex, so it is largest at a corner, and what the enclosure leaves over adds to it.

The placement whose worst case is best is found by the same search as the best placement, with the
objective taken at several displacements at once: first at the corners of the tolerance, then also
at those where the worst turned out to lie.  Fewer displacements than all can only make a bound
smaller, so the bound stays one; the placement's own worst case is proven as above.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import product

import numpy as np

from ..base.arrays import FloatArray
from ..speaker.speaker import Placement, Placements
from .boxes import Boxes
from .cuts import upper_bounds
from .enclosure import enclose
from .pose import pose
from .problem import HERE, Displacement, Problem
from .search import SearchResult, Status, lowest_within, search

MOST_BOXES = 20_000
_BATCH = 64
_ROUNDS = 6
_NEARLY_WORST_DB = 0.03
_ROUGH_DB = 0.5
_OWN_SHARE = 0.25
"""Of the gap: how closely a placement's own worst case is proven."""


@dataclass(frozen=True)
class Tolerance:
    """How far the hung loudspeaker may be off, either way.

    coverage_percent: how far a coverage angle by data sheet may be off, in % of it
    """

    tilt_deg: float = 0.0
    height_m: float = 0.0
    x_m: float = 0.0
    coverage_percent: float = 0.0

    def __post_init__(self) -> None:
        if min(self.tilt_deg, self.height_m, self.x_m, self.coverage_percent) < 0.0:
            raise ValueError("a tolerance is not negative")

    def corners(self) -> tuple[Displacement, ...]:
        """The furthest displacements, each once."""
        ends = [(-size, size) if size > 0.0 else (0.0,) for size in self._sizes]
        return tuple(Displacement(tilt, height, x) for tilt, height, x in product(*ends))

    @property
    def _sizes(self) -> tuple[float, float, float]:
        return self.tilt_deg, self.height_m, self.x_m


@dataclass(frozen=True)
class Worst:
    """The worst case of one placement.

    objective_db: at this displacement, the largest found; it is at most gap_db below the largest
    there is.  Infinite where a level may be unknown
    """

    objective_db: float
    gap_db: float
    displacement: Displacement

    @property
    def bound_db(self) -> float:
        """Nothing within the tolerance is worse than this."""
        return self.objective_db + self.gap_db


@dataclass(frozen=True)
class WorstFound:
    """The placements whose worst case is best.

    best: of all; taken: the lowest that is good enough; objective_db of both is the worst case,
        rounded up by what its proof leaves open
    worst: the worst case of taken; None where there is no placement
    problem: the question as it was searched, with the displacements
    """

    problem: Problem
    best: SearchResult
    taken: SearchResult
    worst: Worst | None


def worst_within(
    problem: Problem, placement: Placement, tolerance: Tolerance, *, gap_db: float
) -> Worst:
    """The largest objective of one placement within a tolerance, to within gap_db.

    Of all patterns that the loudspeaker may turn out to have.
    """
    each = [
        _worst_of(problem.turned_out(other), placement, tolerance, gap_db=gap_db)
        for other in range(1 + len(problem.others))
    ]
    worst = max(range(len(each)), key=lambda other: each[other].objective_db)
    found = each[worst]
    gap = max(one.bound_db for one in each) - found.objective_db
    return Worst(
        found.objective_db,
        gap if np.isfinite(found.objective_db) else np.inf,
        replace(found.displacement, other=worst),
    )


def _worst_of(
    problem: Problem, placement: Placement, tolerance: Tolerance, *, gap_db: float
) -> Worst:
    there = replace(
        problem.at_splay(placement.splay_deg),
        around=(HERE,),
        hang=replace(problem.hang, vertical="height"),
    )
    at = np.array([placement.tilt_deg, placement.height_m, placement.x_m], dtype=np.float64)
    size = np.array([tolerance.tilt_deg, tolerance.height_m, tolerance.x_m])
    boxes = Boxes(at[np.newaxis], size[np.newaxis], np.array([-1]), np.array([placement.flipped]))
    corners = [HERE, *tolerance.corners()]
    offsets = np.array([_sizes(of) for of in corners])
    values = there.objective_db(_placements(offsets + at, boxes, there))
    most = int(np.argmax(values))
    worst, where = float(values[most]), corners[most]
    upper = np.array([np.inf])
    bounded = 0
    dropped = worst
    while np.isfinite(worst):
        upper, values, spots = _look(there, boxes)
        bounded += len(boxes)
        most = int(np.argmax(values))
        if values[most] > worst:
            worst, where = float(values[most]), _displacement(spots[most] - at, size)
        open_still = upper > worst + gap_db
        dropped = max(dropped, float(upper[~open_still].max(initial=-np.inf)))
        boxes, upper = boxes.pick(open_still), upper[open_still]
        if len(boxes) == 0 or bounded >= MOST_BOXES:
            break
        boxes = _halved(boxes, size)
    bound = max(dropped, float(upper.max(initial=-np.inf)))
    return Worst(worst, max(0.0, bound - worst) if np.isfinite(worst) else np.inf, where)


def best_worst(
    problem: Problem, tolerance: Tolerance, *, gap_db: float, lower_if_within_db: float
) -> WorstFound:
    """The placement whose worst case within a tolerance is best, to within gap_db."""
    closer = gap_db - 2.0 * _OWN_SHARE * gap_db

    def at_best(several: Problem) -> SearchResult:
        return search(several, gap_db=closer)

    rough = search(replace(problem, around=(HERE,)), gap_db=_ROUGH_DB)
    if rough.placement is None:
        return WorstFound(problem, rough, rough, None)
    corners = tuple(
        replace(corner, other=other)
        for corner in tolerance.corners()
        for other in range(1 + len(problem.others))
    )
    few = _nearly_worst(problem, corners, rough.placement)
    several, best, worst = _agreed(problem, tolerance, few, at_best, gap_db)
    if worst is None or best.placement is None:
        return WorstFound(several, best, best, None)
    low, high = problem.hang.vertical_m
    if low == high or lower_if_within_db <= 0.0:
        return WorstFound(several, best, best, worst)

    def at_lowest(fewer: Problem) -> SearchResult:
        return lowest_within(fewer, best, within_db=lower_if_within_db, gap_db=closer)

    # Few displacements are ever the worst; the others only make the search slower.
    few = _nearly_worst(problem, several.around, best.placement)
    _, taken, its_worst = _agreed(problem, tolerance, few, at_lowest, gap_db)
    if its_worst is None or its_worst.bound_db > best.objective_db + lower_if_within_db + gap_db:
        return WorstFound(several, best, best, worst)
    return WorstFound(several, best, taken, its_worst)


def _nearly_worst(
    problem: Problem, around: tuple[Displacement, ...], placement: Placement
) -> tuple[Displacement, ...]:
    """The displacements that cost most at this placement, and their opposites."""
    cost = [float(replace(problem, around=(off,)).objective_db(placement)) for off in around]
    most = [off for off, db in zip(around, cost, strict=True) if db >= max(cost) - _NEARLY_WORST_DB]
    opposite = [Displacement(-off.tilt_deg, -off.height_m, -off.x_m, off.other) for off in most]
    return tuple(dict.fromkeys([*most, *opposite]))


def _agreed(
    problem: Problem,
    tolerance: Tolerance,
    around: tuple[Displacement, ...],
    look: Callable[[Problem], SearchResult],
    gap_db: float,
) -> tuple[Problem, SearchResult, Worst | None]:
    """What looking at some displacements finds, more of them until its worst case agrees."""
    for _ in range(_ROUNDS):
        several = replace(problem, around=around)
        found = look(several)
        if found.placement is None:
            return several, found, None
        worst = worst_within(problem, found.placement, tolerance, gap_db=_OWN_SHARE * gap_db)
        bound = min(found.objective_db, worst.bound_db) - found.gap_db
        if worst.bound_db - bound <= gap_db or worst.displacement in around:
            break
        around = (*around, worst.displacement)
    return several, _proven(found, worst, bound, gap_db), worst


def _proven(found: SearchResult, worst: Worst, bound_db: float, gap_db: float) -> SearchResult:
    """The same placement with its worst case as objective, and the gap to a lower bound."""
    gap = max(0.0, worst.bound_db - bound_db)
    status = found.status if gap <= gap_db * (1.0 + 1e-9) else Status.CAPPED
    return replace(found, objective_db=worst.bound_db, gap_db=gap, status=status)


def _displacement(off: FloatArray, size: FloatArray) -> Displacement:
    """The displacement, exactly the tolerance where rounding alone parts it from that."""
    at_end = np.abs(off) > size * (1.0 - 1e-9)
    tilt, height, x = np.where(at_end, np.copysign(size, off), off).tolist()
    return Displacement(tilt, height, x)


def _sizes(off: Displacement) -> tuple[float, float, float]:
    return off.tilt_deg, off.height_m, off.x_m


def _placements(spots: FloatArray, boxes: Boxes, problem: Problem) -> Placements:
    """Placements at (n, 3) tilt, height, x, with the problem's one splay."""
    flipped, splay = boxes.flipped[0], problem.splay_deg[0]
    return Placements.of(spots[:, 2], spots[:, 1], spots[:, 0], flipped, splay)


def _look(problem: Problem, boxes: Boxes) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Upper bounds (b,); the objective at every box's centre and worst corner, and where."""
    upper = np.empty(len(boxes))
    corner = np.empty((len(boxes), 3))
    for start in range(0, len(boxes), _BATCH):
        part = slice(start, start + _BATCH)
        some = boxes.pick(np.arange(len(boxes))[part])
        at = pose(problem, some)
        upper[part], corner[part] = upper_bounds(
            enclose(problem, some, at), problem.objective, problem.row_share
        )
    spots = np.concatenate([boxes.centre, boxes.centre + corner * boxes.half])
    return upper, problem.objective_db(_placements(spots, boxes, problem)), spots


def _halved(boxes: Boxes, size: FloatArray) -> Boxes:
    """Each box cut in two where it is widest, as a share of the tolerance."""
    share = boxes.half / np.where(size > 0.0, size, np.inf)
    along = np.argmax(share, axis=1)
    index = np.arange(len(boxes))
    half = boxes.half.copy()
    half[index, along] *= 0.5
    step = np.zeros_like(half)
    step[index, along] = half[index, along]
    return Boxes(
        np.concatenate([boxes.centre - step, boxes.centre + step]),
        np.concatenate([half, half]),
        np.concatenate([boxes.piece] * 2),
        np.concatenate([boxes.flipped] * 2),
    )
