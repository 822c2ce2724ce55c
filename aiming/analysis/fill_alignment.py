"""All loudspeakers at every row: their sum, what each adds to it, and a pair by itself."""

from dataclasses import dataclass, replace

import numpy as np

from ..aim import measures
from ..aim.measures import design_level_db
from ..base.arrays import BoolArray, FloatArray, IntArray
from ..field.diffraction import GRAZING_DB
from ..field.levels import power_sum_db
from ..field.summing import arrival_ms, coherent_sum_db
from ..results.answer import Answer, SpeakerRows
from ..results.groups import Adds, HeldBy, Match, Pair
from ..results.serialise import known
from ..scenario.scenario import Scenario
from ..speaker.groups import Fill
from ..speaker.speaker import Speaker
from .placed_speaker import Placed
from .problems import judged_rows, left_count, served_rows


def sum_db(scenario: Scenario, by_speaker: dict[str, SpeakerRows]) -> FloatArray:
    """(bands, n) of these loudspeakers together, by power or with their phase as the file says."""
    levels = np.stack([one.levels_db for one in by_speaker.values()])
    arrivals = [one.arrival_ms for one in by_speaker.values() if one.arrival_ms is not None]
    if not scenario.company.coherent or len(arrivals) < len(levels):
        return power_sum_db(levels)
    return coherent_sum_db(levels, np.stack(arrivals), scenario.aim.bands_hz)


def coherent_spread_db(scenario: Scenario, by_speaker: dict[str, SpeakerRows]) -> float | None:
    """Spread over the judged rows if the sum knew phase; None for one, or where it does."""
    if scenario.company.coherent or len(by_speaker) < 2:
        return None
    with_phase = replace(scenario, company=replace(scenario.company, coherent=True))
    levels = sum_db(with_phase, by_speaker)[:, judged_rows(scenario)]
    return known(float(measures.spread_db(levels)))


_AT_AN_END_DB = 0.1
_HEARD_DB = 6.0
"""What is this far under all loudspeakers gives a quarter of the power."""
_TWICE_AS_FAR = 2.0


def held_by(scenario: Scenario, by_speaker: dict[str, SpeakerRows]) -> HeldBy | None:
    """The rows that hold the spread of all, and the loudspeaker that alone keeps two apart."""
    design = measures.design_level_db(sum_db(scenario, by_speaker))
    judged = judged_rows(scenario)
    level = design[judged]
    if np.isnan(level).any():
        return None
    loud = judged[level >= level.max() - _AT_AN_END_DB]
    soft = judged[level <= level.min() + _AT_AN_END_DB]
    ends = HeldBy(loudest=tuple(loud.tolist()), softest=tuple(soft.tolist()))
    most = _TWICE_AS_FAR
    for name, rows in by_speaker.items():
        own, away = measures.design_level_db(rows.levels_db), rows.distance_m
        heard = own >= design - _HEARD_DB
        if not (heard[loud].any() and heard[soft].any()):
            continue
        near = int(min(loud[heard[loud]], key=away.__getitem__))
        far = int(max(soft[heard[soft]], key=away.__getitem__))
        if away[far] >= most * away[near]:
            most = float(away[far] / away[near])
            ends = replace(ends, speaker=name, near_row=near, far_row=far)
    return ends


def adds_of(scenario: Scenario, by_speaker: dict[str, SpeakerRows], name: str) -> Adds | None:
    """What all give without this one; None where it is the only one."""
    others = {of: rows for of, rows in by_speaker.items() if of != name}
    if not others:
        return None
    judged = judged_rows(scenario)
    levels = sum_db(scenario, others)[:, judged]
    within = measures.rows_within_percent(levels, scenario.rows.weight[judged])
    whole = sum_db(scenario, by_speaker)[:, judged]
    return Adds(
        spread_without_db=known(float(measures.spread_db(levels))),
        rows_within_3db_without_percent=known(float(within)),
        brings_db=known(_objective_db(scenario, levels) - _objective_db(scenario, whole)),
    )


def _objective_db(scenario: Scenario, levels_db: FloatArray) -> float:
    """What all are chosen by, of levels (bands, rows) at the judged rows."""
    if scenario.aim.objective == "spread":
        return float(measures.spread_db(levels_db))
    if scenario.aim.objective == "worst band":
        return float(measures.worst_band_spread_db(levels_db))
    return float(measures.deviation_db(levels_db, scenario.rows.weight[judged_rows(scenario)]))


