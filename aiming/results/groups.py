"""What an answer says of a loudspeaker among others: fills, boxes hung under, what each adds."""

from dataclasses import dataclass
from typing import Annotated

from ..speaker.speaker import Range


@dataclass(frozen=True)
class Match:
    """A fill matched to its main; where the file fixes the gain, the row is where levels meet."""

    main: Annotated[str, "the loudspeaker that it fills for"]
    handover_row: Annotated[
        int | None,
        "index into `rows` where both are matched; null where a level is unknown",
    ]
    behind_ms: Annotated[float, "how far behind the main it is to be there, ms"]
    ceiling_db: Annotated[
        float,
        "how much louder than the main it may be where the main is not hidden, dB",
    ]
    level_gain_db: Annotated[
        float | None,
        "gain at which both are equally loud there, dB; null without a row",
    ]
    ceiling_gain_db: Annotated[
        float | None,
        "the most that keeps the ceiling, dB; null where no row asks",
    ]
    ceiling_row: Annotated[int | None, "index into `rows` of the row that asks; null likewise"]
    aligned_delay_ms: Annotated[
        float | None,
        "delay that brings it in on time there, ms; negative where even none is too late; null "
        "without a row",
    ]
    gain_given: Annotated[bool, "whether the file fixes the gain"]
    delay_given: Annotated[bool, "whether the file fixes the delay"]
    handover_re_main_db: Annotated[
        float | None,
        "level against the main there, as set, dB; null without a row",
    ] = None
    handover_after_main_ms: Annotated[
        float | None,
        "time after the main there, as set, ms; null likewise",
    ] = None
    drift_ms: Annotated[Range, "of the time after the main over the rows served, ms"] = (0.0, 0.0)
    warming_ms: Annotated[float, "largest change of that time for 10 °C, ms"] = 0.0

    aim_re_main_db: Annotated[
        float | None,
        "level against the main at the row nearest to its own aim point, as set, dB; null without "
        "an aim point or a level",
    ] = None
    chosen_gain_db: Annotated[
        float | None,
        "the gain where it was chosen for the sum of all, dB; null where it was matched or given",
    ] = None

    @property
    def at_ceiling(
        self,
    ) -> Annotated[bool, "whether the ceiling, not the match or the sum, sets the gain"]:
        """Whether the ceiling, not the match or what all give together, sets the gain."""
        if self.gain_given or self.level_gain_db is None or self.ceiling_gain_db is None:
            return False
        if self.chosen_gain_db is not None:
            return self.chosen_gain_db > self.ceiling_gain_db - 0.05
        return self.ceiling_gain_db < self.level_gain_db


@dataclass(frozen=True)
class Adds:
    """All loudspeakers together if this one were silent: what it adds is the difference."""

    spread_without_db: Annotated[
        float | None,
        "spread of all others without it, dB; null where a level is unknown",
    ]
    rows_within_3db_without_percent: Annotated[
        float | None,
        "the same of the rows within 3 dB, %; null likewise",
    ]
    brings_db: Annotated[
        float | None,
        "how much worse the objective is without it, all others as they stand, dB; negative where "
        "it is better without; null likewise",
    ] = None


@dataclass(frozen=True)
class Pair:
    """A loudspeaker and the one that hangs under it, heard together over the rows of both."""

    under: Annotated[str, "the loudspeaker that hangs under it"]
    splay_deg: Annotated[float, "how much further nose-down that points, degrees"]
    spread_db: Annotated[
        float | None,
        "of both over the rows of both, dB; null where a level is unknown",
    ]
    worst_band_spread_db: Annotated[float | None, "the same, worst band, dB; null likewise"]
    deviation_db: Annotated[float | None, "the same, deviation, dB; null likewise"]
    rows_within_3db_percent: Annotated[float | None, "the same, %; null likewise"]


@dataclass(frozen=True)
class TogetherProof:
    """What is proven of loudspeakers chosen together, in dB of the objective."""

    gap_db: Annotated[
        float | None,
        "nothing within all ranges is better by more, dB; null where that was not tried",
    ]
    gains_gap_db: Annotated[
        float | None,
        "no other gains of these placements are better by more, dB; null where none is open",
    ]
    each_alone_gap_db: Annotated[
        float,
        "no single loudspeaker, re-aimed with its own gain, is better by more, dB",
    ]
    pairs_gap_db: Annotated[
        float | None,
        "no two neighbours, re-aimed with their gains, are better by more, dB; null where there "
        "are only two, or where gap_db is as small as was asked for",
    ]
    status: Annotated[str, "how far the proof over everything came"]
    starts: Annotated[int, "distinct starts of the search"]
    agreeing: Annotated[
        int,
        "how many of them ended at the same objective; that proves nothing",
    ]
    boxes: Annotated[int, "boxes bounded for gap_db"]


@dataclass(frozen=True)
class HigherCeilings:
    """What higher ceilings would give."""

    by_db: Annotated[float, "how much higher every ceiling, dB"]
    objective_db: Annotated[float, "the objective then, dB"]


@dataclass(frozen=True)
class HeldBy:
    """The rows that hold the spread: no change is an improvement that does not mend all of them."""

    loudest: Annotated[tuple[int, ...], "indices into `rows`, within 0.1 dB of the loudest"]
    softest: Annotated[tuple[int, ...], "likewise of the softest"]
    speaker: Annotated[
        str | None,
        "the loudspeaker that is heard at both ends, no more than 6 dB under all of them, and at "
        "least twice as far from one as from the other: no gain mends that; null where none is",
    ] = None
    near_row: Annotated[int | None, "index into `rows` of the loud row near it; null likewise"] = (
        None
    )
    far_row: Annotated[
        int | None, "index into `rows` of the soft row far from it; null likewise"
    ] = None
