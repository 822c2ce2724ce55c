"""Cautions about the room: views to the stage, room to walk under, near listeners, wind."""

from collections.abc import Iterator

import numpy as np

from ..arrays import FloatArray
from ..scenario.scenario import Scenario
from ..section import Rows
from ..speaker.cabinet import turned_m
from ..speaker.speaker import Speaker
from ..units import length_text
from .caution_limits import threshold
from .held import Held
from .model import Caution

BESIDE_M = 0.5
"""A head this far beside the cabinet still counts as under it; our own choice."""


def place_cautions(scenario: Scenario, held: Held) -> Iterator[Caution]:
    """Of one loudspeaker where it hangs or stands."""
    yield from _near_listener(scenario, held)
    corners = _corners_m(held)
    if corners is None:
        return
    if held.flown:
        yield from _headroom(scenario, held, corners)
    if scenario.focus is None:
        yield from _sightline(scenario, held, corners)


def wind_cautions(scenario: Scenario, speakers: list[Speaker]) -> Iterator[Caution]:
    """Of a section outdoors."""
    if not scenario.outdoors:
        return
    if scenario.gust_speed_m_s is None:
        yield Caution(
            "wind-limit-missing",
            "caution",
            "outdoors without a wind speed: neither what stands nor what hangs was held against "
            "wind, and no wind is named at which everything comes down",
        )
    for one in speakers:
        if one.hang.mount == "flown":
            yield Caution(
                "wind-not-in-loads",
                "caution",
                "outdoors: wind on the flown box, its swing and its turn about the points are not "
                "in these loads",
                speaker=one.name,
            )


def _corners_m(held: Held) -> FloatArray | None:
    """(n, 2) x, z of the outline as it is placed; None without one."""
    cabinet = held.speaker.cabinet
    if cabinet is None or cabinet.outline_m is None:
        return None
    turned = turned_m(cabinet.outline_m, tilt_deg=held.tilt_deg, flipped=held.flipped)
    return np.asarray(turned + np.array(held.at_m))


def _near_listener(scenario: Scenario, held: Held) -> Iterator[Caution]:
    rows, least = scenario.rows, threshold(scenario, "nearest_listener")
    away = np.hypot(rows.x_m - held.at_m[0], rows.z_m - held.at_m[1])
    row = int(np.argmin(away))
    nearest = float(away[row])
    if nearest < least:
        unit = scenario.units
        yield Caution(
            "near-listener",
            "caution",
            f"{rows.label(row)} is {length_text(nearest, unit)} from the loudspeaker, nearer than "
            f"{length_text(least, unit)}: it is loud there whatever the aim",
            value=nearest,
            unit="m",
            limit=least,
            speaker=held.speaker.name,
        )


def _headroom(scenario: Scenario, held: Held, corners: FloatArray) -> Iterator[Caution]:
    low, high = float(corners[:, 0].min()) - BESIDE_M, float(corners[:, 0].max()) + BESIDE_M
    floors = [
        float(top)
        for seating in scenario.seatings
        for top in _tops_m(seating.floor_m, low, high)
        if top < float(corners[:, 1].min())
    ]
    ground = max(floors, default=0.0)
    room, least = float(corners[:, 1].min()) - ground, threshold(scenario, "headroom")
    if room < least:
        unit = scenario.units
        over = "the floor below it" if floors else "the datum (no seating lies below it)"
        yield Caution(
            "low-headroom",
            "caution",
            f"the cabinet hangs {length_text(room, unit)} above {over}, lower than "
            f"{length_text(least, unit)}: keep people from under it",
            value=room,
            unit="m",
            limit=least,
            speaker=held.speaker.name,
        )


def _tops_m(floor: FloatArray, low: float, high: float) -> FloatArray:
    """z of a floor line at the ends and corners of what of it lies in [low, high]."""
    x, z = floor[:, 0], floor[:, 1]
    start, end = max(low, float(x[0])), min(high, float(x[-1]))
    if start > end:
        return np.zeros(0)
    ends = np.interp([start, end], x, z)
    return np.concatenate([ends, z[(x >= start) & (x <= end)]])


def _sightline(scenario: Scenario, held: Held, corners: FloatArray) -> Iterator[Caution]:
    """Rows between whose eyes and the stage the cabinet stands, in this section."""
    rows = scenario.rows
    hidden = np.flatnonzero(_hides(scenario, rows, corners))
    if len(hidden) == 0:
        return
    first, last = (rows.label(int(row)) for row in hidden[[0, -1]])
    which = first if len(hidden) == 1 else f"{len(hidden)} rows, {first} to {last},"
    focus_x, focus_z = scenario.cautions.stage_focus_m
    unit = scenario.units
    yield Caution(
        "in-sightline",
        "caution",
        f"in this section the cabinet stands in the view from {which} to the stage "
        f"(x {length_text(focus_x, unit)}, from {length_text(focus_z, unit)} up "
        f"{length_text(threshold(scenario, 'stage_top'), unit)})",
        value=float(len(hidden)),
        unit="rows",
        limit=0.0,
        speaker=held.speaker.name,
    )


def _hides(scenario: Scenario, rows: Rows, corners: FloatArray) -> FloatArray:
    """(rows,) whether part of the outline lies between an eye and the stage, by slopes seen.

    Eyes are taken at ear height.  Only corners between the eye and the stage count.
    """
    focus_x, focus_z = scenario.cautions.stage_focus_m
    top = focus_z + threshold(scenario, "stage_top")
    out = np.abs(rows.x_m - focus_x)
    with np.errstate(divide="ignore", invalid="ignore"):
        low, high = (focus_z - rows.z_m) / out, (top - rows.z_m) / out
        side = np.sign(rows.x_m - focus_x)[:, np.newaxis]
        away = (rows.x_m[:, np.newaxis] - corners[:, 0]) * side
        slope = (corners[:, 1] - rows.z_m[:, np.newaxis]) / away
    between = (away > 0.0) & (away < out[:, np.newaxis])
    least = np.where(between, slope, np.inf).min(axis=1)
    most = np.where(between, slope, -np.inf).max(axis=1)
    return np.asarray((out > 0.0) & (least < high) & (most > low))
