"""What each other decision would buy and cost beside the one that was taken."""

from dataclasses import dataclass, field
from typing import Annotated, Literal

from ..base.described import Keyed, Kind
from ..speaker.speaker import Orientation

ChoiceKind = Literal[
    "taken", "best", "front rows", "axis", "evenest", "turned", "height", "tilt", "coverage"
]
Setting = float | int | str | bool | list[float]


@dataclass(frozen=True)
class Choice:
    """One decision, solved and proven like the answer itself."""

    name: Annotated[str, "in plain words"]
    kind: Annotated[
        ChoiceKind,
        "`taken`, `best`, `front rows`, `axis`, `evenest`, `turned`, `height`, `tilt` or "
        "`coverage`",
    ]
    speaker: Annotated[str, "whose figures"]
    orientation: Annotated[Orientation, "`upright` or `flipped`"]
    tilt_deg: Annotated[float, "axis, degrees, positive up"]
    height_m: Annotated[float, "acoustic centre, m above the datum"]
    spread_db: Annotated[
        float | None,
        "over the rows that it is judged on, dB; null where a level is unknown",
    ]
    rows_within_3db_percent: Annotated[float | None, "of those rows, %; null likewise"]
    set: Annotated[
        dict[str, Setting],
        Keyed("KEY"),
        Kind("value of a key"),
        "dotted keys, none for the one taken; solving with them gives these figures",
    ] = field(default_factory=dict)
    deviation_db: Annotated[float | None, "over those rows, dB; null likewise"] = None
    softest_db: Annotated[
        float | None,
        "the softest of those rows re what the loudspeaker would give the last row with its axis "
        "on it, dB; null likewise",
    ] = None
    misses_percent: Annotated[
        float | None,
        "share of its sound in the section that starts towards no seating served, %; null where "
        "the pattern is not known all round",
    ] = None
    costs: Annotated[
        tuple[str, ...],
        "in what respects it is worse than the one taken, and which rules or ranges of the file "
        "it leaves; empty for the one taken",
    ] = ()
