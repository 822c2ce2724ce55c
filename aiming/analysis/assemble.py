"""Every figure of the answer, for loudspeakers that are placed."""

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from ..aim import measures
from ..aim.limits import limited_by, past_limit
from ..aim.problem import Problem
from ..aim.search import SearchResult, Status
from ..base.version import VERSION
from ..cautions.collect import cautions_of
from ..cautions.facts import Searched
from ..results.answer import Answer, Best, Bind, RowsAnswer, SpeakerAnswer, SpeakerRows, Together
from ..results.serialise import known
from ..scenario.scenario import Scenario
from .clearances import in_room
from .fill_alignment import (
    Matched,
    adds_of,
    at_its_aim,
    coherent_spread_db,
    held_by,
    matched,
    pair_of,
    sum_db,
)
from .lobe_family import family_of
from .placed_speaker import (
    Placed,
    aim_point_m,
    aim_seating_and_row,
    band_figures,
    check_positions,
    left_to_fill,
    rows_of_speaker,
    shortcut_of,
    trim_m,
    uniform_line,
    window_of,
)
from .problems import judged_rows, with_hung_masses
from .reflections import Missing, landing_of, reflections_of
from .refraction import refraction_of
from .section_map import curves_of, edges_of, extent_of
from .support_loads import settable_tilt_deg, support_at
from .tolerance import tolerated
from .tone_and_level import EveryBand, every_band, loudness_of, tone_of

if TYPE_CHECKING:
    from .together import ChosenTogether


@dataclass(frozen=True)
class Solved:
    """best: the proven best in the ranges; taken: the lowest within lower_if_within_db of it.

    beyond: the best if the rigging held every tilt, where that is better
    question: as it was searched, where that was at the worst within the tolerance
    """

    best: SearchResult
    taken: SearchResult
    beyond: SearchResult | None = None
    question: Problem | None = None


