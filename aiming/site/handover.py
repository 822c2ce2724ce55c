"""A fill fitted to what it fills, from both measured by one microphone at the handover row.

Each plays alone, set as planned, with nothing changed in between: their traces share one gain and
one time.  What the fill is then behind and over its main, and the plan's own figures, give the
delay and the gain that it needs.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Any, cast

import numpy as np

from ..base.units import signed_text
from ..field.levels import power_sum_db
from ..results.answer import Answer, SpeakerAnswer
from ..results.groups import Match
from ..results.serialise import plain
from .arrival import apart
from .banding import in_bands
from .compare import shared_only
from .model import by_band
from .run import OnSiteError
from .traces import Files, Magnitude, Trace, read_traces

LIKE_MS = 0.5
"""As near as this to the plan's time it is left: a head's width of way; our own choice."""
LIKE_DB = 1.0
"""As near as this to the plan's level it is left: what one place may be off; our own choice."""


@dataclass(frozen=True, eq=False)
class Fitted:
    """A fill against its main at the handover row: planned, measured, and what it needs.

    traces: of the main, of the fill
    """

    headline: Annotated[str, "the one thing to do"]
    reasons: Annotated[tuple[str, ...], "what that rests on"]
    title: Annotated[str, "the scenario's"]
    main: Annotated[str, "what is filled"]
    fill: Annotated[str, "the fill"]
    row: Annotated[str, "their handover row"]
    after_ms: Annotated[
        float | None,
        "how much later than the main the fill arrives there, ms; null where the phases do not "
        "tell it",
    ]
    planned_after_ms: Annotated[float, "the same as planned, ms"]
    re_main_db: Annotated[float, "design level of the fill over the main's, measured there, dB"]
    planned_re_main_db: Annotated[float, "the same as planned, dB"]
    by_band_db: Annotated[
        dict[float, float | None], "the same by band, measured, dB; null where it was not"
    ]
    planned_by_band_db: Annotated[
        dict[float, float | None], "the same as planned, dB; null where unknown"
    ]
    reversed: Annotated[
        bool | None,
        "whether the fill's polarity is against the main's; null where the phases are neither "
        "alike nor opposite, or do not tell the time",
    ]
    planned_delay_ms: Annotated[float, "the fill's, as planned and set, ms"]
    planned_gain_db: Annotated[float, "likewise, dB"]
    delay_ms: Annotated[
        float | None,
        "what it is to be set to, ms, negative where even none is too late; null with `after_ms`",
    ]
    gain_db: Annotated[float, "what it is to be set to, dB"]
    traces: tuple[Trace, Trace]

    def to_dict(self) -> dict[str, Any]:
        """Plain lists, numbers and strings, ready for JSON."""
        return cast(dict[str, Any], plain(self))


