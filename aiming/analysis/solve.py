"""The whole job on one page: a scenario in, an answer out."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from ..aim.limits import Relief, reliefs
from ..aim.problem import Problem
from ..aim.search import Status, lowest_within, search
from ..aim.tolerance import WorstFound
from ..base.errors import AimingError, Fault, ScenarioError
from ..base.units import length_text
from ..base.version import VERSION
from ..cautions.declare import DECLARED, Told
from ..cautions.general import NO_PLACEMENT
from ..cautions.sense import __name__ as SENSE
from ..results.answer import SCHEMA, Answer, RowsAnswer, Together
from ..results.serialise import plain
from ..scenario.scenario import Scenario
from ..speaker.speaker import Hang, Placement, RangeName, Speaker
from .assemble import Solved, answer_of, heard_together
from .fill_alignment import Matched, matched
from .placed_speaker import Placed, placed, rows_of_speaker
from .problems import fixed, only_placement, problem_of, searched_problem_of
from .rigging_reach import beyond_reach
from .tolerance import best_at_worst

if TYPE_CHECKING:
    from .together import NamedSetting


class NoPlacementError(AimingError):
    """No placement of a loudspeaker meets the limits; says what each alone would have to become."""

    exit_code = 3

    def __init__(
        self,
        speaker: str,
        found: tuple[Relief, ...],
        *,
        proven: bool = True,
        slips: tuple[str, ...] = (),
    ) -> None:
        self.speaker = speaker
        self.reliefs = found
        self.slips = slips
        none = "no placement meets the limits"
        if not proven:
            none = "no placement was found that meets the limits before the search's cap"
        lines = [f"loudspeaker {speaker}: {none}"]
        lines += [f"  {relief.text}" for relief in found]
        if not found:
            lines.append("  no single limit is enough: more than one would have to be loosened")
        lines += [f"  likely a slip: {slip}" for slip in slips]
        super().__init__("\n".join(lines))

    def to_dict(self, *, title: str) -> dict[str, Any]:
        """The answer's shape with nothing in it but why there is none."""
        stop = NO_PLACEMENT.made(Told(str(self)))
        return {
            "schema": SCHEMA,
            "version": VERSION,
            "title": title,
            "speakers": [],
            "together": None,
            "choices": [],
            "rows": [],
            "cautions": [plain(stop)],
        }


@dataclass(frozen=True)
class Chosen:
    """Where a loudspeaker, with what hangs under it, is to be; solved is None for a given place."""

    question: Problem
    placement: Placement
    solved: Solved | None = None

    def moved(self, placement: Placement) -> "Chosen":
        """The same loudspeaker elsewhere, chosen for what all give together."""
        if self.solved is None or placement is self.placement:
            return self
        value = float(self.question.objective_db(placement))
        taken = replace(self.solved.taken, placement=placement, objective_db=value)
        return Chosen(self.question, placement, replace(self.solved, taken=taken))


def solve(scenario: Scenario, *, prove_s: float | None = None, choices: bool = True) -> Answer:
    """Find the best placement of every loudspeaker, and prove that it is the best.

    What the placement leaves as a range is chosen, on the rows that the loudspeaker serves, then
    for all heard together.  With no range left the one placement is evaluated.

    Parameters
    ----------
    scenario : Scenario
        From `aiming.load`.
    prove_s : float, optional
        About how long the joint proof may take on an ordinary machine, s.  It is turned into a
        number of boxes, BOXES_PER_SECOND each, so that the answer does not hang on the machine.
    choices : bool
        Whether the other decisions are solved as well, to stand beside the one taken.

    Returns
    -------
    Answer
        Lengths in m, angles in degrees, levels in dB; rows as arrays (rows,) and (bands, rows).

    Raises
    ------
    NoPlacementError
        Where a loudspeaker has no placement that meets the limits.
    """
    chosen = alone = solve_alone(scenario)
    together = None
    if len(alone) > 1:
        from .together import chosen_together

        together = chosen_together(scenario, *_alone(scenario, alone), prove_s=prove_s)
    if together is not None:
        chosen = {name: one.moved(together.placements[name]) for name, one in alone.items()}
    answer = answer_of(scenario, everyone_placed(scenario, chosen), together)
    return _with_choices(answer, alone) if choices else answer


