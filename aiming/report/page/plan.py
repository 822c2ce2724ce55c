"""What the page that travels knows: the house, every loudspeaker over its lattice, packed small.

Lengths, loads and cautions it looks up, in the very rounding that it shows.  Levels it adds up from
distance, pattern, air and what walls take (levels.js), so that gains are free and all may move; a
test in a browser holds them to `evaluate`.
"""

import json
import tomllib
import zlib
from base64 import b64encode
from collections.abc import Callable
from dataclasses import dataclass, field
from math import isfinite
from typing import Any

import numpy as np

from ...base.arrays import FloatArray, IntArray
from ...base.bands import band_label, edges_hz, exact_midband_hz, width_of
from ...base.units import G_M_S2, INCH_M, POUND_KG, tilt_text, x_text
from ...results.answer import Answer, Caution, SpeakerAnswer
from ...results.choices import Choice
from ...results.page_table import MOST_ROWS, Axes, Lattice, PageTable, Turned
from ...results.section import LevelMap
from ...rigging.points import PointLoad
from ...scenario.keys import quoted
from ..text import words as say
from . import view

UNKNOWN = -32768
HOLE = -(2**40)
"""Stands for what is unknown among numbers kept exactly."""
EXACT = 1e-7
"""dB, degrees or metres: what levels are put together from is kept to this."""
_INCH_PARTS = 8.0


def tenths(value: FloatArray) -> IntArray:
    """One decimal, as text formatting rounds it."""
    return _whole(_as_formatted(value, 1) * 10.0)


def whole(value: FloatArray) -> IntArray:
    """No decimals."""
    return _whole(value)


def centimetres(length_m: FloatArray) -> IntArray:
    """As length_text has metres; the sign of an unknown length is that of UNKNOWN."""
    return _whole(_as_formatted(length_m, 2) * 100.0)


def eighths(length_m: FloatArray) -> IntArray:
    """Eighths of an inch, as length_text has feet."""
    return _whole(length_m / INCH_M * _INCH_PARTS)


def number(value: float | None) -> float | None:
    """A plain number or nothing."""
    return None if value is None or not isfinite(value) else float(value)


def _as_formatted(value: FloatArray, places: int) -> FloatArray:
    """Rounded as text formatting rounds, which looks at the exact number where it is a near tie."""
    value = np.asarray(value, dtype=np.float64)
    rounded = np.asarray(np.round(value, places))
    near_tie = np.abs(np.abs(value - rounded) * 10.0**places - 0.5) < 1e-6
    for index in np.argwhere(near_tie):
        at = tuple(index)
        rounded[at] = float(f"{value[at]:.{places}f}")
    return rounded


def _whole(value: FloatArray, *, unknown: int = UNKNOWN) -> IntArray:
    rounded = np.rint(np.nan_to_num(value, nan=unknown, posinf=unknown, neginf=unknown))
    return np.asarray(rounded, dtype=np.intp)


