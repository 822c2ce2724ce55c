"""Cautions about loudspeakers among others: fills early, late, too loud, drifting, not matched;
boxes hung under others."""

from collections.abc import Iterator

import numpy as np

from ..analysis.fill_alignment import sees
from ..results.answer import Answer, Caution, SpeakerAnswer, SpeakerRows
from ..results.groups import Match
from ..scenario.scenario import Scenario
from ..speaker.speaker import Speaker
from .rule import threshold

OFF_MATCH_DB = 3.0
"""How far a given gain may be from a match at the handover row before that is said; our own."""


def company_cautions(scenario: Scenario, answer: Answer) -> Iterator[Caution]:
    """Of every fill and every hung box, from the answer."""
    for one in answer.speakers:
        if one.pair is not None:
            yield Caution(
                "joint-not-checked",
                "caution",
                f"it is fixed under {one.name} at a splay of {one.pair.splay_deg:.1f}° and hangs "
                f"from the points of {one.name}, whose loads count its mass where that is known: "
                "the joint, its hardware and what the upper cabinet bears are not checked",
                speaker=one.pair.under,
            )
        if one.match is None or one.name not in scenario.company.fills:
            continue
        rows = answer.rows.by_speaker[one.name]
        if rows.after_main_ms is None or rows.re_main_db is None:
            continue
        speaker, main = scenario.speaker(one.name), scenario.speaker(one.match.main)
        yield from _matched(scenario, one, one.match)
        yield from _in_time(scenario, one, rows)
        yield from _in_level(scenario, answer, one, rows)
        yield from _drift(one)
        yield from _outputs(speaker, main)


def _matched(scenario: Scenario, one: SpeakerAnswer, match: Match) -> Iterator[Caution]:
    row = match.handover_row
    if row is None or match.level_gain_db is None:
        yield Caution(
            "fill-not-matched",
            "caution",
            f"it is not matched to {match.main}: a level at the handover row is unknown",
            speaker=one.name,
        )
        return
    where = scenario.rows.label(row)
    if match.at_ceiling and match.ceiling_row is not None and match.ceiling_gain_db is not None:
        short = match.level_gain_db - match.ceiling_gain_db
        yield Caution(
            "fill-at-ceiling",
            "note",
            f"its gain is {short:.1f} dB below a match with {match.main} at {where}, so that it is "
            f"nowhere over {match.main} by more than {match.ceiling_db:g} dB where {match.main} is "
            f"not hidden, held by {scenario.rows.label(match.ceiling_row)}; ceiling_db moves that",
            value=short,
            unit="dB",
            limit=match.ceiling_db,
            speaker=one.name,
        )
    off = match.handover_re_main_db
    if match.gain_given and off is not None and abs(off) > OFF_MATCH_DB:
        word = "louder" if off > 0.0 else "softer"
        yield Caution(
            "fill-off-match",
            "caution",
            f"with the gain given it is {abs(off):.1f} dB {word} than {match.main} at {where}, "
            f"where they come nearest; a match would take {match.level_gain_db:+.1f} dB",
            value=off,
            unit="dB",
            limit=OFF_MATCH_DB,
            speaker=one.name,
        )
    late = match.aligned_delay_ms
    if late is not None and late < 0.0 and not match.delay_given:
        yield Caution(
            "fill-late-without-delay",
            "caution",
            f"even without delay it comes {-late:.1f} ms later at {where} than wanted: it is "
            f"farther away than {match.main}; delay {match.main} instead",
            value=-late,
            unit="ms",
            limit=0.0,
            speaker=one.name,
        )


def _in_time(scenario: Scenario, one: SpeakerAnswer, rows: SpeakerRows) -> Iterator[Caution]:
    """Early or late where it is not much softer than the main."""
    assert one.match is not None and rows.after_main_ms is not None and rows.re_main_db is not None
    near, most = threshold(scenario, "fill_near_db"), threshold(scenario, "fill_lag_ms")
    after = np.where(rows.re_main_db >= -near, rows.after_main_ms, np.nan)
    early, late = np.flatnonzero(after < -1e-6), np.flatnonzero(after > most)
    main = one.match.main
    if len(early):
        row = int(early[np.argmin(after[early])])
        yield Caution(
            "fill-leads",
            "caution",
            f"it arrives before {main} at {_count(len(early))}, by up to {-after[row]:.1f} ms at "
            f"{scenario.rows.label(row)}: sound seems to come from it there",
            value=float(after[row]),
            unit="ms",
            limit=0.0,
            speaker=one.name,
        )
    if len(late):
        row = int(late[np.argmax(after[late])])
        yield Caution(
            "fill-lags",
            "caution",
            f"it arrives up to {after[row]:.1f} ms after {main} at {_count(len(late))} where it is "
            f"not more than {near:g} dB softer, most at {scenario.rows.label(row)}: it may be "
            "heard as an echo, or blur speech",
            value=float(after[row]),
            unit="ms",
            limit=most,
            speaker=one.name,
        )


def _in_level(
    scenario: Scenario, answer: Answer, one: SpeakerAnswer, rows: SpeakerRows
) -> Iterator[Caution]:
    """Over the ceiling with a gain that is given."""
    match = one.match
    assert match is not None and rows.re_main_db is not None
    open_to = sees(answer.rows.by_speaker[match.main])
    over = np.where(open_to, rows.re_main_db - match.ceiling_db, np.nan)
    loud = np.flatnonzero(over > 0.05)
    if not len(loud):
        return
    row = int(loud[np.argmax(over[loud])])
    yield Caution(
        "fill-over-ceiling",
        "caution",
        f"it is louder than {match.main} by more than {match.ceiling_db:g} dB at "
        f"{_count(len(loud))} that {match.main} is not hidden from, by "
        f"{rows.re_main_db[row]:.1f} dB at {scenario.rows.label(row)}",
        value=float(rows.re_main_db[row]),
        unit="dB",
        limit=match.ceiling_db,
        speaker=one.name,
    )


def _drift(one: SpeakerAnswer) -> Iterator[Caution]:
    """How the alignment moves over the rows and with the temperature."""
    match = one.match
    if match is None or match.drift_ms is None or match.warming_ms is None:
        return
    low, high = match.drift_ms
    at = match.handover_after_main_ms
    leads = at is not None and at >= 0.0 and at - match.warming_ms < 0.0
    more = ": enough for it to lead at the handover row" if leads else ""
    yield Caution(
        "fill-drifts",
        "caution" if leads else "note",
        f"over the rows that it serves it comes {low:.1f} to {high:.1f} ms after {match.main}; "
        f"10 °C warmer or colder moves that by up to {match.warming_ms:.1f} ms{more}",
        value=match.warming_ms,
        unit="ms",
        speaker=one.name,
    )


def _outputs(speaker: Speaker, main: Speaker) -> Iterator[Caution]:
    lacking = [one.name for one in (speaker, main) if one.sensitivity_db is None]
    if lacking:
        yield Caution(
            "fill-output-missing",
            "note",
            f"no sensitivity given for {' and '.join(lacking)}: the gains against each other count "
            "as if the same signal gave the same level at 1 m on axis",
            speaker=speaker.name,
        )


def _count(rows: int) -> str:
    return "one row" if rows == 1 else f"{rows} rows"