def fit_at_handover(
    answer: Answer, at: Mapping[str, Files], *, magnitude: Magnitude | None = None
) -> Fitted:
    """What a measured fill needs to meet its main as planned.

    at: one trace each of the main and of the fill, by the loudspeakers' names
    Raises OnSiteError where these are no such two, ScenarioError for faults of the files.
    """
    main, fill, match = _pair(answer, tuple(at))
    assert match.handover_row is not None, "a pair has a handover row"
    of_main, of_fill = read_traces({main.name: at[main.name], fill.name: at[fill.name]},
                                   magnitude=magnitude)  # fmt: skip
    bands = answer.scenario.aim.bands_hz
    level = shared_only(in_bands((of_main, of_fill), bands).level_db, bands, of_main)
    rows, row = answer.rows, match.handover_row
    under = answer.scenario.company.under(main.name)
    sounds = [main.name] if under is None else [main.name, under]
    planned_main = power_sum_db(np.stack([rows.by_speaker[one].levels_db for one in sounds]))
    over = level[:, 1] - level[:, 0]
    planned_over = rows.by_speaker[fill.name].levels_db[:, row] - planned_main[:, row]
    both = np.isfinite(over) & np.isfinite(planned_over)
    if not both.any():
        raise OnSiteError("no band of both is known at the handover row, planned and measured")
    re_main = float(over[both].mean())
    planned_re_main = float(planned_over[both].mean())
    planned_after = float(match.handover_after_main_ms or 0.0)
    told = apart(of_fill, of_main)
    delay = None if told is None else fill.delay_ms + planned_after - told.after_ms
    gain = fill.gain_db + planned_re_main - re_main
    reverse = None if told is None else told.reversed
    return Fitted(
        title=answer.scenario.title,
        main=main.name,
        fill=fill.name,
        row=answer.scenario.rows.label(row),
        after_ms=None if told is None else told.after_ms,
        planned_after_ms=planned_after,
        re_main_db=re_main,
        planned_re_main_db=planned_re_main,
        by_band_db=by_band(bands, over),
        planned_by_band_db=by_band(bands, planned_over),
        reversed=reverse,
        planned_delay_ms=fill.delay_ms,
        planned_gain_db=fill.gain_db,
        delay_ms=delay,
        gain_db=gain,
        headline=_headline(fill, delay, gain, reverse),
        reasons=_reasons(main, fill, delay, reverse),
        traces=(of_main, of_fill),
    )


def _pair(answer: Answer, names: tuple[str, ...]) -> tuple[SpeakerAnswer, SpeakerAnswer, Match]:
    """Main, fill and their match, of two names in either order.  Raises OnSiteError."""
    known_names = {one.name: one for one in answer.speakers}
    pairs = [
        (known_names[one.match.main], one, one.match)
        for one in answer.speakers
        if one.match is not None and one.match.handover_row is not None
    ]
    for main, fill, match in pairs:
        if {main.name, fill.name} == set(names):
            return main, fill, match
    allowed = "; ".join(f"{fill.name} with {main.name}" for main, fill, _ in pairs)
    said = " and ".join(f'"{name}"' for name in names)
    raise OnSiteError(
        f"{said}: a fill and what it fills, a trace each; {allowed or 'this scenario has no fill'}"
    )


def _headline(fill: SpeakerAnswer, delay: float | None, gain: float, reverse: bool | None) -> str:
    """The one thing to do to the fill."""
    told = []
    if reverse:
        told.append("reverse its polarity")
    if delay is not None and abs(delay - fill.delay_ms) >= LIKE_MS and delay >= 0.0:
        by = delay - fill.delay_ms
        told.append(
            f"{abs(by):.1f} ms {'more' if by > 0.0 else 'less'} delay, {delay:.1f} ms in all"
        )
    if delay is not None and delay < 0.0:
        told.append(f"it comes {-delay:.1f} ms too late even without delay: delay what it fills")
    if abs(gain - fill.gain_db) >= LIKE_DB:
        by = gain - fill.gain_db
        told.append(f"{abs(by):.1f} dB {'louder' if by > 0.0 else 'softer'}, gain "
                    f"{signed_text(gain, ' dB')}")  # fmt: skip
    if not told:
        return f"LEAVE {fill.name} AS IT IS SET"
    return f"SET {fill.name}: {'; '.join(told)}"


def _reasons(
    main: SpeakerAnswer, fill: SpeakerAnswer, delay: float | None, reverse: bool | None
) -> tuple[str, ...]:
    said = []
    if delay is None:
        said.append(
            "The traces do not tell the time between them: both need phase, at the same "
            "frequencies, finely resolved, and with one time reference"
        )
    elif reverse is None:
        said.append(
            "The polarity is not told: the phases of the two are neither alike nor opposite, as "
            "those of unlike loudspeakers are"
        )
    said.append(
        f"Holds if {main.name} and {fill.name} were measured alone, one after the other, set as "
        "planned, with one microphone, one gain and one time reference"
    )
    return tuple(said)