def pair_of(scenario: Scenario, at: Placed) -> Pair | None:
    """It and the one that hangs under it, over the rows of both; None where none does."""
    under = scenario.company.under(at.speaker.name)
    if at.together is None or under is None:
        return None
    levels, weight = at.together.levels_db(at.placement), at.together.rows.weight
    return Pair(
        under=under,
        splay_deg=at.placement.splay_deg,
        spread_db=known(float(measures.spread_db(levels))),
        worst_band_spread_db=known(float(measures.worst_band_spread_db(levels))),
        deviation_db=known(float(measures.deviation_db(levels, weight))),
        rows_within_3db_percent=known(float(measures.rows_within_percent(levels, weight))),
    )


# Fills matched to their mains: gain and delay from the placements that were found.
#
# Both are level at the handover row (design levels, shadow and all), unless that would make the
# fill louder than the main plus a ceiling at some row that the main is not hidden from: then it
# is turned down until it is not.  The delay lets the fill arrive a little after the main at the
# handover row. Where a box hangs under the main, the main's level is that of both.  All of it is
# common practice without a source; every figure can be given instead, and is then judged.

WARMER_C = 10.0
BOTH_HEARD_DB = 10.0
"""Two that are further apart in level than this are not told apart in time: common practice, no
source."""


@dataclass(frozen=True, eq=False)
class Matched:
    """Loudspeakers as they are set: gain and delay found, levels and arrivals with them."""

    scenario: Scenario
    by_speaker: dict[str, SpeakerRows]
    matches: dict[str, Match]


def matched(
    scenario: Scenario,
    by_speaker: dict[str, SpeakerRows],
    *,
    gains_db: dict[str, float] | None = None,
) -> Matched:
    """Every fill matched to its main, mains first; and when all arrive.

    gains_db: by name, where they were chosen for the sum: then only the delays are left to find
    """
    speakers = {speaker.name: speaker for speaker in scenario.speakers}
    rows = dict(by_speaker)
    for name, gain in (gains_db or {}).items():
        rows[name] = _louder(rows[name], gain - speakers[name].gain_db)
        speakers[name] = set_to(speakers[name], gain_db=gain, delay_ms=speakers[name].delay_ms)
    matches: dict[str, Match] = {}
    for name in mains_first(scenario):
        if name not in scenario.company.fills:
            continue
        fill, speaker = scenario.company.fills[name], speakers[name]
        main = speakers[fill.main]
        main_rows = _as_main(scenario, rows, main.name)
        match = _match(scenario, fill, speaker, main, rows[name], main_rows)
        if gains_db is not None:
            match = _timed_to(scenario, fill, match, speaker.gain_db, main, rows[name], main_rows)
        gain = speaker.gain_db if gains_db is not None else _gain_db(match, speaker)
        speakers[name] = set_to(speaker, gain_db=gain, delay_ms=_delay_ms(match, speaker))
        rows[name] = _louder(rows[name], speakers[name].gain_db - speaker.gain_db)
        matches[name] = match
    for name, speaker in speakers.items():
        rows[name] = _timed(scenario, speaker, rows[name])
    for name, match in matches.items():
        main_rows = _as_main(scenario, rows, match.main)
        rows[name] = _beside(rows[name], main_rows)
        matches[name] = _judged(scenario, match, speakers[name], rows[name], main_rows)
    ordered = tuple(speakers[speaker.name] for speaker in scenario.speakers)
    return Matched(replace(scenario, speakers=ordered), rows, matches)


def at_its_aim(match: Match | None, rows: SpeakerRows, aim_row: int | None) -> Match | None:
    """The match with its level against the main where the fill itself points."""
    if match is None or aim_row is None or rows.re_main_db is None:
        return match
    return replace(match, aim_re_main_db=known(float(rows.re_main_db[aim_row])))


def as_answered(answer: Answer) -> Scenario:
    """The scenario with the gains and delays that the answer found, and the rows it left out."""
    scenario = answer.scenario
    set_ = {one.name: one for one in answer.speakers}
    return replace(
        scenario,
        left_to_fill={
            one.name: left_count(scenario, one.name)
            for one in answer.speakers
            if one.hung_under is None and one.name not in scenario.company.fills
        },
        speakers=tuple(
            set_to(
                speaker,
                gain_db=set_[speaker.name].gain_db,
                delay_ms=set_[speaker.name].delay_ms,
            )
            if speaker.name in scenario.company.fills
            else speaker
            for speaker in scenario.speakers
        ),
    )


