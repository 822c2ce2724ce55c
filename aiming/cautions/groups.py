"""Loudspeakers among others: fills early, late, too loud, drifting, not matched; hung pairs."""

from collections.abc import Iterator

import numpy as np

from ..analysis.fill_alignment import sees
from ..scenario.thresholds import FILL_LAG, FILL_NEAR, LITTLE_GAIN, OFF_MATCH, SOFT_AT_AIM
from .declare import COMMON, NOT_ASSUMED, Told, caution
from .facts import FILLS, LOUDSPEAKER, SECTION, SectionFacts, SpeakerFacts

ROUNDING_MS = 1e-6
ROUNDING_DB = 0.05


@caution("joint-not-checked", "caution", LOUDSPEAKER, basis="ours: what was not computed is said")
def joint_not_checked(of: SpeakerFacts) -> Iterator[Told]:
    """A loudspeaker is fixed under another (`hung_under`)."""
    pair = of.mine.pair
    if pair is not None:
        yield Told(
            f"it is fixed under {of.speaker_name} at a splay of {pair.splay_deg:.1f}° and hangs "
            f"from the points of {of.speaker_name}, whose loads count its mass where that is "
            "known: the joint, its hardware and what the upper cabinet bears are not checked",
            speaker=pair.under,
        )


@caution("not-chosen-together", "caution", SECTION, basis="ours: what was asked and not done")
def not_chosen_together(of: SectionFacts) -> Iterator[Told]:
    """Nothing that keeps every limit was found for all loudspeakers together."""
    together = of.answer.together
    if together is not None and together.none_found:
        yield Told(
            "for all loudspeakers together no placements and gains were found that keep every "
            "limit and ceiling_db: each is aimed alone, and what all give together is not the best"
        )


@caution("fill-not-needed", "note", FILLS, limit=LITTLE_GAIN)
def fill_not_needed(of: SpeakerFacts) -> Iterator[Told]:
    """A fill that makes the whole better by less than this, all others as they stand."""
    brings = None if of.mine.adds is None else of.mine.adds.brings_db
    if brings is None or not brings < of.limit(LITTLE_GAIN):
        return
    measure = _MEASURES[of.scenario.aim.objective]
    by = f"better by only {brings:.1f} dB" if brings > 0.0 else f"worse by {-brings:.1f} dB"
    yield Told(f"it is not needed for {measure} of all rows: with it, that is {by}", brings)


_MEASURES = {
    "spread": "the spread",
    "worst band": "the spread of the worst band",
    "deviation": "the deviation",
}


@caution("fill-useless-place", ("caution", "note"), FILLS, limit=SOFT_AT_AIM)
def fill_useless_place(of: SpeakerFacts) -> Iterator[Told]:
    """A fill is softer than its main by more than this at the row that it points at (a note where
    it is the louder one at some other row that it serves).
    """
    at_aim, row = of.match.aim_re_main_db, of.mine.aim_row
    if at_aim is None or row is None or -at_aim <= of.limit(SOFT_AT_AIM):
        return
    leads = int((of.re_main_db[of.at.served] > 0.0).sum())
    rest = "and it is louder nowhere that it serves: its place makes it useless"
    if leads:
        rest = f"it is louder at {_count(leads)} of the {len(of.at.served)} that it serves"
    yield Told(
        f"where it points, at {of.scenario.rows.label(row)}, it is {-at_aim:.1f} dB softer than "
        f"{of.match.main}; {rest}",
        -at_aim,
        severity="note" if leads else "caution",
    )


@caution("fill-not-matched", "caution", FILLS, basis=NOT_ASSUMED, for_rigger=False)
def fill_not_matched(of: SpeakerFacts) -> Iterator[Told]:
    """A fill or its main has no known level at the handover row."""
    if of.match.handover_row is None or of.match.level_gain_db is None:
        yield Told(f"it is not matched to {of.match.main}: a level at the handover row is unknown")


@caution("fill-at-ceiling", "note", FILLS, unit="dB", basis=COMMON)
def fill_at_ceiling(of: SpeakerFacts) -> Iterator[Told]:
    """A match at the handover row would make a fill louder than its main by more than `ceiling_db`
    where the main is not hidden, so its gain is lower.
    """
    match, rows = of.match, of.scenario.rows
    if match.handover_row is None or match.level_gain_db is None or match.ceiling_row is None:
        return
    if match.at_ceiling and match.ceiling_gain_db is not None:
        short = match.level_gain_db - match.ceiling_gain_db
        lower = f", {short:.1f} dB below a match with {match.main} at "
        lower += rows.label(match.handover_row)
        yield Told(
            f"its gain is as high as its ceiling allows{lower if short >= 0.05 else ''}: nowhere "
            f"in view of {match.main} is it louder by more than {match.ceiling_db:g} dB; "
            f"{rows.label(match.ceiling_row)} decides that, ceiling_db moves it",
            short,
            match.ceiling_db,
        )


@caution("fill-off-match", "caution", FILLS, limit=OFF_MATCH, for_rigger=False)
def fill_off_match(of: SpeakerFacts) -> Iterator[Told]:
    """With a gain that is given a fill is this far off its main where they come nearest."""
    match, off = of.match, of.match.handover_re_main_db
    if match.handover_row is None or match.level_gain_db is None or off is None:
        return
    if match.gain_given and abs(off) > of.limit(OFF_MATCH):
        word = "louder" if off > 0.0 else "softer"
        yield Told(
            f"with the gain given it is {abs(off):.1f} dB {word} than {match.main} at "
            f"{of.scenario.rows.label(match.handover_row)}, where they come nearest; a match would "
            f"take {match.level_gain_db:+.1f} dB",
            off,
        )