def solve_alone(
    scenario: Scenario, known: Mapping[str, Chosen] | None = None, *, beyond: bool = True
) -> dict[str, Chosen]:
    """Every loudspeaker's best placement on the rows it serves, by name.

    known: of those that were solved before; beyond: as in solve_problem
    """
    chosen: dict[str, Chosen] = {}
    for speaker in scenario.speakers:
        if speaker.name in scenario.company.hung_under:
            continue
        if known and speaker.name in known:
            chosen[speaker.name] = known[speaker.name]
            continue
        question = searched_problem_of(scenario, speaker)
        if fixed(question):
            chosen[speaker.name] = Chosen(question, only_placement(question))
            continue
        solved = solve_problem(scenario, question, speaker.name, beyond=beyond)
        assert solved.taken.placement is not None
        chosen[speaker.name] = Chosen(question, solved.taken.placement, solved)
    return chosen


def _alone(
    scenario: Scenario, chosen: dict[str, Chosen]
) -> tuple[dict[str, Problem], dict[str, Placement], Matched]:
    """Questions, placements, and what is heard, one by one."""
    found = everyone_placed(scenario, chosen)
    heard = {at.speaker.name: rows_of_speaker(scenario, at) for at, _ in found}
    return (
        {name: one.question for name, one in chosen.items()},
        {name: one.placement for name, one in chosen.items()},
        matched(scenario, heard),
    )


def evaluate(scenario: Scenario, *, choices: bool = True) -> Answer:
    """Give the answer for the one placement that the scenario gives.

    Parameters
    ----------
    scenario : Scenario
        With one number for every x, height or trim, tilt and splay, and one orientation.
    choices : bool
        As in `solve`.

    Returns
    -------
    Answer
        As from `solve`; what only a search can tell is None.

    Raises
    ------
    ScenarioError
        Where a range, or "either", is left.
    """
    faults = [fault for speaker in scenario.speakers for fault in _left_open(scenario, speaker)]
    if faults:
        raise ScenarioError(faults)
    questions = {
        speaker.name: searched_problem_of(scenario, speaker)
        for speaker in scenario.speakers
        if speaker.name not in scenario.company.hung_under
    }
    chosen = {name: Chosen(of, only_placement(of)) for name, of in questions.items()}
    together = None
    if len(chosen) > 1:
        from .together import gains_together

        together = gains_together(scenario, *_alone(scenario, chosen))
    answer = answer_of(scenario, everyone_placed(scenario, chosen), together)
    return _with_choices(answer, chosen) if choices else answer


def _with_choices(answer: Answer, alone: Mapping[str, Chosen]) -> Answer:
    """The answer with the other decisions beside it; alone: each as it is best by itself."""
    from .choices import choices_of

    choices = choices_of(answer)
    if len(answer.speakers) > 1:
        from .joint_choices import choices_of_all

        choices += choices_of_all(answer, alone)
    return replace(answer, choices=choices)


def heard_when_chosen(
    scenario: Scenario, near: "NamedSetting", known: Mapping[str, Chosen]
) -> tuple[RowsAnswer, Together]:
    """What all give once they are chosen from near these settings: found, and nothing proven.

    known: as in solve_alone.  Raises NoPlacementError.
    """
    from .together import found_together

    chosen = solve_alone(scenario, known, beyond=False)
    questions, placements, alone = _alone(scenario, chosen)
    together = found_together(scenario, questions, placements, alone, near)
    if together is not None:
        chosen = {name: one.moved(together.placements[name]) for name, one in chosen.items()}
    found = everyone_placed(scenario, chosen)
    heard = {at.speaker.name: rows_of_speaker(scenario, at) for at, _ in found}
    gains = None if together is None else together.gains_db
    set_ = matched(scenario, heard, gains_db=gains)
    return heard_together(set_.scenario, set_.by_speaker)


def everyone_placed(
    scenario: Scenario, chosen: dict[str, Chosen]
) -> list[tuple[Placed, Solved | None]]:
    """All loudspeakers in the scenario's order, those that hang under others where these are."""
    every: list[tuple[Placed, Solved | None]] = []
    for speaker in scenario.speakers:
        held = scenario.company.hung_under.get(speaker.name)
        if held is not None:
            flipped = speaker.hang.orientations[0] == "flipped"
            placement = held.placement(chosen[held.above].placement, flipped=flipped)
            problem = problem_of(scenario, speaker)
            every.append((placed(scenario, speaker, problem, placement), None))
            continue
        one = chosen[speaker.name]
        if one.question.under is None:
            at = placed(scenario, speaker, one.question, one.placement)
        else:
            alone = problem_of(scenario, speaker)
            at = placed(scenario, speaker, alone, one.placement, together=one.question)
        every.append((at, one.solved))
    return every


