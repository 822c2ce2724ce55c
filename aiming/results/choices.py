"""What each other decision would buy and cost beside the one that was taken."""

from dataclasses import dataclass, field
from typing import Any, Literal

Kind = Literal[
    "taken", "best", "front rows", "axis", "evenest", "turned", "height", "tilt", "coverage", "fill"
]


@dataclass(frozen=True)
class Choice:
    """One decision, solved and proven like the answer itself.

    name: in plain words; kind: what it changes
    set: dotted keys and values; solving with them gives these figures
    speaker: whose figures; None for all loudspeakers together, whose place is then None too
    softest_db: the softest row re what the loudspeaker would give the last row with its axis on it
    misses_percent: share of its sound in the section that starts towards no seating served
    costs: in what respects it is worse than the one taken, or which rule of the file it breaks
    """

    name: str
    kind: Kind
    speaker: str | None
    spread_db: float | None
    rows_within_3db_percent: float | None
    set: dict[str, Any] = field(default_factory=dict)
    orientation: str | None = None
    tilt_deg: float | None = None
    height_m: float | None = None
    deviation_db: float | None = None
    softest_db: float | None = None
    misses_percent: float | None = None
    costs: tuple[str, ...] = ()
