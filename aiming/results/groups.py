"""What an answer says of a loudspeaker among others: fills matched, boxes hung under, what it adds.

Each knows how it stands in the answer's dictionary.
"""

from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class Match:
    """A fill matched to its main.

    handover_row: index into the answer's rows where they are matched; None where a level is unknown
    level_gain_db: the fill's gain at which both are equally loud there
    ceiling_gain_db: the most that keeps it from being louder than main + ceiling wherever the main
        is not hidden, and ceiling_row, the row that says so; None where no such row is
    aligned_delay_ms: the delay that brings it in behind_ms after the main there; negative where
        even without delay it comes later
    gain_given, delay_given: the file fixes them; then handover_row is where the levels meet best
    handover_re_main_db, handover_after_main_ms: level and time against the main there
    drift_ms: (least, most) of the time after the main over the rows that the fill serves
    warming_ms: largest change of that time over those rows for 10 °C
    """

    main: str
    handover_row: int | None
    behind_ms: float
    ceiling_db: float
    level_gain_db: float | None
    ceiling_gain_db: float | None
    ceiling_row: int | None
    aligned_delay_ms: float | None
    gain_given: bool
    delay_given: bool
    handover_re_main_db: float | None = None
    handover_after_main_ms: float | None = None
    drift_ms: tuple[float, float] | None = None
    warming_ms: float | None = None

    @property
    def at_ceiling(self) -> bool:
        """Whether the ceiling, not the match, sets the gain."""
        if self.gain_given or self.level_gain_db is None or self.ceiling_gain_db is None:
            return False
        return self.ceiling_gain_db < self.level_gain_db

    def to_dict(self) -> dict[str, Any]:
        """Under the answer's names."""
        return {**vars(self), "at_ceiling": self.at_ceiling}


@dataclass(frozen=True)
class Adds:
    """All loudspeakers together if this one were silent: what it adds is the difference."""

    spread_without_db: float | None
    rows_within_3db_without_percent: float | None

    def to_dict(self) -> dict[str, Any]:
        """Under the answer's names."""
        return dict(vars(self))


@dataclass(frozen=True)
class Pair:
    """A loudspeaker and the one that hangs under it, heard together over the rows of both."""

    under: str
    splay_deg: float
    spread_db: float | None
    worst_band_spread_db: float | None
    deviation_db: float | None
    rows_within_3db_percent: float | None

    def to_dict(self) -> dict[str, Any]:
        """Under the answer's names."""
        return dict(vars(self))
