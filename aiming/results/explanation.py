"""Why the aim is what it is: what other choices would buy and cost, one loudspeaker at a time."""

from dataclasses import dataclass


@dataclass(frozen=True)
class FrontRows:
    """The best with this many front rows left to a fill."""

    given_away: int
    tilt_deg: float
    height_m: float
    spread_db: float
    rows_within_3db_percent: float


@dataclass(frozen=True)
class PastLastRow:
    """The axis this far above the last row's ears: what it buys and costs.

    last_row_change_db: design level there against the axis on it
    missed_share_percent: energy sent into the section that meets no served seating; NaN where the
        pattern is not known all round
    """

    above_last_row_deg: float
    tilt_deg: float
    spread_db: float
    last_row_change_db: float
    missed_share_percent: float


@dataclass(frozen=True)
class HeightTrade:
    """The best spread, and its tilt, at one height."""

    change_m: float
    height_m: float
    tilt_deg: float
    spread_db: float


@dataclass(frozen=True)
class Flip:
    """The best of one orientation: spread of the design level and per band."""

    orientation: str
    tilt_deg: float
    spread_db: float
    band_spread_db: dict[float, float]


@dataclass(frozen=True)
class SpeakerExplanation:
    """What the summary says beside the answer, for one loudspeaker.

    held_at_last_row: the best aim under axis_on_audience is the axis on the audience's far end,
        and turning past it would make the spread smaller
    above_last_row_deg: how far the axis passes above the last row's ears; negative below
    past_last_row: degree by degree; () unless held there or already past
    knee: how many front rows are worth giving away, None where none is
    distance_loss_db: what distance and air alone spread over the rows
    mostly_distance: the pattern takes little of that away, whatever the tilt
    helping_height_m: least height at which the best spread falls by HELPS_DB; None where none
    """

    speaker: str
    held_at_last_row: bool
    above_last_row_deg: float
    past_last_row: tuple[PastLastRow, ...]
    front_rows: tuple[FrontRows, ...]
    knee: int | None
    height_trade: tuple[HeightTrade, ...]
    flips: tuple[Flip, ...]
    distance_loss_db: float
    mostly_distance: bool
    helping_height_m: float | None


@dataclass(frozen=True)
class Explanation:
    """One per loudspeaker, in the scenario's order."""

    speakers: tuple[SpeakerExplanation, ...]