@dataclass
class Packer:
    """Collects tables; in the tree each stands as {"table": its number}."""

    shapes: list[list[int]] = field(default_factory=list)
    planes: list[int] = field(default_factory=list)
    data: list[bytes] = field(default_factory=list)
    known: dict[tuple[tuple[int, ...], bytes], int] = field(default_factory=dict)

    def add(self, table: IntArray, *, unit: float = 1.0) -> dict[str, Any]:
        """Keep a table: differences along the last axis, zigzag, one plane of bytes after another.

        Neighbours on a lattice differ little, so the upper planes are zeros, which pack to nothing.
        What is alike is kept once.  unit: what one stands for
        """
        flat = np.asarray(table, dtype=np.int64).reshape(-1, table.shape[-1])
        step = np.diff(flat, axis=1, prepend=0)
        step[1:, 0] = np.diff(flat[:, 0])
        zigzag = np.where(step < 0, -2 * step - 1, 2 * step).ravel()
        count = max(1, (int(zigzag.max(initial=0)).bit_length() + 7) // 8)
        planes = [((zigzag >> (8 * of)) & 0xFF).astype(np.uint8).tobytes() for of in range(count)]
        shape, data = [int(of) for of in table.shape], b"".join(planes)
        number = self.known.setdefault((tuple(shape), data), len(self.shapes))
        if number == len(self.shapes):
            self.shapes.append(shape)
            self.planes.append(count)
            self.data.append(data)
        return {"table": number} if unit == 1.0 else {"table": number, "unit": unit}

    def exactly(self, values: FloatArray) -> dict[str, Any]:
        """Keep numbers to EXACT, which no figure shown can tell."""
        return self.add(_whole(np.asarray(values) / EXACT, unknown=HOLE), unit=EXACT)

    def text(self, tree: dict[str, Any]) -> str:
        """Everything as base64 of a zlib stream: length of the JSON, the JSON, the tables."""
        whole_tree = {**tree, "tables": {"shapes": self.shapes, "planes": self.planes}}
        head = json.dumps(
            whole_tree, ensure_ascii=False, allow_nan=False, separators=(",", ":")
        ).encode()
        size = len(head).to_bytes(4, "little")
        return b64encode(zlib.compress(size + head + b"".join(self.data), 9)).decode()


# The loads of a lattice, for the page: what hangs on each point, its share, its use of the limit.


def loads_tree(loads: Any, pack: Packer) -> dict[str, Any] | None:
    """Per point tables of (xs, heights, tilts); None where nothing could be computed anywhere."""
    held = np.array(loads, dtype=object)
    known = [one for one in held.ravel() if one is not None]
    if not known:
        return None

    def table(place: int, value: Callable[[PointLoad], float | None]) -> FloatArray:
        found = np.full(held.shape, np.nan)
        for index in np.ndindex(found.shape):
            one: Any = held[index]
            number = None if one is None else value(one.points[place])
            found[index] = np.nan if number is None else number
        return found

    points = []
    for place, point in enumerate(known[0].points):
        mass_kg = table(place, lambda of: of.tension_n / G_M_S2)
        points.append(
            {
                "name": point.name,
                "mass": {
                    "m": pack.add(tenths(mass_kg)),
                    "ft": pack.add(tenths(mass_kg / POUND_KG)),
                },
                "share": pack.add(whole(100.0 * table(place, lambda of: of.share))),
                "use": pack.add(whole(100.0 * table(place, lambda of: of.utilisation))),
            }
        )
    return {"weight": view.mass_texts(known[0].weight_n), "points": points}


# What the page knows: the house, and for each loudspeaker its lattice.


def plan_text(answer: Answer, table: PageTable) -> str:
    """The page's data, packed."""
    lattices = table.lattices
    scenario, rows = answer.scenario, answer.scenario.rows
    pack = Packer()
    speakers = [
        _speaker(answer, one, lattice, pack)
        for one, lattice in zip(answer.speakers, lattices, strict=True)
    ]
    tree = {
        "unit": scenario.units,
        "file": scenario.file,
        "changed": changed(tomllib.loads(scenario.text), scenario.document),
        "channels": [view.DESIGN, *(band_label(band) for band in answer.bands_hz)],
        "solved": any(one.best is not None for one in answer.speakers),
        "unknown": UNKNOWN,
        "alike": say.ALIKE_DB,
        "hole": HOLE,
        "rows": {
            "name": list(rows.names),
            "seating": [int(of) for of in rows.seating],
            "x": pack.exactly(rows.x_m),
            "z": pack.exactly(rows.z_m),
            "weight": pack.exactly(rows.weight),
            "drawn": [int(of) for of in _drawn(rows.seating)],
        },
        "house": view.house_view(scenario),
        "extent": _extent(answer, lattices),
        "speed": scenario.air.speed_of_sound_m_s,
        "coherent": _band_edges_hz(answer.bands_hz) if scenario.company.coherent else None,
        "map": _map(table.levels, pack),
        "fills": bool(scenario.company.fills),
        "choices": [_told(of) for of in answer.choices if of.speaker is None and of.set],
        "speakers": speakers,
    }
    return pack.text(tree)


def _map(levels: LevelMap, pack: Packer) -> dict[str, Any]:
    """The own aim's levels over the section, by channel, row by row from the lowest."""
    every = np.concatenate([levels.design_level_db[np.newaxis], levels.by_band_db])
    return {
        "extent": view.map_extent(levels),
        "size": [len(levels.x_m), len(levels.z_m)],
        "step": view.MAP_STEP_DB,
        "level": pack.add(whole(every / view.MAP_STEP_DB)),
    }


def _band_edges_hz(bands_hz: tuple[float, ...]) -> list[tuple[float, float]]:
    per_octave = 1 if width_of(bands_hz) == "octave" else 3
    return [edges_hz(exact_midband_hz(band), per_octave=per_octave) for band in bands_hz]


def _drawn(seating: IntArray) -> IntArray:
    """Which rows are drawn: all, or every so-manyth and the ends of each seating."""
    if len(seating) <= MOST_ROWS:
        return np.arange(len(seating))
    every = -(-len(seating) // MOST_ROWS)
    change = np.flatnonzero(seating[1:] != seating[:-1])
    ends = [0, *change, *(change + 1), len(seating) - 1]
    return np.unique([*range(0, len(seating), every), *ends])


def _speaker(answer: Answer, one: SpeakerAnswer, lattice: Lattice, pack: Packer) -> dict[str, Any]:
    scenario = answer.scenario
    speaker, axes = scenario.speaker(one.name), lattice.axes
    outline = None if speaker.cabinet is None else speaker.cabinet.outline_m
    serves = [scenario.seatings[of].name for of in speaker.serves]
    return {
        "name": one.name,
        "serves": ", ".join(serves),
        "rows": [int(of) for of in scenario.rows.of(speaker.serves)],
        "front": [int(of) for of in scenario.front_rows(one.name)],
        "mount": one.mount,
        "outline": None if outline is None else outline.tolist(),
        "pattern": {
            "angle": pack.exactly(lattice.pattern.angle_deg),
            "level": pack.exactly(lattice.pattern.level_db),
        },
        "offset": [number(of) for of in lattice.offset_db],
        "air": {"distance": pack.exactly(lattice.air_m), "loss": pack.exactly(lattice.air_db)},
        "x": axes.x_m.tolist(),
        "xText": [{unit: x_text(float(of), unit) for unit in view.UNITS} for of in axes.x_m],
        "tilt": axes.tilt_deg.tolist(),
        "tiltText": [tilt_text(of) for of in axes.tilt_deg],
        "vertical": axes.vertical_m.tolist(),
        "verticalText": [view.length_texts(of) for of in axes.vertical_m],
        "by": axes.vertical,
        "tiltGiven": axes.tilt_given,
        "verticalGiven": axes.vertical_given,
        "own": {
            "orientation": _orientations(lattice).index(axes.orientation),
            "x": axes.at_x,
            "vertical": axes.at_vertical,
            "tilt": axes.at_tilt,
            "gain": round(lattice.gain_db, 4),
            "delay": round(lattice.delay_ms, 3),
            "left": 0 if one.left_to_fill is None else len(one.left_to_fill.rows),
        },
        "gainRange": lattice.gain_range_db,
        "delayRange": lattice.delay_range_ms,
        "handover": _handover(answer, one),
        "choices": [
            {**_told(of), "at": _place_of(of, lattice)}
            for of in answer.choices
            if of.speaker == one.name and of.set
        ],
        "window": _window(one, several=len(answer.speakers) > 1),
        "command": _command(answer, one, lattice),
        "turned": [_turned(answer, axes, of, pack) for of in lattice.turned],
    }


def _orientations(lattice: Lattice) -> list[str]:
    return [of.orientation for of in lattice.turned]


def _handover(answer: Answer, one: SpeakerAnswer) -> dict[str, int] | None:
    """Whom it fills for, and the row where both are to join."""
    if one.match is None or one.match.handover_row is None:
        return None
    names = [of.name for of in answer.speakers]
    return {"main": names.index(one.match.main), "row": one.match.handover_row}


def _told(choice: Choice) -> dict[str, Any]:
    """What the choice is called, what it gives, and what takes it."""
    said = (
        f"{say.db_text(choice.spread_db)}, {say.rows_within_text(choice.rows_within_3db_percent)}"
    )
    if choice.leaves_ranges:
        said += ", outside your ranges"
    return {"name": choice.name, "text": said, "set": choice.set_text}


def _place_of(choice: Choice, lattice: Lattice) -> dict[str, int] | None:
    """Indices of a choice's place; None where the lattice has no such point or box."""
    axes, there = lattice.axes, choice.placement
    if there is None or choice.kind == "coverage":
        return None
    if there.orientation not in _orientations(lattice):
        return None
    orientation = _orientations(lattice).index(there.orientation)
    x_m, height_m, tilt_deg = (float(of) for of in (there.x_m, there.height_m, there.tilt_deg))
    x, tilt = _nearest(axes.x_m, x_m), _nearest(axes.tilt_deg, tilt_deg)
    heights_m = lattice.turned[orientation].height_m[x, :, tilt]
    vertical = _nearest(heights_m, height_m)
    away = (axes.x_m[x] - x_m, axes.tilt_deg[tilt] - tilt_deg, heights_m[vertical] - height_m)
    if max(abs(of) for of in away) > _SAME:
        return None
    left = choice.set.get("aim.left_to_fill", None)
    place = {"orientation": orientation, "x": x, "vertical": vertical, "tilt": tilt}
    return place if left is None else {**place, "left": int(str(left))}


_SAME = 1e-4


def _nearest(values: FloatArray, value: float) -> int:
    return int(np.argmin(np.abs(values - value)))


def _command(answer: Answer, one: SpeakerAnswer, lattice: Lattice) -> dict[str, Any]:
    """The keys that say where it is, and which of them the file leaves open."""
    scenario = answer.scenario
    hang, axes = scenario.speaker(one.name).hang, lattice.axes
    key = f"speaker.{quoted(one.name)}"
    held = scenario.company.hung_under.get(one.name)
    gain_delay = {
        "gain": lattice.gain_range_db is not None,
        "delay": lattice.delay_range_ms is not None,
    }
    if held is not None:  # its place follows from the one above
        low, high = held.splay_deg
        above = next(of for of in answer.speakers if of.name == held.above)
        splay = None if low == high else round(float(above.placement.splay_deg), 5)
        return {"key": key, "held": True, "splay": splay, **gain_delay}
    standing = hang.mount == "stacked" and axes.vertical == "trim"
    return {
        "key": key,
        "x": hang.x_m[0] != hang.x_m[1],
        "vertical": not standing and not axes.vertical_given,
        "tilt": not axes.tilt_given,
        "orientation": len(lattice.turned) > 1,
        "standing": standing,
        **gain_delay,
    }


def changed(before: Any, after: Any, key: str = "") -> list[str]:
    """Each KEY=VALUE by which the document that was solved differs from the file's text."""
    if before == after:
        return []
    if isinstance(after, dict):
        known = before if isinstance(before, dict) else {}
        within = f"{key}." if key else ""
        return [
            one
            for name, value in after.items()
            for one in changed(known.get(name), value, f"{within}{quoted(name)}")
        ]
    if isinstance(after, list) and after and all(isinstance(of, dict) for of in after):
        named = {of.get("name"): of for of in before} if isinstance(before, list) else {}
        return [
            one
            for of in after
            for one in changed(named.get(of.get("name")), of, f"{key}.{quoted(of.get('name', ''))}")
        ]
    return [f"{key}={_toml(after)}"]


def _toml(value: Any) -> str:
    """As TOML has it, which JSON is for texts, numbers, truth values and lists of them."""
    return json.dumps(value, ensure_ascii=False)


def _window(one: SpeakerAnswer, *, several: bool) -> dict[str, str] | None:
    """How far tilt and height may be off at the answer's own aim, in both units."""
    if one.window is None:
        return None
    cost = say.window_cost_text(one.window, several=several)
    return {
        unit: "; ".join(
            filter(None, (f"{say.window_text(one, unit)}, {cost}", say.ruled_text(one, unit)))
        )
        for unit in view.UNITS
    }


def _turned(answer: Answer, axes: Axes, turned: Turned, pack: Packer) -> dict[str, Any]:
    """One orientation: tables end in (xs, heights, tilts)."""
    own = turned.orientation == axes.orientation
    lists = turned.cautions
    which = turned.caution_list
    if own:
        # The answer's own cautions know of its search and its window too.
        lists = (*lists, answer.cautions)
        which = which.copy()
        which[axes.own] = len(lists) - 1
    texts: dict[Caution, int] = {}
    numbered = [[texts.setdefault(of, len(texts)) for of in cautions] for cautions in lists]
    aimed = np.where(turned.aim_row < 0, UNKNOWN, turned.aim_row)
    shadow = turned.shadow_db
    return {
        "orientation": turned.orientation,
        "edges": [number(of) for of in turned.edges_deg],
        "heightM": pack.exactly(turned.height_m),
        "height": _lengths(turned.height_m, pack),
        "trim": _lengths(turned.trim_m, pack),
        "throw": _lengths(turned.throw_m, pack),
        "aimRow": pack.add(aimed),
        "line": pack.add(centimetres(turned.line_m)),
        "lineEnd": pack.add(tenths(turned.line_end_deg)),
        "shadow": None if shadow is None else pack.exactly(shadow),
        "loads": loads_tree(turned.loads, pack),
        "cautions": [view.caution_view(of, len(answer.speakers) > 1) for of in texts],
        "cautionLists": numbered,
        "cautionList": pack.add(which),
    }


def _lengths(length_m: FloatArray, pack: Packer) -> dict[str, Any]:
    return {"m": pack.add(centimetres(length_m)), "ft": pack.add(eighths(length_m))}


def _extent(answer: Answer, lattices: tuple[Lattice, ...]) -> list[float]:
    """x from, x to, z from, z to of everything that may be drawn, the datum included."""
    scenario = answer.scenario
    points = [np.zeros((1, 2))]
    for seating in scenario.seatings:
        points += [seating.floor_m, seating.audience_plane_m]
    points += [surface.line_m for surface in scenario.surfaces]
    for one, lattice in zip(answer.speakers, lattices, strict=True):
        cabinet = scenario.speaker(one.name).cabinet
        reach = max(0.3, 0.0 if cabinet is None else cabinet.radius_m)
        xs = lattice.axes.x_m
        for turned in lattice.turned:
            for place in (
                np.array([xs[0], turned.height_m.min()]),
                np.array([xs[-1], turned.height_m.max()]),
            ):
                points.append(np.stack([place - reach, place + reach]))
    every = np.concatenate(points)
    (x_from, z_from), (x_to, z_to) = every.min(axis=0), every.max(axis=0)
    return [float(of) for of in (x_from, x_to, z_from, z_to)]
