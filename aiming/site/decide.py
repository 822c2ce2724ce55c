"""Whether to move the box, and where to: decided on what the rows would gain over all that may be.

A move is advised where, over everything that may be if each reading is what it most likely is, it
is expected to take at least WORTH_DB off
the spread, the chance that it makes the spread larger is small, and no blunder is likelier than
none.  What may be turned to is what placement and rigging leave.
"""

from dataclasses import dataclass, replace

import numpy as np

from ..base.arrays import FloatArray
from ..speaker.speaker import Placement
from .estimate import Estimate, even

WORTH_DB = 0.5
"""A move that wins less is left; our own choice."""
WORSE = 0.02
"""A move that would make it worse in more than this share of what may be is left; our own."""
WORSE_BUT_ONE = 0.2
"""A move that would make it worse in more than this share, were any one of the microphones off, is
left: a slip that passes unseen looks like another pattern.  Our own choice."""
NO_WORSE_DB = 0.05
"""A spread larger by less than this counts as no worse."""
PLAN_WITHIN_DB = 1.0
"""The plan's own tilt is taken where no other wins more than this on it: to aim elsewhere rests on
a pattern other than its data, which levels at a few places tell badly.  Our own choice."""
COARSE_DEG, FINE_DEG = 1.0, 0.1
FARTHEST_DEG = 20.0
KEPT, KEPT_BUT_ONE = 256, 128


@dataclass(frozen=True)
class Move:
    """hung, target: where it hangs as far as known, and where it should.

    gain_db: expected, off the spread; worse: chance of a larger one
    """

    hung: Placement
    target: Placement
    gain_db: float
    worse: float

    @property
    def turn_deg(self) -> float:
        """How far the nose goes up."""
        return self.target.tilt_deg - self.hung.tilt_deg


@dataclass(frozen=True)
class Decision:
    """The best move found, whether it is advised, and if not why.

    why: "" where it is advised; else "gain", "chance", "one", "blunder", "unknown"
    now_db, after_db: expected spread as it hangs, and after the move where it is advised
    """

    hung: Placement
    move: Move | None
    why: str
    now_db: float
    after_db: float

    @property
    def advised(self) -> bool:
        """Whether the box is to be moved."""
        return self.move is not None and not self.why


def decide(found: Estimate, *, worth_db: float = WORTH_DB) -> Decision:
    """What to do about what was found."""
    prediction, plan = found.prediction, found.prediction.plan
    which = even(found.likeliest_weight, KEPT)
    draws = found.draws.pick(which)
    hung = replace(
        plan,
        tilt_deg=plan.tilt_deg + float(np.median(draws.tilt_deg)),
        height_m=plan.height_m + _known(found, "height"),
        x_m=plan.x_m + _known(found, "x"),
    )
    now = np.ptp(prediction.rows_db(draws), axis=-1)
    expected = float(now.mean())
    if not np.isfinite(expected):
        return Decision(hung, None, "unknown", expected, expected)

    def spreads(targets: FloatArray) -> FloatArray:
        """(d, t)"""
        turned = prediction.rows_db(draws, turned_deg=targets - hung.tilt_deg)
        return np.asarray(np.ptp(turned, axis=-1))

    allowed = _allowed(found, hung)
    if not len(allowed):
        return Decision(hung, None, "unknown", expected, expected)
    coarse = allowed[:: round(COARSE_DEG / FINE_DEG)]
    best = float(coarse[int(np.argmin(spreads(coarse).mean(axis=0)))])
    fine = allowed[np.abs(allowed - best) <= COARSE_DEG]
    fine = np.append(fine, _clipped(plan.tilt_deg, allowed))
    spread = spreads(fine)
    mean = spread.mean(axis=0)
    k = int(np.argmin(mean))
    if mean[-1] <= mean[k] + PLAN_WITHIN_DB:
        k = len(fine) - 1
    gain = now - spread[:, k]
    move = Move(
        hung,
        replace(hung, tilt_deg=float(fine[k])),
        float(gain.mean()),
        float((gain < -NO_WORSE_DB).mean()),
    )
    why = ""
    if move.gain_db < worth_db:
        why = "gain"
    elif not found.sound:
        why = "blunder"
    elif move.worse > WORSE:
        why = "chance"
    elif _worse_but_one(found, move) > WORSE_BUT_ONE:
        why = "one"
    after = expected if why else float(mean[k])
    return Decision(hung, move, why, expected, after)


def _worse_but_one(found: Estimate, move: Move) -> float:
    """The largest chance that a move makes it worse, were one microphone off."""
    chances = [0.0]
    for weight in found.slip_weights:
        draws = found.draws.pick(even(weight, KEPT_BUT_ONE))
        turned = found.prediction.rows_db(draws, turned_deg=np.array([0.0, move.turn_deg]))
        now, after = np.ptp(turned, axis=-1).T
        chances.append(float((after > now + NO_WORSE_DB).mean()))
    return max(chances)


def _known(found: Estimate, name: str) -> float:
    interval = found.interval(name)
    return 0.0 if interval is None else interval.value


def _allowed(found: Estimate, hung: Placement) -> FloatArray:
    """(t,) tilts that placement and rigging leave, ascending."""
    problem = found.prediction.problem
    near = hung.tilt_deg
    parts = []
    for low, high in problem.tilt_ranges(hung.flipped):
        start, end = max(low, near - FARTHEST_DEG), min(high, near + FARTHEST_DEG)
        if start <= end:
            parts.append(np.append(np.arange(start, end, FINE_DEG), end))
    tilts = np.concatenate(parts) if parts else np.zeros(0)
    if len(tilts) > 1:
        tilts = tilts[problem.allowed(hung.varied(tilt_deg=tilts))]
    return tilts


def _clipped(tilt: float, allowed: FloatArray) -> float:
    """The allowed tilt nearest to this one."""
    return float(allowed[int(np.argmin(np.abs(allowed - tilt)))])