def solve_problem(
    scenario: Scenario, problem: Problem, speaker: str, *, beyond: bool = True
) -> Solved:
    """Prove the best, then take the lowest that is good enough.

    beyond: whether to look for what the rigging keeps it from, and, where there is no placement,
        for what each limit would have to become
    """
    at_worst = best_at_worst(scenario, problem, scenario.speaker(speaker).nominal)
    if at_worst is not None:
        return _solved_at_worst(scenario, at_worst, problem, speaker, beyond=beyond)
    best = search(problem, gap_db=scenario.aim.gap_db)
    if best.status is Status.INFEASIBLE and gives_way(scenario, problem):
        return solve_problem(scenario, replace(problem, softest_db=None), speaker, beyond=beyond)
    if best.placement is None:
        raise _none(scenario, problem, speaker, best.status, told=beyond)
    taken = lowest_within(
        problem, best, within_db=scenario.aim.lower_if_within_db, gap_db=scenario.aim.gap_db
    )
    better = beyond_reach(problem, best, gap_db=scenario.aim.gap_db) if beyond else None
    return Solved(best=best, taken=taken, beyond=better)


def _none(
    scenario: Scenario, problem: Problem, speaker: str, status: Status, *, told: bool
) -> NoPlacementError:
    """Why there is no placement, and which slip in the file it may come from."""
    proven = status is Status.INFEASIBLE
    if not told:
        return NoPlacementError(speaker, (), proven=proven)
    slips = _likely_slips(scenario, speaker)
    told_of = reliefs(problem, units=scenario.units)
    return NoPlacementError(speaker, told_of, proven=proven, slips=slips)


def _likely_slips(scenario: Scenario, speaker: str) -> tuple[str, ...]:
    """What would make no sense of the loudspeakers amid their ranges."""
    chosen: dict[str, Chosen] = {}
    for one in scenario.speakers:
        if one.name not in scenario.company.hung_under:
            question = searched_problem_of(scenario, one)
            chosen[one.name] = Chosen(question, only_placement(_amid(question)))
    answer = answer_of(scenario, everyone_placed(scenario, chosen))
    return tuple(
        one.text
        for one in answer.cautions
        if DECLARED[one.code].topic == SENSE and one.severity != "note"
        if one.speaker in (None, speaker)
    )


def _amid(problem: Problem) -> Problem:
    """The question with the middle of every range."""
    hang = replace(problem.hang, orientations=problem.hang.orientations[:1])
    names: tuple[RangeName, ...] = ("x_m", "vertical_m", "tilt_deg")
    for name in names:
        middle = 0.5 * sum(getattr(hang, name))
        hang = hang.with_range(name, (middle, middle))
    return problem.with_hang(hang)


def gives_way(scenario: Scenario, problem: Problem) -> bool:
    """Whether the least level is only the usual one: where no placement keeps it, it goes."""
    return problem.least_level and not scenario.aim.softest_stated


def _solved_at_worst(
    scenario: Scenario, found: WorstFound, problem: Problem, speaker: str, *, beyond: bool
) -> Solved:
    """The same for the placement whose worst case within the tolerance is best."""
    if found.best.status is Status.INFEASIBLE and gives_way(scenario, problem):
        return solve_problem(scenario, replace(problem, softest_db=None), speaker, beyond=beyond)
    if found.best.placement is None:
        raise _none(scenario, problem, speaker, found.best.status, told=beyond)
    return Solved(best=found.best, taken=found.taken, question=found.problem)


def _left_open(scenario: Scenario, speaker: Speaker) -> list[Fault]:
    """A fault for each range, and for "either", that evaluate cannot have."""
    from ..scenario.faults import fault_at

    hang: Hang = speaker.hang
    index = scenario.number_in_file(speaker.name)
    held = scenario.company.hung_under.get(speaker.name)
    if held is not None:
        low, high = held.splay_deg
        text = f"a range, {low:g} to {high:g}; give one number, as one placement is evaluated"
        return [fault_at(scenario, ("speaker", index, "splay"), text)] if low != high else []
    spans = {"x": hang.x_m, hang.vertical: hang.vertical_m, "tilt": hang.tilt_deg}
    faults = []
    low, high = scenario.company.gain_range_db.get(speaker.name, (0.0, 0.0))
    if low != high:
        text = f"a range, {low:g} to {high:g}; give one number, as one placement is evaluated"
        faults.append(fault_at(scenario, ("speaker", index, "gain_db"), text))
    for name, (low, high) in spans.items():
        if low != high:
            least, most = (
                f"{end:g}" if name == "tilt" else length_text(end, scenario.units)
                for end in (low, high)
            )
            text = f"a range, {least} to {most}; give one number, as one placement is evaluated"
            faults.append(fault_at(scenario, ("speaker", index, "placement", name), text))
    if len(hang.orientations) > 1:
        text = '"either"; must be "upright" or "flipped", since one placement is evaluated'
        faults.append(fault_at(scenario, ("speaker", index, "placement", "orientation"), text))
    return faults
