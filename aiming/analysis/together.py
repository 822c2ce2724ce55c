"""Several loudspeakers chosen for what is heard of all of them, over all rows."""

from dataclasses import dataclass, replace

import numpy as np

from ..aim import measures
from ..aim.joint import (
    BOXES_PER_SECOND,
    MORE_CEILING_DB,
    JointProof,
    JointStart,
    aimed_anew,
    best_gains,
    best_of_starts,
    solve_together,
)
from ..aim.joint_problem import JointProblem, Member
from ..aim.problem import Problem
from ..aim.setting_window import Spread
from ..base.arrays import FloatArray
from ..field.levels import power_sum_db
from ..results.answer import SpeakerRows
from ..results.groups import HigherCeilings, TogetherProof
from ..results.serialise import known
from ..scenario.scenario import Scenario
from ..speaker.groups import CHOSEN_GAIN_DB
from ..speaker.speaker import Placement, Placements, Range, Speaker
from .fill_alignment import Matched, mains_first
from .placed_speaker import Placed
from .problems import judged_rows, offset_db, picked_shadow


@dataclass(frozen=True)
class ChosenTogether:
    """Placements and gains by name, chosen for the sum, and what is proven of them.

    proof: None where only gains were chosen for given placements
    one_by_one_db: spread of all rows with every loudspeaker aimed alone and fills levelled at their
        handover rows
    higher_ceilings: what higher ceilings would give, None where there is none
    none_found: whether nothing was found that keeps every limit: then one by one stands, and
        gains_db is None, for fills are matched as they are then
    """

    placements: dict[str, Placement]
    gains_db: dict[str, float] | None
    proof: TogetherProof | None
    one_by_one_db: float | None = None
    higher_ceilings: HigherCeilings | None = None
    none_found: bool = False


def chosen_together(
    scenario: Scenario,
    questions: dict[str, Problem],
    placements: dict[str, Placement],
    alone: Matched,
    *,
    prove_s: float | None = None,
) -> ChosenTogether | None:
    """All loudspeakers chosen together, from where each is best alone.

    questions, placements: of those that do not hang under another, by name
    alone: everything as it is set one by one
    prove_s: as of `solve`
    None where the file asks for one by one, or where there is nothing to choose.
    """
    if not _asked(scenario, questions):
        return None
    question = question_of(scenario, questions, alone)
    if not question.open:
        return None
    start = _start(question, placements, alone)
    most_boxes = None if prove_s is None else max(1, round(BOXES_PER_SECOND * prove_s))
    found = solve_together(question, start, gap_db=scenario.aim.gap_db, most_boxes=most_boxes)
    if found is None:
        return ChosenTogether(placements, None, proof=None, none_found=True)
    names = [member.name for member in question.members]
    levels = _sum_db(scenario, alone)
    return ChosenTogether(
        placements=dict(zip(names, found.placements, strict=True)),
        gains_db=with_hung(scenario, dict(zip(names, found.gains_db, strict=True))),
        proof=_told(found.proof),
        one_by_one_db=known(measures.spread_db(levels.mean(axis=0, keepdims=True))),
        higher_ceilings=None
        if found.more_ceiling_db is None
        else HigherCeilings(MORE_CEILING_DB, found.more_ceiling_db),
    )


@dataclass(frozen=True)
class NamedSetting:
    """Where loudspeakers stand and how loud they play, by name."""

    placements: dict[str, Placement]
    gains_db: dict[str, float]


def found_together(
    scenario: Scenario,
    questions: dict[str, Problem],
    placements: dict[str, Placement],
    alone: Matched,
    near: NamedSetting,
) -> ChosenTogether | None:
    """The same as chosen_together finds from near a setting of these loudspeakers; not proven."""
    if not _asked(scenario, questions):
        return None
    question = question_of(scenario, questions, alone)
    if not question.open:
        return None
    names = [member.name for member in question.members]
    start = _start(question, placements, alone)
    there = [near.placements.get(name, placements[name]) for name in names]
    gains = [
        near.gains_db.get(name, gain) for name, gain in zip(names, start.gains_db, strict=True)
    ]
    found = best_of_starts(question, (start, JointStart(tuple(there), tuple(gains))))
    if found is None:
        return ChosenTogether(placements, None, proof=None, none_found=True)
    return ChosenTogether(
        placements=dict(zip(names, found.placements, strict=True)),
        gains_db=with_hung(scenario, dict(zip(names, found.gains_db, strict=True))),
        proof=None,
    )


def _told(proof: JointProof) -> TogetherProof:
    return TogetherProof(**{**vars(proof), "status": proof.status.value})


def gains_together(
    scenario: Scenario,
    questions: dict[str, Problem],
    placements: dict[str, Placement],
    alone: Matched,
) -> ChosenTogether | None:
    """The open gains of given placements, chosen for the sum; None where none is open."""
    if not _asked(scenario, questions):
        return None
    ranges = [gain_range_db(scenario, scenario.speaker(name)) for name in questions]
    if all(low == high for low, high in ranges):
        return None
    question = question_of(scenario, questions, alone)
    found = best_gains(question, _start(question, placements, alone))
    if found is None:
        return None
    names = [member.name for member in question.members]
    gains = with_hung(scenario, dict(zip(names, found, strict=True)))
    return ChosenTogether(placements, gains, proof=None)


