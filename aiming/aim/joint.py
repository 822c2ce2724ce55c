"""Several loudspeakers chosen together, and what of the choice is proven.

Found: starts spread over everything, and the one-by-one answer, are polished with all unknowns at
once; what a proof turns up that is better is polished again.  Of equals the lowest placement and
the least gain is taken.  Proven, each to its own gap: the gains for the placements taken; every
single loudspeaker re-aimed with its own gain; all of them over everything, as far as it gets; and
where that is not to the gap, every two neighbours re-aimed with their gains.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum
from itertools import pairwise

import numpy as np

from ..speaker.speaker import Placement
from .joint_polish import Polished, polished
from .joint_problem import GAIN, LIMIT_SLACK_DB, JointProblem, X, allowed
from .joint_search import MOST_BOXES, JointFound, pinned, search_together
from .joint_starts import starts

BOXES_PER_SECOND = 3_000
"""What --prove SECONDS buys: boxes are counted, not time, so that a file always gives the same.
From the fourth loudspeaker on a box takes longer: it counts once more for each."""
DEFAULT_BOXES = 6_000
MOST_AT_ONCE = 3
"""More loudspeakers than this are not proven over everything unless that is asked for: what could
be bounded while somebody waits proves nothing."""
PAIR_BOXES = 2_000
"""For each two neighbours, where nobody asks for more."""
GAINS_GAP_DB = 0.01
EQUAL_DB = 0.005
"""Settings this close to the best are its equals: the lowest with the least gain is taken."""
AGREE_DB = 0.05
MORE_CEILING_DB = 4.0
"""How much higher a ceiling is tried, to say what it costs."""
_STARTS = 14
_FEW_STARTS = 2
_TURNS = 4
_BETTER_DB = 2.0 * EQUAL_DB
"""What is better by less is an equal: thrift would give it back."""


class JointStatus(Enum):
    """How far the proof over everything came."""

    PROVEN = "nothing within these ranges is better by more than the gap"
    CAPPED = "stopped at the number of boxes, gap as reached"
    NOT_TRIED = "not tried over everything"


@dataclass(frozen=True)
class JointProof:
    """What is proven of the setting taken, in dB of the objective.

    gap_db: nothing within the ranges is better by more; None where that was not tried
    gains_gap_db: no other gains of the same placements are; None where no gain is open
    each_alone_gap_db: no single loudspeaker re-aimed, with its own gain, is better by more
    pairs_gap_db: no two neighbours re-aimed with their gains are; None where gap_db is what was
        asked for, or where there are only two
    starts, agreeing: how many distinct starts there were, and how many ended within AGREE_DB of the
        best: that many agree proves nothing
    boxes: how many were bounded for gap_db
    """

    status: JointStatus
    gap_db: float | None
    gains_gap_db: float | None
    each_alone_gap_db: float
    pairs_gap_db: float | None
    starts: int
    agreeing: int
    boxes: int


@dataclass(frozen=True)
class JointSolved:
    """placements and gains_db by member, and what they come to.

    more_ceiling_db: objective that ceilings higher by MORE_CEILING_DB give; None where none is
    """

    placements: tuple[Placement, ...]
    gains_db: tuple[float, ...]
    objective_db: float
    proof: JointProof
    more_ceiling_db: float | None = None


@dataclass(frozen=True, eq=False)
class JointStart:
    """placements and gains_db by member: an answer to start from."""

    placements: tuple[Placement, ...]
    gains_db: tuple[float, ...]


def solve_together(
    question: JointProblem,
    one_by_one: JointStart | None = None,
    *,
    gap_db: float,
    most_boxes: int | None = None,
) -> JointSolved | None:
    """The best setting of all loudspeakers together; None where none was found that is allowed.

    most_boxes: how many the proof over everything, and then that of the pairs, may bound; None for
        what takes some seconds
    """
    found = _from_starts(question, () if one_by_one is None else (one_by_one,), most=_STARTS)
    kept = _keeping(question, found)
    if kept is None:
        return None
    agreeing = int((found.objective_db < float(kept.objective_db[0]) + AGREE_DB).sum())
    closer = max(0.5 * gap_db, gap_db - EQUAL_DB)
    whole = search_together(question, kept, gap_db=closer, most_boxes=_boxes(question, most_boxes))
    best = _better(question, kept, whole) or kept
    taken = _thrifty(question, best.pick(slice(0, 1)))
    each: list[JointFound] = []
    pairs: list[JointFound] = []
    if whole.proven:
        taken, gains = _gains(question, taken)
    else:
        taken, gains, each, pairs = _in_parts(question, taken, closer, most_boxes)
    value = float(taken.objective_db[0])
    tried = np.isfinite(whole.gap_db)
    status = JointStatus.PROVEN if whole.proven else JointStatus.CAPPED
    proof = JointProof(
        status=status if tried else JointStatus.NOT_TRIED,
        gap_db=_gap_db(value, whole) if tried else None,
        gains_gap_db=None if gains is None else _gap_db(value, gains),
        # What holds for everything holds for each.
        each_alone_gap_db=max(_gap_db(value, one) for one in each or [whole]),
        pairs_gap_db=max((_gap_db(value, one) for one in pairs), default=None),
        starts=len(found.objective_db) - (one_by_one is not None),
        agreeing=agreeing,
        boxes=whole.boxes,
    )
    setting = _setting(question, taken)
    return JointSolved(
        placements=setting.placements,
        gains_db=setting.gains_db,
        objective_db=value,
        proof=proof,
        more_ceiling_db=_with_higher_ceilings(question, taken, found),
    )


def best_of_starts(question: JointProblem, given: Sequence[JointStart]) -> JointStart | None:
    """The best setting that these and a few starts lead to, nothing proven; None as above."""
    kept = _keeping(question, _from_starts(question, given, most=_FEW_STARTS))
    return None if kept is None else _setting(question, kept)


def _boxes(question: JointProblem, asked: int | None) -> int:
    """How many the proof over everything may bound."""
    count = len(question.members)
    if asked is None:
        return DEFAULT_BOXES if count <= MOST_AT_ONCE else 0
    return asked // max(1, count - 2)


def best_gains(question: JointProblem, at: JointStart) -> tuple[float, ...] | None:
    """The best gains of these placements, to within GAINS_GAP_DB; None where none is open."""
    now = _set_to(question, at)
    every = tuple(range(len(question.members)))
    free = pinned(question, now.settings[0], now.flipped[0], moving=(), gains=every)
    start = _keeping(free, polished(free, now.settings, now.flipped))
    if start is None:
        return None
    _, found = _gains(free, start)
    return None if found is None else tuple(found.settings[:, GAIN].tolist())


def aimed_anew(
    question: JointProblem, at: JointStart, options: dict[int, list[Placement]], gap_db: float
) -> tuple[JointStart, float | None] | None:
    """Some members with their own gains, one after the other, the rest kept where they are.

    options: by member that is aimed anew, placements that it may begin at besides its own
    With the proven gap, dB, None where several were aimed or the search was capped; None in place
    of both where nothing was found that keeps every limit.
    """
    now, gap = _set_to(question, at), None
    for one, others in options.items():
        # What fills it, and what fills that, may have to be turned down to its ceiling.
        own = {one}
        for fill, main, _ in question.fills:
            own |= {fill} if main in own else set()
        turned = tuple(sorted(own))
        near = pinned(question, now.settings[0], now.flipped[0], moving=(one,), gains=turned)
        count = 1 + len(others)
        settings, flipped = now.settings.repeat(count, axis=0), now.flipped.repeat(count, axis=0)
        for place, other in enumerate(others, start=1):
            settings[place, one] = question.members[one].setting(other, settings[0, one, GAIN])
            flipped[place, one] = bool(other.flipped)
        settings = np.clip(settings, near.ranges[..., 0], near.ranges[..., 1])
        start = _keeping(near, polished(near, settings, flipped))
        if start is None:
            return None
        start = start.pick(slice(0, 1))
        alone = pinned(question, start.settings[0], start.flipped[0], moving=(one,), gains=(one,))
        found = search_together(alone, start, gap_db=gap_db)
        now = _as_polished(found)
        gap = found.gap_db if found.proven and len(options) == 1 else None
    return _setting(question, now), gap


def _set_to(question: JointProblem, at: JointStart) -> Polished:
    own = [
        member.setting(placement, gain)
        for member, placement, gain in zip(
            question.members, at.placements, at.gains_db, strict=True
        )
    ]
    turns = [placement.flipped for placement in at.placements]
    count = len(turns)
    return Polished(
        np.array(own).reshape(1, count, -1), np.array([turns]), np.zeros(1), np.zeros(1)
    )


def _setting(question: JointProblem, now: Polished) -> JointStart:
    """The first of these as placements and gains."""
    placements = tuple(
        member.placements(now.settings[:, one], now.flipped[:, one]).at(0)
        for one, member in enumerate(question.members)
    )
    return JointStart(placements, tuple(now.settings[0, :, GAIN].tolist()))


def _as_polished(found: JointFound) -> Polished:
    """The one setting that a search found, which keeps every limit."""
    return Polished(
        found.settings[np.newaxis],
        found.flipped[np.newaxis],
        np.array([found.objective_db]),
        np.zeros(1),
    )


def _gap_db(value_db: float, found: JointFound) -> float:
    """How far the setting taken is proven, by a search that may have found its equal."""
    return max(0.0, value_db - (found.objective_db - found.gap_db))


def _from_starts(question: JointProblem, given: Sequence[JointStart], *, most: int) -> Polished:
    """Every start led to where no small step makes it better, best first."""
    spread = starts(question, most=most)
    settings, flipped = spread.settings, spread.flipped
    own = [_set_to(question, one) for one in given]
    settings = np.concatenate([settings, *(one.settings for one in own)])
    flipped = np.concatenate([flipped, *(one.flipped for one in own)])
    if len(settings) == 0:
        return Polished(settings, flipped, np.zeros(0), np.zeros(0))
    led = polished(question, settings, flipped)
    if not own:
        return led
    # As they are, too: no step may lead away from the limits that they keep.
    stands = len(spread.settings)
    as_they_are = polished(question, settings[stands:], flipped[stands:], rounds=0)
    return _joined(led, as_they_are)


def _joined(one: Polished, other: Polished) -> Polished:
    return Polished(
        np.concatenate([one.settings, other.settings]),
        np.concatenate([one.flipped, other.flipped]),
        np.concatenate([one.objective_db, other.objective_db]),
        np.concatenate([one.over_db, other.over_db]),
    )


def _keeping(question: JointProblem, found: Polished) -> Polished | None:
    """Those that keep every limit, best first; None where none does."""
    good = np.isfinite(found.objective_db) & (found.over_db <= LIMIT_SLACK_DB)
    good[good] = allowed(question, found.settings[good], found.flipped[good])
    kept = found.pick(good)
    if len(kept.objective_db) == 0:
        return None
    return kept.pick(np.argsort(kept.objective_db, kind="stable"))


def _better(question: JointProblem, now: Polished, found: JointFound) -> Polished | None:
    """What a proof turned up, polished with all unknowns; None where it is no better."""
    if found.objective_db >= float(now.objective_db[0]) - _BETTER_DB:
        return None
    there = polished(question, found.settings[np.newaxis], found.flipped[np.newaxis], reach=0.2)
    kept = _keeping(question, there)
    if kept is not None and kept.objective_db[0] <= found.objective_db:
        return kept
    return _as_polished(found)


def _in_parts(
    question: JointProblem, now: Polished, gap_db: float, asked: int | None
) -> tuple[Polished, JointFound | None, list[JointFound], list[JointFound]]:
    """What no gains, no single one and no two neighbours make better, with all three's proofs.

    asked: how many boxes each two neighbours share, None for PAIR_BOXES each
    """
    singles = [(one,) for one in range(len(question.members))]
    for turn in range(_TURNS):
        now, gains = _gains(question, now)
        each = _anew(question, now, singles, gap_db, MOST_BOXES)
        better = _better(question, now, _best_of(each))
        pairs: list[JointFound] = []
        last = turn == _TURNS - 1
        if (better is None or last) and len(singles) > 2:
            parties = _neighbours(question, now)
            boxes = PAIR_BOXES if asked is None else max(PAIR_BOXES, asked // len(parties))
            pairs = _anew(question, now, parties, gap_db, boxes)
            better = _better(question, now, _best_of(pairs))
        if better is None or last:
            break
        now = better
    return now, gains, each, pairs


def _neighbours(question: JointProblem, now: Polished) -> list[tuple[int, ...]]:
    """Every two that follow one another along the section, and every fill with its main."""
    along = np.argsort(now.settings[0, :, X], kind="stable").tolist()
    pairs = {(min(pair), max(pair)) for pair in pairwise(along)}
    return sorted(pairs | {(main, fill) for fill, main, _ in question.fills})


def _anew(
    question: JointProblem,
    now: Polished,
    parties: Sequence[tuple[int, ...]],
    gap_db: float,
    most_boxes: int,
) -> list[JointFound]:
    """Each party of loudspeakers re-aimed with their gains, the others kept, and the proofs."""
    found = []
    for party in parties:
        own = pinned(question, now.settings[0], now.flipped[0], moving=party, gains=party)
        found.append(search_together(own, now, gap_db=gap_db, most_boxes=most_boxes))
    return found


def _best_of(found: Sequence[JointFound]) -> JointFound:
    return min(found, key=lambda one: one.objective_db)


def _gains(question: JointProblem, now: Polished) -> tuple[Polished, JointFound | None]:
    """The best gains of these placements, proven; None where none is open."""
    every = tuple(range(len(question.members)))
    if all(low == high for low, high in (one.gain_db for one in question.members)):
        return now, None
    at = pinned(question, now.settings[0], now.flipped[0], moving=(), gains=every)
    found = search_together(at, now, gap_db=GAINS_GAP_DB - EQUAL_DB)
    if found.objective_db < float(now.objective_db[0]) - EQUAL_DB:
        now = _as_polished(found)
    return now, found


def _thrifty(question: JointProblem, best: Polished) -> Polished:
    """Of the best one's equals the lowest, with the least gain."""
    most = float(best.objective_db[0]) + EQUAL_DB
    lower = polished(
        question, best.settings, best.flipped, within_db=most - 1e-4, reach=0.3, rounds=20
    )
    kept = _keeping(question, lower)
    if kept is None or kept.objective_db[0] > most:
        return best
    return kept


def _with_higher_ceilings(question: JointProblem, taken: Polished, found: Polished) -> float | None:
    """What ceilings higher by MORE_CEILING_DB would give; None where there is none."""
    if not question.fills:
        return None
    higher = question.with_ceilings(MORE_CEILING_DB)
    settings = np.concatenate([taken.settings, found.settings[:5]])
    flipped = np.concatenate([taken.flipped, found.flipped[:5]])
    kept = _keeping(higher, polished(higher, settings, flipped))
    value = float(taken.objective_db[0])
    return value if kept is None else min(value, float(kept.objective_db[0]))