def answer_of(
    scenario: Scenario,
    found: list[tuple[Placed, Solved | None]],
    chosen: "ChosenTogether | None" = None,
    *,
    in_hand: bool = False,
) -> Answer:
    """Every figure of the answer, for loudspeakers that are placed.

    chosen: what was chosen for the sum of all; None for one by one
    in_hand: whether a hand moves them now: places and levels, without what explains them
    """
    as_set = scenario
    scenario = with_hung_masses(
        scenario, {at.speaker.name: at.placement.splay_deg for at, _ in found}
    )
    set_ = matched(
        scenario,
        {at.speaker.name: rows_of_speaker(scenario, at) for at, _ in found},
        gains_db=None if chosen is None else chosen.gains_db,
    )
    scenario, by_speaker = set_.scenario, set_.by_speaker
    found = [
        (replace(at, speaker=scenario.speaker(at.speaker.name)), solved) for at, solved in found
    ]
    every = {at.speaker.name: every_band(scenario, at.speaker, at.placement) for at, _ in found}
    rows, together = heard_together(scenario, by_speaker)
    if chosen is not None:
        together = _chosen(together, chosen)
    speakers = tuple(
        _among(
            placed_answer(scenario, at, solved, by_speaker[at.speaker.name])
            if in_hand
            else _speaker_answer(scenario, at, solved, by_speaker, every[at.speaker.name]),
            set_,
        )
        for at, solved in found
    )
    answer = Answer(
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
    if in_hand:
        return answer
    return cautions_of(
        scenario,
        [at for at, _ in found],
        answer,
        searched={at.speaker.name: _searched(solved) for at, solved in found if solved},
    )


def _among(one: SpeakerAnswer, set_: Matched) -> SpeakerAnswer:
    """A loudspeaker's answer with what it is among the others."""
    match, rows = set_.matches.get(one.name), set_.by_speaker[one.name]
    return replace(
        one,
        match=at_its_aim(match, rows, one.aim_row),
        adds=adds_of(set_.scenario, set_.by_speaker, one.name),
    )


def _searched(solved: Solved) -> Searched:
    """How the search ended, for the cautions."""
    capped = Status.CAPPED in (solved.best.status, solved.taken.status)
    return Searched(solved.best, solved.beyond, capped)


def placed_answer(
    scenario: Scenario, at: Placed, solved: Solved | None, rows: SpeakerRows
) -> SpeakerAnswer:
    """A loudspeaker's place, its figures and what holds it: what needs no further search."""
    speaker, placement = at.speaker, at.placement
    levels = rows.levels_db[:, at.served]
    seating, row = aim_seating_and_row(scenario, at)
    best = solved.best if solved else None
    weight = scenario.rows.weight[at.served]
    hung_under = scenario.company.hung_under.get(speaker.name)
    return SpeakerAnswer(
        name=speaker.name,
        mount=speaker.hang.mount,
        orientation=placement.orientation,
        x_m=placement.x_m,
        height_m=placement.height_m,
        trim_m=trim_m(at),
        tilt_deg=placement.tilt_deg,
        aim_point=aim_point_m(at),
        aim_seating=seating,
        aim_row=row,
        spread_db=known(measures.spread_db(levels)),
        worst_band_spread_db=known(measures.worst_band_spread_db(levels)),
        deviation_db=known(measures.deviation_db(levels, weight)),
        rows_within_3db_percent=known(measures.rows_within_percent(levels, weight)),
        best=_best(best),
        gap_db=None if best is None else best.gap_db,
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


def _speaker_answer(
    scenario: Scenario,
    at: Placed,
    solved: Solved | None,
    by_speaker: dict[str, SpeakerRows],
    every: EveryBand,
) -> SpeakerAnswer:
    """The same with what explains it: limits, windows, tolerances, tone, reflections."""
    speaker, placement = at.speaker, at.placement
    rows = by_speaker[speaker.name]
    answer = placed_answer(scenario, at, solved, rows)
    of_all = None
    if len(by_speaker) > 1:
        from .together import spread_of_all

        of_all = spread_of_all(scenario, at, by_speaker)
    window = None if answer.hung_under else window_of(at, of_all)
    binds = () if solved is None else _binds(solved.question or at.question, solved)
    missing = Missing(scenario, speaker, placement, rows.shadow_db)
    return replace(
        answer,
        limited_by=tuple(bind.limit for bind in binds),
        binds=binds,
        window=window,
        check_positions=check_positions(scenario, at),
        settable_tilt_deg=None
        if window is None or answer.support is None
        else settable_tilt_deg(scenario, answer.support, window.tilt_deg),
        tone=tone_of(scenario, at, every),
        output=loudness_of(scenario, at, every),
        refraction=refraction_of(scenario, at),
        lobe_family=family_of(at),
        pair=pair_of(scenario, at),
        room=in_room(scenario, speaker, placement),
        reflections=reflections_of(missing),
        lands_percent=landing_of(missing),
        tolerance=None
        if answer.hung_under
        else tolerated(scenario, at.question, placement, speaker.nominal),
        softest_db=known(at.problem.softest_re_last_db(placement)),
        left_to_fill=left_to_fill(scenario, at, rows),
    )


def _binds(problem: Problem, solved: Solved) -> tuple[Bind, ...]:
    """What holds the best, then what holds the placement that is taken, and what each costs."""
    found: dict[str, Bind] = {}
    for place in (solved.best.placement, solved.taken.placement):
        if place is None:
            continue
        for name in limited_by(problem, place, known=tuple(found)):
            if name not in found:
                found[name] = Bind(name, **vars(past_limit(problem, place, name)))
    return tuple(found.values())


def _best(found: SearchResult | None) -> Best | None:
    if found is None or found.placement is None:
        return None
    place = found.placement
    return Best(
        objective_db=found.objective_db,
        x_m=place.x_m,
        height_m=place.height_m,
        tilt_deg=place.tilt_deg,
        orientation=place.orientation,
    )


def heard_together(
    scenario: Scenario, by_speaker: dict[str, SpeakerRows]
) -> tuple[RowsAnswer, Together]:
    """What all give at every row, and the figures over the rows that are judged."""
    rows, bands = scenario.rows, scenario.aim.bands_hz
    levels = sum_db(scenario, by_speaker)
    answer = RowsAnswer(
        name=rows.names,
        seating=tuple(scenario.seatings[of].name for of in rows.seating),
        x_m=rows.x_m,
        z_m=rows.z_m,
        levels_db=levels,
        design_level_db=measures.design_level_db(levels),
        by_speaker=by_speaker,
    )
    judged = judged_rows(scenario)
    levels = levels[:, judged]
    together = Together(
        spread_db=known(measures.spread_db(levels)),
        worst_band_spread_db=known(measures.worst_band_spread_db(levels)),
        by_band=band_figures(levels, bands, judged),
        rows_within_3db_percent=known(measures.rows_within_percent(levels, rows.weight[judged])),
        summed="coherent" if scenario.company.coherent else "power",
        coherent_spread_db=coherent_spread_db(scenario, by_speaker),
        held_by=held_by(scenario, by_speaker),
    )
    return answer, together


def _chosen(together: Together, chosen: "ChosenTogether") -> Together:
    """The same with what was chosen for the sum, and how far that is proven."""
    return replace(
        together,
        proof=chosen.proof,
        one_by_one_db=chosen.one_by_one_db,
        higher_ceilings=chosen.higher_ceilings,
        none_found=chosen.none_found,
    )
