"""What follows the hand: the proven placement and the levels, and nothing that can wait.

The same searches and the same levels as `solve`, at a wider gap, without what explains the answer.
What of one loudspeaker does not depend on the others is kept as long as its own part of the
document stays the same.  Of several that are chosen together, only those are aimed anew whose own
part has changed since the hand rested; the others stay where the joint answer has them.
"""

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import TypeVar

from ..aim.problem import Problem
from ..aim.search import Status, lowest_within, search
from ..analysis.assemble import Solved, answer_of
from ..analysis.fill_alignment import mains_first
from ..analysis.problems import fixed, only_placement, searched_problem_of
from ..analysis.solve import Chosen, NoPlacementError, everyone_placed, gives_way, solve_problem
from ..analysis.together import ChosenTogether, re_aimed, with_hung
from ..results.answer import Answer
from ..scenario.scenario import Scenario
from ..speaker.speaker import Placement

HAND_GAP_DB = 0.3
"""How near to the best a placement is proven while something is held; the file's own at rest."""
_MOST_KEPT = 64
Kept = TypeVar("Kept")
_EVERYBODYS = ("units", "air", "aim", "together", "programme", "drawing_units")
"""Tables of the document that every loudspeaker hangs on."""


@dataclass
class Memo:
    """What was found for a loudspeaker, by all that it depends on."""

    questions: dict[str, Problem] = field(default_factory=dict)
    found: dict[str, Chosen] = field(default_factory=dict)

    def question(self, scenario: Scenario, name: str) -> Problem:
        """What the search is asked for this loudspeaker alone."""
        return _kept(
            self.questions,
            _depends_on(scenario, name),
            lambda: searched_problem_of(scenario, scenario.speaker(name)),
        )

    def chosen(self, scenario: Scenario, name: str) -> Chosen:
        """Where this loudspeaker is best alone.  Raises NoPlacementError."""
        return _kept(
            self.found,
            _depends_on(scenario, name),
            lambda: _searched(scenario, self.question(scenario, name), name),
        )


def _kept(memo: dict[str, Kept], key: str, made: Callable[[], Kept]) -> Kept:
    if key not in memo:
        if len(memo) >= _MOST_KEPT:
            del memo[next(iter(memo))]
        memo[key] = made()
    return memo[key]


def _depends_on(scenario: Scenario, name: str) -> str:
    """The document without the loudspeakers that do not move this one."""
    under = scenario.company.under(name)
    own = [one for one in scenario.document["speaker"] if one["name"] in (name, under)]
    rest = {key: of for key, of in scenario.document.items() if key not in ("variant", "title")}
    return json.dumps([name, {**rest, "speaker": own}], sort_keys=True)


@dataclass(frozen=True)
class Rested:
    """Where loudspeakers are set, by those that hang under no other.

    placements, gains_db: as they were told last
    own: what each hung on, of the document, when the hand rested
    """

    placements: dict[str, Placement]
    gains_db: dict[str, float]
    own: dict[str, str]

    @classmethod
    def at(cls, scenario: Scenario, told: Mapping[str, list[float]]) -> "Rested":
        """As `settings_of` told them."""
        own = {name: _own(scenario, name) for name in told}
        return cls(*_placements_and_gains(told), own)

    def moved(self, answer: Answer) -> "Rested":
        """As another answer has them, held against the same rest."""
        return Rested(*_placements_and_gains(settings_of(answer)), self.own)


def _placements_and_gains(
    told: Mapping[str, list[float]],
) -> tuple[dict[str, Placement], dict[str, float]]:
    placements = {
        name: Placement(x, height, tilt, flipped > 0.0, splay)
        for name, (x, height, tilt, flipped, splay, _) in told.items()
    }
    return placements, {name: one[-1] for name, one in told.items()}


def settings_of(answer: Answer) -> dict[str, list[float]]:
    """x, height, tilt, whether flipped, splay, gain of each that hangs under no other."""
    below = {one.hung_under: one for one in answer.speakers if one.hung_under is not None}
    return {
        one.name: [
            one.x_m,
            one.height_m,
            one.tilt_deg,
            float(one.orientation == "flipped"),
            one.tilt_deg - below[one.name].tilt_deg if one.name in below else 0.0,
            one.gain_db,
        ]
        for one in answer.speakers
        if one.hung_under is None
    }