def re_aimed(
    scenario: Scenario,
    questions: dict[str, Problem],
    placements: dict[str, Placement],
    gains_db: dict[str, float],
    options: dict[str, list[Placement]],
    *,
    gap_db: float,
) -> tuple[ChosenTogether, float | None] | None:
    """Some loudspeakers aimed anew one after the other, each for the sum with the others kept.

    options: those to aim anew, by name, and where each may begin besides where it is
    With what is left to gain by one of them alone, dB, None where that is not proven; None in place
    of both where nothing was found that keeps every limit.  The least level is not looked at.
    """
    names = [name for name in mains_first(scenario) if name in questions]
    members = tuple(_member(scenario, questions[name], name, names) for name in names)
    found = aimed_anew(
        JointProblem(members, objective=scenario.aim.objective),
        JointStart(tuple(placements[of] for of in names), tuple(gains_db[of] for of in names)),
        {names.index(of): at for of, at in options.items()},
        gap_db,
    )
    if found is None:
        return None
    at, gap = found
    gains = with_hung(scenario, dict(zip(names, at.gains_db, strict=True)))
    return ChosenTogether(dict(zip(names, at.placements, strict=True)), gains, proof=None), gap


def question_of(scenario: Scenario, questions: dict[str, Problem], alone: Matched) -> JointProblem:
    """What the joint search is asked: no row softer than the softest is one by one."""
    order = [name for name in mains_first(scenario) if name in questions]
    members = tuple(_member(scenario, questions[name], name, order) for name in order)
    softest = known(_sum_db(scenario, alone).mean(axis=0).min())
    return JointProblem(members, objective=scenario.aim.objective, softest_db=softest)


def spread_of_all(
    scenario: Scenario, at: Placed, by_speaker: dict[str, SpeakerRows]
) -> Spread | None:
    """The spread of all by power when this one, with what hangs under it, is moved.

    None where it is the only one, or where each is aimed by itself.
    """
    own = {at.speaker.name, scenario.company.under(at.speaker.name)}
    others = [rows.levels_db for name, rows in by_speaker.items() if name not in own]
    if not others or not scenario.company.all_at_once:
        return None
    member = _member(scenario, at.question, at.speaker.name, [])
    rest = power_sum_db(np.stack(others))[:, judged_rows(scenario)]

    def spread_db(placements: Placements) -> FloatArray:
        levels, _ = member.heard(placements)
        levels = levels + at.speaker.gain_db
        whole = power_sum_db(np.stack(np.broadcast_arrays(levels, rest)))
        value = measures.spread_db(whole)
        return np.where(np.isnan(value), np.inf, value)

    return spread_db


def _sum_db(scenario: Scenario, alone: Matched) -> FloatArray:
    """(bands, rows) of all by power, at the rows that they are judged on."""
    whole = power_sum_db(np.stack([one.levels_db for one in alone.by_speaker.values()]))
    return whole[:, judged_rows(scenario)]


def _member(scenario: Scenario, problem: Problem, name: str, order: list[str]) -> Member:
    speaker, judged = scenario.speaker(name), judged_rows(scenario)
    under, below = problem.under, scenario.company.under(name)
    if under is not None and below is not None:
        under = replace(under, shadow=picked_shadow(scenario, judged, scenario.speaker(below)))
    fill = scenario.company.fills.get(name)
    return Member(
        name=name,
        problem=replace(
            problem,
            rows=scenario.rows.pick(judged),
            shadow=picked_shadow(scenario, judged, speaker),
            objective="worst band",
            softest_db=None,
            under=under,
        ),
        output_db=offset_db(speaker, scenario.aim.bands_hz) - speaker.gain_db,
        gain_db=gain_range_db(scenario, speaker),
        fills=None if fill is None or fill.main not in order else order.index(fill.main),
        # A gain that the file gives stays; whether it keeps the ceiling is judged afterwards.
        ceiling_db=np.inf if fill is None or fill.gain_given else fill.ceiling_db,
    )


def gain_range_db(scenario: Scenario, speaker: Speaker) -> Range:
    """What is left to choose of its gain."""
    given = scenario.company.gain_range_db.get(speaker.name)
    if given is not None:
        return given
    fill = scenario.company.fills.get(speaker.name)
    if fill is not None and not fill.gain_given:
        return CHOSEN_GAIN_DB
    return (speaker.gain_db, speaker.gain_db)


def _asked(scenario: Scenario, questions: dict[str, Problem]) -> bool:
    """Whether there are several to choose together, and the file wants them so."""
    several = len(questions) > 1 and scenario.company.all_at_once
    return several and not (scenario.aim.at_worst and scenario.aim.tolerance is not None)


def _start(question: JointProblem, placements: dict[str, Placement], alone: Matched) -> JointStart:
    """One by one, gains brought into their ranges."""
    names = [member.name for member in question.members]
    gains = [
        min(max(alone.scenario.speaker(member.name).gain_db, member.gain_db[0]), member.gain_db[1])
        for member in question.members
    ]
    return JointStart(tuple(placements[name] for name in names), tuple(gains))


def with_hung(scenario: Scenario, gains_db: dict[str, float]) -> dict[str, float]:
    """What hangs under a loudspeaker is turned up and down with it."""
    found = dict(gains_db)
    for name, gain in gains_db.items():
        below = scenario.company.under(name)
        if below is not None:
            by = gain - scenario.speaker(name).gain_db
            found[below] = scenario.speaker(below).gain_db + by
    return found
