"""What follows the hand: the proven placement and the levels, and nothing that can wait.

The same searches and the same levels as `solve`, at a wider gap, without what explains the answer.
What of one loudspeaker does not depend on the others is kept as long as its own part of the
document stays the same.
"""

import json
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from ..aim import measures
from ..aim.problem import Problem
from ..aim.search import Status, lowest_within, search
from ..analysis.assemble import Solved
from ..analysis.fill_alignment import matched, sum_db
from ..analysis.placed_speaker import (
    Placed,
    aim_point_m,
    aim_seating_and_row,
    band_figures,
    rows_of_speaker,
    shortcut_of,
    trim_m,
    uniform_line,
)
from ..analysis.problems import fixed, only_placement, searched_problem_of, with_hung_masses
from ..analysis.section_map import curves_of, edges_of, extent_of
from ..analysis.solve import (
    Chosen,
    NoPlacementError,
    everyone_placed,
    solve_problem,
)
from ..analysis.support_loads import support_at
from ..analysis.together import gains_together
from ..analysis.tone_and_level import every_band
from ..base.version import VERSION
from ..results.answer import Answer, Best, RowsAnswer, SpeakerAnswer, SpeakerRows, Together
from ..results.serialise import known
from ..scenario.scenario import Scenario
from ..speaker.speaker import Orientation

HAND_GAP_DB = 0.3
"""How near to the best a placement is proven while something is held; the file's own at rest."""
_MOST_KEPT = 64


@dataclass
class Memo:
    """What was found for a loudspeaker, by all that it depends on."""

    found: dict[str, Chosen] = field(default_factory=dict)

    def chosen(self, scenario: Scenario, name: str) -> Chosen:
        """Where this loudspeaker is best.  Raises NoPlacementError."""
        key = _depends_on(scenario, name)
        if key not in self.found:
            if len(self.found) >= _MOST_KEPT:
                del self.found[next(iter(self.found))]
            self.found[key] = _searched(scenario, name)
        return self.found[key]


def _depends_on(scenario: Scenario, name: str) -> str:
    """The document without the loudspeakers that do not move this one."""
    under = scenario.company.under(name)
    own = [one for one in scenario.document["speaker"] if one["name"] in (name, under)]
    rest = {key: of for key, of in scenario.document.items() if key not in ("variant", "title")}
    return json.dumps([name, {**rest, "speaker": own}], sort_keys=True)


def _searched(scenario: Scenario, name: str) -> Chosen:
    question = searched_problem_of(scenario, scenario.speaker(name))
    if fixed(question):
        return Chosen(question, only_placement(question))
    solved = _solved(scenario, question, name)
    assert solved.taken.placement is not None
    return Chosen(question, solved.taken.placement, solved)


def _at_its_place(one: Chosen) -> Problem:
    """The question with nothing left to choose but what is set on the amplifier."""
    place, question = one.placement, one.question
    flipped, tilt = bool(place.flipped), float(place.tilt_deg)
    vertical = float(place.height_m) - float(question.drop_m(tilt, flipped))
    orientation: Orientation = "flipped" if flipped else "upright"
    hang = replace(
        question.hang,
        x_m=(float(place.x_m), float(place.x_m)),
        vertical_m=(vertical, vertical),
        tilt_deg=(tilt, tilt),
        orientations=(orientation,),
    )
    return question.with_hang(hang).at_splay(float(place.splay_deg))


def _solved(scenario: Scenario, question: Problem, name: str) -> Solved:
    """As `solve` has it, without a search for what lies beyond the rigging, or for reasons."""
    if scenario.aim.at_worst:
        return solve_problem(scenario, question, name)
    gap = scenario.aim.gap_db
    best = search(question, gap_db=gap)
    if best.placement is None:
        raise NoPlacementError(name, (), proven=best.status is Status.INFEASIBLE)
    within = scenario.aim.lower_if_within_db
    return Solved(best, lowest_within(question, best, within_db=within, gap_db=gap))


