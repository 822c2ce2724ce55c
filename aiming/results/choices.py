"""What each other decision would buy and cost beside the one that was taken."""

import json
from dataclasses import dataclass, field
from typing import Annotated, Literal

from ..base.described import Keyed, Kind
from ..speaker.speaker import Orientation, Placement

ChoiceKind = Literal[
    "taken",
    "best",
    "front rows",
    "axis",
    "evenest",
    "turned",
    "height",
    "tilt",
    "coverage",
    "place",
    "fill",
    "one by one",
]
WORTH_DB, WORTH_PERCENT = 1.5, 15.0
"""A decision that makes the spread, or the rows within ±3 dB, better by this is worth a look."""
MOST_PRINTED = 6
"""Of the choices, itself among them: those that differ most come first."""
Setting = float | int | str | bool | list[float] | list[str]


@dataclass(frozen=True)
class Choice:
    """One decision, solved like the answer itself; for one loudspeaker also proven."""

    name: Annotated[str, "in plain words"]
    kind: Annotated[
        ChoiceKind,
        "`taken`, `best`, `front rows`, `axis`, `evenest`, `turned`, `height`, `tilt`, `coverage`; "
        "of all loudspeakers also `place`, `fill` (with or without one) and `one by one`",
    ]
    speaker: Annotated[str | None, "whose figures; null for those of all together"]
    orientation: Annotated[Orientation | None, "`upright` or `flipped`; null likewise"]
    tilt_deg: Annotated[float | None, "axis, degrees, positive up; null likewise"]
    x_m: Annotated[
        float | None,
        "acoustic centre, m from the datum, positive towards the audience; null likewise",
    ]
    height_m: Annotated[float | None, "acoustic centre, m above the datum; null likewise"]
    spread_db: Annotated[
        float | None,
        "over the rows that it is judged on, dB; null where a level is unknown",
    ]
    rows_within_3db_percent: Annotated[float | None, "of those rows, %; null likewise"]
    set: Annotated[
        dict[str, Setting],
        Keyed("KEY"),
        Kind("value of a key"),
        "dotted keys, none for the one taken; solving with them gives these figures, for all "
        "loudspeakers together to what a search without a proof may miss",
    ] = field(default_factory=dict)
    deviation_db: Annotated[float | None, "over those rows, dB; null likewise"] = None
    softest_db: Annotated[
        float | None,
        "the softest of those rows against what the loudspeaker would give the last row with its "
        "axis on it, of all loudspeakers against the softest as taken, dB; null likewise",
    ] = None
    misses_percent: Annotated[
        float | None,
        "share of its sound in the section that starts towards no seating served, %; null where "
        "the pattern is not known all round",
    ] = None
    worst_db: Annotated[
        float | None,
        "the file's objective at its worst within its tolerance, proven, dB; null unless the file "
        "aims at that",
    ] = None
    costs: Annotated[
        tuple[str, ...],
        "in what respects it is worse than the one taken, and which rules or ranges of the file "
        "it leaves; empty for the one taken",
    ] = ()

    @property
    def placement(self) -> Placement | None:
        """Where it would hang; None for a choice about all together."""
        if self.x_m is None or self.height_m is None or self.tilt_deg is None:
            return None
        return Placement(self.x_m, self.height_m, self.tilt_deg, self.orientation == "flipped")

    @property
    def leaves_ranges(self) -> bool:
        """Whether it is outside what the file allows."""
        return "range" in self.costs

    def worth(self, taken: "Choice") -> float:
        """How much better than the one taken: 1 for WORTH_DB of spread or WORTH_PERCENT of rows."""
        spread = (taken.spread_db or 0.0) - (self.spread_db or 0.0)
        rows = (self.rows_within_3db_percent or 0.0) - (taken.rows_within_3db_percent or 0.0)
        return max(spread / WORTH_DB, rows / WORTH_PERCENT)

    @property
    def set_text(self) -> str:
        """ "--set aim.left_to_fill=2": what takes it on the command line."""
        return " ".join(f"--set {_quoted(f'{key}={_toml(of)}')}" for key, of in self.set.items())


def _toml(value: Setting) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    return value if isinstance(value, str) else json.dumps(value)


def _quoted(text: str) -> str:
    """In single quotes where a shell would take it apart."""
    return text if not set(text) & set(" \"[]'") else f"'{text}'"


def printed(choices: tuple[Choice, ...], *, speaker: str | None) -> tuple[Choice, ...]:
    """The one taken, and the first others: of one loudspeaker, or of all together (None)."""
    mine = tuple(choice for choice in choices if choice.speaker == speaker)
    return mine[:MOST_PRINTED]