def set_to(speaker: Speaker, *, gain_db: float, delay_ms: float) -> Speaker:
    """The loudspeaker at another gain and delay."""
    offset = speaker.offset_db + (gain_db - speaker.gain_db)
    return replace(speaker, gain_db=gain_db, delay_ms=delay_ms, offset_db=offset)


def _as_main(scenario: Scenario, rows: dict[str, SpeakerRows], name: str) -> SpeakerRows:
    """A loudspeaker at the rows, with the level of what hangs under it."""
    own, under = rows[name], scenario.company.under(name)
    if under is None:
        return own
    below = rows[under]
    return replace(
        own,
        levels_db=power_sum_db(np.stack([own.levels_db, below.levels_db])),
        shadow_db=np.minimum(own.shadow_db, below.shadow_db),
    )


def mains_first(scenario: Scenario) -> list[str]:
    """All loudspeakers in an order in which each fill comes after what it fills."""
    fills = scenario.company.fills
    ordered: list[str] = []

    def take(name: str) -> None:
        if name not in ordered:
            if name in fills:
                take(fills[name].main)
            ordered.append(name)

    for speaker in scenario.speakers:
        take(speaker.name)
    return ordered


def _timed_to(
    scenario: Scenario,
    fill: Fill,
    match: Match,
    gain_db: float,
    main: Speaker,
    own: SpeakerRows,
    other: SpeakerRows,
) -> Match:
    """The match of a fill whose gain was chosen for the sum.

    Its handover row, unless it is given, is where the two are most nearly equally loud.  The fill
    arrives behind_ms after what it fills there, or later: nowhere before it, among the rows that
    it is not hidden from and where the two are within BOTH_HEARD_DB; without a given row, nowhere
    less than behind_ms after it.
    """
    apart = design_level_db(own.levels_db) - design_level_db(other.levels_db)
    seen = sees(other) & np.isfinite(apart)
    both = np.flatnonzero(seen & (np.abs(apart) <= BOTH_HEARD_DB))
    after_ms = 1000.0 * (own.distance_m - other.distance_m) / scenario.air.speed_of_sound_m_s
    row, delay = match.handover_row, match.aligned_delay_ms
    if fill.handover_row is None and seen.any():
        open_rows = np.flatnonzero(seen)
        row = int(open_rows[np.argmin(np.abs(apart[open_rows]))])
        delay = main.delay_ms - float(after_ms[row]) + fill.behind_ms
    if len(both):
        behind = 0.0 if fill.handover_row is not None else fill.behind_ms
        least = main.delay_ms - float(after_ms[both].min()) + behind
        delay = least if delay is None else max(delay, least)
    level = None if row is None else gain_db - float(apart[row])
    return replace(
        match,
        handover_row=row,
        level_gain_db=level,
        aligned_delay_ms=delay,
        chosen_gain_db=gain_db,
    )


def _match(
    scenario: Scenario,
    fill: Fill,
    speaker: Speaker,
    main: Speaker,
    own: SpeakerRows,
    other: SpeakerRows,
) -> Match:
    louder = design_level_db(other.levels_db) - design_level_db(own.levels_db)
    row = _handover_row(scenario, fill, speaker, main, other, louder)
    level_gain = None if row is None else speaker.gain_db + float(louder[row])
    open_rows = np.flatnonzero(sees(other) & np.isfinite(louder))
    ceiling_row = None
    if len(open_rows):
        ceiling_row = int(open_rows[np.argmin(louder[open_rows])])
    ceiling_gain = None
    if ceiling_row is not None:
        ceiling_gain = speaker.gain_db + float(louder[ceiling_row]) + fill.ceiling_db
    delay = None
    if row is not None:
        way = float(other.distance_m[row] - own.distance_m[row])
        delay = main.delay_ms + 1000.0 * way / scenario.air.speed_of_sound_m_s + fill.behind_ms
    return Match(
        main=main.name,
        handover_row=row,
        behind_ms=fill.behind_ms,
        ceiling_db=fill.ceiling_db,
        level_gain_db=level_gain,
        ceiling_gain_db=ceiling_gain,
        ceiling_row=ceiling_row,
        aligned_delay_ms=delay,
        gain_given=fill.gain_given,
        delay_given=fill.delay_given,
    )