def _own(scenario: Scenario, name: str) -> str:
    """What of the document a loudspeaker is aimed anew for while something is held."""
    under = scenario.company.under(name)
    own = [one for one in scenario.document["speaker"] if one["name"] in (name, under)]
    serves = {of for one in (name, under) if one for of in scenario.speaker(one).serves}
    rows = [one for one in scenario.document["seating"] if one["name"] in serves]
    rest = {key: scenario.document.get(key) for key in _EVERYBODYS}
    return json.dumps([own, rows, rest], sort_keys=True)


def _searched(scenario: Scenario, question: Problem, name: str) -> Chosen:
    if fixed(question):
        return Chosen(question, only_placement(question))
    solved = _solved(scenario, question, name)
    assert solved.taken.placement is not None
    return Chosen(question, solved.taken.placement, solved)


def _solved(scenario: Scenario, question: Problem, name: str) -> Solved:
    """As `solve` has it, without a search for what lies beyond the rigging, or for reasons."""
    if scenario.aim.at_worst:
        return solve_problem(scenario, question, name, beyond=False)
    gap = scenario.aim.gap_db
    best = search(question, gap_db=gap)
    if best.status is Status.INFEASIBLE and gives_way(scenario, question):
        return _solved(scenario, replace(question, softest_db=None), name)
    if best.placement is None:
        raise NoPlacementError(name, (), proven=best.status is Status.INFEASIBLE)
    within = scenario.aim.lower_if_within_db
    return Solved(best, lowest_within(question, best, within_db=within, gap_db=gap))


@dataclass(frozen=True)
class InHand:
    """answer: placement, levels by row, loads; no windows, check positions, cautions, reasons.

    anew: who was aimed anew with the others kept where they were; gap_db: what that could still
    gain, None where it is not proven
    """

    answer: Answer
    anew: tuple[str, ...] = ()
    gap_db: float | None = None


def answer_in_hand(scenario: Scenario, memo: Memo, rested: Rested | None = None) -> InHand:
    """What follows the hand.

    rested: where several are set, once that is known; until then each is where it is best alone
    Raises NoPlacementError.
    """
    as_set = scenario
    gap = max(HAND_GAP_DB, scenario.aim.gap_db)
    scenario = replace(scenario, aim=replace(scenario.aim, gap_db=gap))
    names = [name for name in mains_first(scenario) if name not in scenario.company.hung_under]
    if rested is None or len(names) == 1 or not scenario.company.all_at_once:
        chosen = {name: memo.chosen(scenario, name) for name in names}
        return InHand(answer_of(as_set, everyone_placed(scenario, chosen), in_hand=True))
    questions = {name: memo.question(scenario, name) for name in names}
    anew = tuple(name for name in names if rested.own.get(name) != _own(scenario, name))
    together, left_db = _aimed(scenario, questions, rested, anew, memo)
    chosen = {name: Chosen(of, together.placements[name]) for name, of in questions.items()}
    found = everyone_placed(scenario, chosen)
    return InHand(answer_of(as_set, found, together, in_hand=True), anew, left_db)


def _aimed(
    scenario: Scenario,
    questions: dict[str, Problem],
    rested: Rested,
    anew: tuple[str, ...],
    memo: Memo,
) -> tuple[ChosenTogether, float | None]:
    """These aimed anew for the sum, the others kept; where that fails, each as it is best alone."""
    placements, gains = dict(rested.placements), dict(rested.gains_db)
    for name in set(questions) - set(placements):
        placements[name] = memo.chosen(scenario, name).placement
        gains[name] = scenario.speaker(name).gain_db
    if not anew:
        return ChosenTogether(placements, with_hung(scenario, gains), proof=None), None

    def tried(options: dict[str, list[Placement]]) -> tuple[ChosenTogether, float | None] | None:
        return re_aimed(scenario, questions, placements, gains, options, gap_db=scenario.aim.gap_db)

    found = tried({name: [] for name in anew})
    if found is not None:
        return found
    alone = {name: memo.chosen(scenario, name).placement for name in anew}
    found = tried({name: [placement] for name, placement in alone.items()})
    if found is not None:
        return found
    return ChosenTogether(placements | alone, with_hung(scenario, gains), proof=None), None