def answer_in_hand(scenario: Scenario, memo: Memo) -> Answer:
    """Placement, levels by row, loads; no windows, check positions, cautions or explanations.

    Raises NoPlacementError.
    """
    as_set = scenario
    gap = max(HAND_GAP_DB, scenario.aim.gap_db)
    scenario = replace(scenario, aim=replace(scenario.aim, gap_db=gap))
    chosen = {
        speaker.name: memo.chosen(scenario, speaker.name)
        for speaker in scenario.speakers
        if speaker.name not in scenario.company.hung_under
    }
    found = everyone_placed(scenario, chosen)
    splays = {at.speaker.name: float(at.placement.splay_deg) for at, _ in found}
    scenario = with_hung_masses(scenario, splays)
    rows_by_name = {at.speaker.name: rows_of_speaker(scenario, at) for at, _ in found}
    heard = matched(scenario, rows_by_name)
    # As `evaluate` has it at these places, to the file's own gap.
    gains = gains_together(
        as_set,
        {name: _at_its_place(one) for name, one in chosen.items()},
        {name: one.placement for name, one in chosen.items()},
        heard,
    )
    if gains is not None:
        heard = matched(scenario, rows_by_name, gains_db=gains.gains_db)
    scenario, by_speaker = heard.scenario, heard.by_speaker
    rows, together = _together(scenario, by_speaker)
    every = {
        at.speaker.name: every_band(scenario, scenario.speaker(at.speaker.name), at.placement)
        for at, _ in found
    }
    speakers = tuple(
        replace(
            _speaker(
                scenario,
                replace(at, speaker=scenario.speaker(at.speaker.name)),
                solved,
                by_speaker[at.speaker.name],
            ),
            match=heard.matches.get(at.speaker.name),
        )
        for at, solved in found
    )
    return Answer(
        version=VERSION,
        title=scenario.title,
        bands_hz=scenario.aim.bands_hz,
        speakers=speakers,
        together=together,
        rows=rows,
        cautions=(),
        scenario=as_set,
        extent=extent_of(scenario, speakers),
        edges=edges_of(scenario, speakers),
        curves=curves_of(scenario, speakers, rows, every),
    )


def _speaker(
    scenario: Scenario, at: Placed, solved: Solved | None, rows: SpeakerRows
) -> SpeakerAnswer:
    speaker, placement = at.speaker, at.placement
    levels = rows.levels_db[:, at.served]
    weight = scenario.rows.weight[at.served]
    seating, row = aim_seating_and_row(scenario, at)
    hung_under = scenario.company.hung_under.get(speaker.name)
    return SpeakerAnswer(
        name=speaker.name,
        mount=speaker.hang.mount,
        orientation=placement.orientation,
        x_m=float(placement.x_m),
        height_m=float(placement.height_m),
        trim_m=trim_m(at),
        tilt_deg=float(placement.tilt_deg),
        aim_point=aim_point_m(at),
        aim_seating=seating,
        aim_row=row,
        spread_db=known(measures.spread_db(levels)),
        worst_band_spread_db=known(measures.worst_band_spread_db(levels)),
        deviation_db=known(measures.deviation_db(levels, weight)),
        rows_within_3db_percent=known(measures.rows_within_percent(levels, weight)),
        best=_best(solved),
        gap_db=None if solved is None else solved.best.gap_db,
        limited_by=(),
        window=None,
        shortcut=shortcut_of(scenario, at),
        by_band=band_figures(levels, scenario.aim.bands_hz, at.served),
        uniform_line=uniform_line(at),
        support=support_at(scenario, speaker, placement),
        gain_db=speaker.gain_db,
        delay_ms=speaker.delay_ms,
        hung_under=None if hung_under is None else hung_under.above,
    )


def _best(solved: Solved | None) -> Best | None:
    if solved is None or solved.best.placement is None:
        return None
    place: Any = solved.best.placement
    return Best(
        objective_db=solved.best.objective_db,
        x_m=float(place.x_m),
        height_m=float(place.height_m),
        tilt_deg=float(place.tilt_deg),
        orientation=place.orientation,
    )


def _together(
    scenario: Scenario, by_speaker: dict[str, SpeakerRows]
) -> tuple[RowsAnswer, Together]:
    rows, levels = scenario.rows, sum_db(scenario, by_speaker)
    answer = RowsAnswer(
        name=rows.names,
        seating=tuple(scenario.seatings[of].name for of in rows.seating),
        x_m=rows.x_m,
        z_m=rows.z_m,
        levels_db=levels,
        design_level_db=measures.design_level_db(levels),
        by_speaker=by_speaker,
    )
    together = Together(
        spread_db=known(measures.spread_db(levels)),
        worst_band_spread_db=known(measures.worst_band_spread_db(levels)),
        by_band=band_figures(levels, scenario.aim.bands_hz, np.arange(len(rows))),
        rows_within_3db_percent=known(measures.rows_within_percent(levels, rows.weight)),
        summed="coherent" if scenario.company.coherent else "power",
    )
    return answer, together