@caution(
    "fill-late-without-delay", "caution", FILLS, unit="ms", basis="ours: a delay is not negative"
)
def fill_late_without_delay(of: SpeakerFacts) -> Iterator[Told]:
    """A fill is so much farther away than its main that no delay aligns it."""
    match, late = of.match, of.match.aligned_delay_ms
    if match.handover_row is None or match.level_gain_db is None:
        return
    if late is not None and late < 0.0 and not match.delay_given:
        yield Told(
            f"even without delay it comes {-late:.1f} ms later at "
            f"{of.scenario.rows.label(match.handover_row)} than wanted: it is farther away than "
            f"{match.main}; delay {match.main} instead",
            -late,
            limit=0.0,
        )


def _count(rows: int) -> str:
    return "one row" if rows == 1 else f"{rows} rows"


def _heard_after_ms(of: SpeakerFacts) -> np.ndarray:
    """(rows,) time after the main where it is not much softer; NaN elsewhere."""
    near = of.limit(FILL_NEAR)
    return np.where(of.re_main_db >= -near, of.after_main_ms, np.nan)


@caution("fill-leads", "caution", FILLS, limit=FILL_NEAR, unit="ms", for_rigger=False)
def fill_leads(of: SpeakerFacts) -> Iterator[Told]:
    """A fill arrives before its main at a row where it is softer than the main by no more than
    this.
    """
    after = _heard_after_ms(of)
    early = np.flatnonzero(after < -ROUNDING_MS)
    if len(early):
        row = int(early[np.argmin(after[early])])
        yield Told(
            f"it arrives before {of.match.main} at {_count(len(early))}, by up to "
            f"{-after[row]:.1f} ms at {of.scenario.rows.label(row)}: sound seems to come from it "
            "there",
            float(after[row]),
            limit=0.0,
        )


@caution("fill-lags", "caution", FILLS, limit=FILL_LAG, for_rigger=False)
def fill_lags(of: SpeakerFacts) -> Iterator[Told]:
    """A fill arrives later than this after its main at a row where it is softer by no more than
    `fill_near_db`.
    """
    after, near = _heard_after_ms(of), of.limit(FILL_NEAR)
    late = np.flatnonzero(after > of.limit(FILL_LAG))
    if len(late):
        row = int(late[np.argmax(after[late])])
        others = f", and late at {_count(len(late) - 1)} more" if len(late) > 1 else ""
        yield Told(
            f"it arrives {after[row]:.1f} ms after {of.match.main} at "
            f"{of.scenario.rows.label(row)}{others}, and is at most {near:g} dB softer there: it "
            "may be heard as an echo, or blur speech",
            float(after[row]),
        )


@caution("fill-over-ceiling", "caution", FILLS, unit="dB", basis=COMMON, for_rigger=False)
def fill_over_ceiling(of: SpeakerFacts) -> Iterator[Told]:
    """A fill is louder than its main by more than `ceiling_db` at a row that the main is not hidden
    from.
    """
    match = of.match
    open_to = sees(of.answer.rows.by_speaker[match.main])
    over = np.where(open_to, of.re_main_db - match.ceiling_db, np.nan)
    loud = np.flatnonzero(over > ROUNDING_DB)
    if len(loud):
        row = int(loud[np.argmax(over[loud])])
        yield Told(
            f"it is louder than {match.main} by more than {match.ceiling_db:g} dB at "
            f"{_count(len(loud))} in view of {match.main}: by {of.re_main_db[row]:.1f} dB at "
            f"{of.scenario.rows.label(row)}",
            float(of.re_main_db[row]),
            match.ceiling_db,
        )


@caution("fill-drifts", ("note", "caution"), FILLS, unit="ms", for_rigger=False)
def fill_drifts(of: SpeakerFacts) -> Iterator[Told]:
    """A fill: its time after the main over the rows it serves, and for 10 °C (a caution where that
    makes it lead at the handover row).
    """
    match = of.match
    if match.drift_ms is None or match.warming_ms is None:
        return
    low, high = match.drift_ms
    at = match.handover_after_main_ms
    leads = at is not None and at >= 0.0 and at - match.warming_ms < 0.0
    more = ": enough for it to arrive first at the handover row" if leads else ""
    yield Told(
        f"over the rows that it serves it comes {low:.1f} to {high:.1f} ms after {match.main}; "
        f"10 °C warmer or colder moves that by up to {match.warming_ms:.1f} ms{more}",
        match.warming_ms,
        severity="caution" if leads else "note",
    )


@caution("fill-output-missing", "note", FILLS, basis=NOT_ASSUMED)
def fill_output_missing(of: SpeakerFacts) -> Iterator[Told]:
    """A fill or its main without a sensitivity."""
    both = (of.scenario.speaker(of.speaker_name), of.scenario.speaker(of.match.main))
    lacking = [one.name for one in both if one.sensitivity_db is None]
    if lacking:
        yield Told(
            f"no sensitivity is given for {' and '.join(lacking)}: the gains against each other "
            "count as if the same signal gave the same level at 1 m on axis"
        )
