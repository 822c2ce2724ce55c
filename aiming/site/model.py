"""What was found on site: the same names in Python and in JSON."""

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from ..base.arrays import FloatArray
from ..geometry.section import Rows
from ..results.serialise import known, plain
from ..rigging.centre_of_gravity import Known
from ..speaker.speaker import Placement
from .arrival import Arrival
from .estimate import Interval
from .traces import Trace
from .weighing import Weighed

__all__ = ["Coverage", "Found", "Interval", "PositionFound", "ReadingFound", "RowFound"]


@dataclass(frozen=True)
class ReadingFound:
    """What one reading by itself says, and the state that it is most likely in.

    tilt_deg, height_m, x_m: what it says of them by itself; None for the others
    state: "right", "sign lost" or "gross"; likely: how likely that is, by everything
    """

    text: str
    tilt_deg: Interval | None
    height_m: Interval | None
    x_m: Interval | None
    state: str
    likely: float


@dataclass(frozen=True)
class PositionFound:
    """Levels at one position by band.

    predicted_db, found_db: by the plan, and by what was found; both shifted per band by what brings
        them nearest to the measured levels, since every band has its own unknown gain
    doubt_db: half of the 90 % interval within which the plan would let each level lie
    stands_out: the bands whose level lies beyond that of what was found
    off_db: measured minus planned, the mean over the bands
    """

    name: str
    x_m: float
    z_m: float
    distance_m: float
    off_axis_deg: float
    measured_db: dict[float, float | None]
    predicted_db: dict[float, float | None]
    found_db: dict[float, float | None]
    doubt_db: dict[float, float | None]
    stands_out: tuple[float, ...]
    off_db: float | None


@dataclass(frozen=True)
class RowFound:
    """The design level of one row about the mean of all rows served: planned, now, after a move."""

    name: str
    x_m: float
    planned_db: float | None
    now_db: Interval | None
    after_db: float | None


@dataclass(frozen=True)
class Coverage:
    """How even the audience hears this loudspeaker alone, over the rows that it serves."""

    spread_db: float | None
    rows_within_3db_percent: float | None


@dataclass(frozen=True)
class StandsOut:
    """A position, in one band or (None) in all of them, that fits only as a slip.

    left_db: measured minus what fits the rest; likely: how likely that it is the slip
    """

    position: str
    band_hz: float | None
    left_db: float
    likely: float


@dataclass(frozen=True)
class Stop:
    """What comes before every question of sound: loads as read."""

    text: str
    stops: bool
    utilisation: float | None = None


@dataclass(frozen=True)
class Ripple:
    """A floor's reflection found in a finely resolved trace, and taken out of it."""

    position: str
    share: float
    first_notch_hz: float
    detour_m: float