def _handover_row(
    scenario: Scenario,
    fill: Fill,
    speaker: Speaker,
    main: Speaker,
    other: SpeakerRows,
    louder_db: FloatArray,
) -> int | None:
    """Where they are matched: as the file says; else where levels that are given meet; else the
    fill's own row nearest to the rows that only the main serves, or to the main itself."""
    rows = scenario.rows
    own = rows.of(speaker.serves)
    known = own[np.isfinite(louder_db[own])]
    if fill.handover_row is not None:
        return fill.handover_row if np.isfinite(louder_db[fill.handover_row]) else None
    if not len(known):
        return None
    if fill.gain_given:
        return int(known[np.argmin(np.abs(louder_db[known]))])
    elsewhere = np.setdiff1d(rows.of(main.serves), own)
    away = _nearest_m(scenario, known, elsewhere) if len(elsewhere) else other.distance_m[known]
    return int(known[np.argmin(away)])


def _nearest_m(scenario: Scenario, rows: IntArray, others: IntArray) -> FloatArray:
    """(rows,) distance to the nearest of the other rows."""
    x, z = scenario.rows.x_m, scenario.rows.z_m
    apart = np.hypot(x[rows, np.newaxis] - x[others], z[rows, np.newaxis] - z[others])
    return np.asarray(apart.min(axis=1))


def sees(rows: SpeakerRows) -> BoolArray:
    """(n,) rows that a loudspeaker is not hidden from: behind an edge the loss is over 5 dB."""
    return np.asarray(rows.shadow_db.max(axis=0) < GRAZING_DB)


def _gain_db(match: Match, speaker: Speaker) -> float:
    if match.gain_given or match.level_gain_db is None:
        return speaker.gain_db
    if match.ceiling_gain_db is None:
        return match.level_gain_db
    return min(match.level_gain_db, match.ceiling_gain_db)


def _delay_ms(match: Match, speaker: Speaker) -> float:
    if match.delay_given or match.aligned_delay_ms is None:
        return speaker.delay_ms
    return max(0.0, match.aligned_delay_ms)


def _louder(rows: SpeakerRows, by_db: float) -> SpeakerRows:
    return replace(rows, levels_db=rows.levels_db + by_db) if by_db else rows


def _timed(scenario: Scenario, speaker: Speaker, rows: SpeakerRows) -> SpeakerRows:
    c = scenario.air.speed_of_sound_m_s
    arrival = arrival_ms(rows.distance_m, c_m_s=c, delay_ms=speaker.delay_ms)
    reference = scenario.company.reference_m
    if reference is None:
        return replace(rows, arrival_ms=arrival)
    way = np.hypot(scenario.rows.x_m - reference[0], scenario.rows.z_m - reference[1])
    after = arrival - arrival_ms(way, c_m_s=c)
    return replace(rows, arrival_ms=arrival, after_reference_ms=after)


def _beside(own: SpeakerRows, main: SpeakerRows) -> SpeakerRows:
    """The fill's rows with its time and level against the main's."""
    assert own.arrival_ms is not None and main.arrival_ms is not None
    return replace(
        own,
        after_main_ms=own.arrival_ms - main.arrival_ms,
        re_main_db=design_level_db(own.levels_db) - design_level_db(main.levels_db),
    )


def _judged(
    scenario: Scenario, match: Match, speaker: Speaker, own: SpeakerRows, main: SpeakerRows
) -> Match:
    """The match with what came of it at the handover row and over the rows that it serves."""
    assert own.after_main_ms is not None and own.re_main_db is not None
    served = served_rows(scenario, speaker)
    after = own.after_main_ms[served]
    way = own.distance_m[served] - main.distance_m[served]
    now = scenario.air.speed_of_sound_m_s
    warmed = [
        replace(scenario.air, temperature_c=scenario.air.temperature_c + by).speed_of_sound_m_s
        for by in (-WARMER_C, WARMER_C)
    ]
    changes = [np.abs(1000.0 * way * (1.0 / c - 1.0 / now)).max() for c in warmed]
    row = match.handover_row
    return replace(
        match,
        handover_re_main_db=None if row is None else float(own.re_main_db[row]),
        handover_after_main_ms=None if row is None else float(own.after_main_ms[row]),
        drift_ms=(float(after.min()), float(after.max())),
        warming_ms=float(max(changes)),
    )