@dataclass(frozen=True, eq=False)
class Found:
    """One loudspeaker, held against what was measured.

    tilt_error_deg, height_error_m, x_error_m: hung minus planned, by everything; where a reading
        tells it, if that reading is right.  None where nothing tells it
    pattern_scale: how much wider the real pattern is than its data, as a factor
    levels_tilt_error_deg: what the levels alone say of the tilt
    tilt_assumes, hangs: what its interval rests on; how it hangs in words, "" where not known
    arrivals: what the phases tell of where the microphones stood; () where they tell nothing
    explained: whether levels and readings fit without a slip; None where too few could tell
    against: how many times better other tilts explain the levels than the one that was read
    blind_deg: a reading wrong by less than this would pass unseen; None where none was read, or
        where the levels could contradict it nowhere
    headline, outcome, reasons: the one thing to do; what rows hear now and after; why
    weighed: what weighing it level and tilted told of its centre of gravity, where that was done
    hung: where it hangs, as far as known; corrected: where it should; None without a correction
    now, after, planned_coverage: over the rows, as it hangs, corrected, and as planned
    """

    title: str
    datum: str
    speaker: str
    bands_hz: tuple[float, ...]
    plan: Placement
    tilt_error_deg: Interval | None
    height_error_m: Interval | None
    x_error_m: Interval | None
    pattern_scale: Interval | None
    levels_tilt_error_deg: Interval | None
    tilt_assumes: str
    hangs: str
    explained: bool | None
    against: float | None
    blind_deg: float | None
    stands_out: tuple[StandsOut, ...]
    swapped: tuple[str, str] | None
    arrivals: tuple[Arrival, ...]
    stops: tuple[Stop, ...]
    hung: Placement | None
    corrected: Placement | None
    gain_db: float | None
    worse_share: float | None
    planned_coverage: Coverage
    now: Coverage
    after: Coverage
    spread_now: Interval | None
    headline: str
    outcome: str
    reasons: tuple[str, ...]
    positions: tuple[PositionFound, ...]
    rows_found: tuple[RowFound, ...]
    readings: tuple[ReadingFound, ...]
    ripples: tuple[Ripple, ...]
    notes: tuple[str, ...]
    rows: Rows
    traces: tuple[Trace, ...] = ()
    before: "Found | None" = field(default=None)
    weighed: Weighed | None = None

    @property
    def stopped(self) -> bool:
        """Whether what was read forbids going on."""
        return any(one.stops for one in self.stops)

    @property
    def advice(self) -> str:
        """Headline, outcome and reasons in one text."""
        return " ".join(
            f"{one.rstrip('.')}." for one in (self.headline, self.outcome, *self.reasons) if one
        )

    @property
    def spread_now_db(self) -> float | None:
        """Of the design level over the rows served, as it hangs."""
        return self.now.spread_db

    @property
    def spread_corrected_db(self) -> float | None:
        """The same after the correction."""
        return self.after.spread_db

    def to_dict(self) -> dict[str, Any]:
        """Plain lists, numbers and strings, ready for JSON."""
        return {
            "tilt_error_deg": _interval(self.tilt_error_deg),
            "height_error_m": _interval(self.height_error_m),
            "pattern_scale": _interval(self.pattern_scale),
            "explained": self.explained,
            "spread_now_db": self.spread_now_db,
            "spread_corrected_db": self.spread_corrected_db,
            "advice": self.advice,
            "positions": positions_dict(self.positions),
            "speaker": self.speaker,
            "headline": self.headline,
            "outcome": self.outcome,
            "reasons": list(self.reasons),
            "move": self.corrected is not None,
            "gain_db": self.gain_db,
            "worse_share": self.worse_share,
            "tilt_assumes": self.tilt_assumes,
            "x_error_m": _interval(self.x_error_m),
            "levels_tilt_error_deg": _interval(self.levels_tilt_error_deg),
            "against_reading": self.against,
            "blind_deg": self.blind_deg,
            "spread_planned_db": self.planned_coverage.spread_db,
            "spread_now_interval_db": _interval(self.spread_now),
            "rows_within_3db_percent": {
                "planned": self.planned_coverage.rows_within_3db_percent,
                "now": self.now.rows_within_3db_percent,
                "corrected": self.after.rows_within_3db_percent,
            },
            "planned": _placement(self.plan),
            "hung": _placement(self.hung),
            "corrected": _placement(self.corrected),
            "rows": [
                {
                    "name": one.name,
                    "planned_db": one.planned_db,
                    "now_db": _interval(one.now_db),
                    "after_db": one.after_db,
                }
                for one in self.rows_found
            ],
            "stands_out": [dict(vars(one)) for one in self.stands_out],
            "swapped": None if self.swapped is None else list(self.swapped),
            "arrivals": [dict(vars(one)) for one in self.arrivals],
            "stops": [dict(vars(one)) for one in self.stops],
            "weighed": None if self.weighed is None else _weighed(self.weighed),
            "floor_ripples": [dict(vars(one)) for one in self.ripples],
            "readings": [
                {
                    "text": one.text,
                    "tilt_deg": _interval(one.tilt_deg),
                    "height_m": _interval(one.height_m),
                    "x_m": _interval(one.x_m),
                    "state": one.state,
                    "likely": one.likely,
                }
                for one in self.readings
            ],
            "notes": list(self.notes),
        }


def positions_dict(found: tuple[PositionFound, ...]) -> list[dict[str, Any]]:
    """Positions ready for JSON."""
    return [
        {
            "name": one.name,
            "measured_db": plain(one.measured_db),
            "predicted_db": plain(one.predicted_db),
            "found_db": plain(one.found_db),
            "doubt_db": plain(one.doubt_db),
            "stands_out": plain(list(one.stands_out)),
            "off_db": one.off_db,
            "x_m": one.x_m,
            "z_m": one.z_m,
            "distance_m": one.distance_m,
            "off_axis_deg": one.off_axis_deg,
        }
        for one in found
    ]


def _interval(one: Interval | None) -> dict[str, float] | None:
    return None if one is None else one.to_dict()


def _weighed(one: Weighed) -> dict[str, Any]:
    whole = one.whole
    return {
        "whole": {
            "weight_n": _known(whole.weight_n),
            "u_m": _known(whole.u_m),
            "w_m": None if whole.w_m is None else _known(whole.w_m),
        },
        "usable": whole.usable,
        "mass_kg": one.mass_kg,
        "centre_of_gravity_m": None if one.centre_m is None else list(one.centre_m),
        "cells": [
            {
                "name": line.name,
                "level_reading_n": line.level_reading_n,
                "level_accept_n": plain(line.level_accept_n),
                "reading_n": line.reading_n,
                "accept_n": plain(line.accept_n),
                "stop_over_n": line.stop_over_n,
            }
            for line in (() if one.loads is None else one.loads.lines)
        ],
    }


def _known(one: Known) -> dict[str, float]:
    return {"value": one.value, "low": one.low, "high": one.high}


def _placement(one: Placement | None) -> dict[str, Any] | None:
    if one is None:
        return None
    return {
        "x_m": one.x_m,
        "height_m": one.height_m,
        "tilt_deg": one.tilt_deg,
        "orientation": one.orientation,
    }


def by_band(bands_hz: tuple[float, ...], levels_db: FloatArray) -> dict[float, float | None]:
    """Levels (bands,) under their bands; None where unknown."""
    return {band: known(np.float64(level)) for band, level in zip(bands_hz, levels_db, strict=True)}
