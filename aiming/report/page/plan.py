"""Numbers for the page: rounded as they are shown, then packed small.

The page adds nothing up: what it shows is looked up here, in the very rounding that it shows.
"""

import json
import shlex
import zlib
from base64 import b64encode
from collections.abc import Callable
from dataclasses import dataclass, field
from math import isfinite
from typing import Any

import numpy as np

from ...base.arrays import FloatArray, IntArray
from ...base.bands import band_label
from ...base.units import (
    FOOT_M,
    INCH_M,
    POUND_FORCE_N,
    Unit,
    force_text,
    length_text,
    tilt_text,
    x_text,
)
from ...results.answer import Answer, Caution, SpeakerAnswer
from ...results.page_table import MOST_ROWS, Heard, Lattice, Turned
from ...rigging.loads import Loads
from ...rigging.points import PointLoad
from ...scenario.keys import quoted
from ...scenario.scenario import Scenario
from ..text.words import row_text, ruled_text, window_text
from .view import DESIGN, house_view

UNKNOWN = -32768
_INCH_PARTS = 8.0


def tenths(value: FloatArray) -> IntArray:
    """One decimal, as text formatting rounds it."""
    return _whole(_as_formatted(value, 1) * 10.0)


def whole(value: FloatArray) -> IntArray:
    """No decimals."""
    return _whole(value)


def centimetres(length_m: FloatArray) -> IntArray:
    """As length_text has metres."""
    return _whole(_as_formatted(length_m, 2) * 100.0)


def eighths(length_m: FloatArray) -> IntArray:
    """Eighths of an inch, as length_text has feet."""
    return _whole(length_m / INCH_M * _INCH_PARTS)


def lengths(length_m: FloatArray) -> dict[str, IntArray]:
    """Both units; the sign of an unknown length is that of UNKNOWN."""
    return {"m": centimetres(length_m), "ft": eighths(length_m)}


def length_texts(length_m: float) -> dict[str, str]:
    """One length in words, in both units."""
    return {"m": length_text(length_m, "m"), "ft": length_text(length_m, "ft")}


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


def _whole(value: FloatArray) -> IntArray:
    rounded = np.rint(np.nan_to_num(value, nan=UNKNOWN, posinf=UNKNOWN, neginf=UNKNOWN))
    return np.asarray(rounded, dtype=np.intp)


@dataclass
class Packer:
    """Collects tables; in the tree each stands as {"table": its number}."""

    shapes: list[list[int]] = field(default_factory=list)
    planes: list[int] = field(default_factory=list)
    data: list[bytes] = field(default_factory=list)

    def add(self, table: IntArray) -> dict[str, int]:
        """Keep a table: differences along the last axis, zigzag, one plane of bytes after another.

        Neighbours on a lattice differ little, so the upper planes are zeros, which pack to nothing.
        """
        flat = np.asarray(table, dtype=np.int64).reshape(-1, table.shape[-1])
        step = np.diff(flat, axis=1, prepend=0)
        step[1:, 0] = np.diff(flat[:, 0])
        zigzag = np.where(step < 0, -2 * step - 1, 2 * step).ravel()
        count = max(1, (int(zigzag.max(initial=0)).bit_length() + 7) // 8)
        planes = [((zigzag >> (8 * of)) & 0xFF).astype(np.uint8).tobytes() for of in range(count)]
        self.shapes.append([int(of) for of in table.shape])
        self.planes.append(count)
        self.data.append(b"".join(planes))
        return {"table": len(self.shapes) - 1}

    def text(self, tree: dict[str, Any]) -> str:
        """Everything as base64 of a zlib stream: length of the JSON, the JSON, the tables."""
        whole_tree = {**tree, "tables": {"shapes": self.shapes, "planes": self.planes}}
        head = json.dumps(
            whole_tree, ensure_ascii=False, allow_nan=False, separators=(",", ":")
        ).encode()
        size = len(head).to_bytes(4, "little")
        return b64encode(zlib.compress(size + head + b"".join(self.data), 9)).decode()


# The loads of a lattice, for the page: force, share and use of the limit at each point.


def loads_tree(loads: tuple[tuple[Loads | None, ...], ...], pack: Packer) -> dict[str, Any] | None:
    """Per point tables of (heights, tilts); None where nothing could be computed anywhere."""
    known = [one for row in loads for one in row if one is not None]
    if not known:
        return None

    def table(place: int, value: Callable[[PointLoad], float | None]) -> FloatArray:
        found = np.full((len(loads), len(loads[0])), np.nan)
        for index in np.ndindex(found.shape):
            one = loads[index[0]][index[1]]
            number = None if one is None else value(one.points[place])
            found[index] = np.nan if number is None else number
        return found

    points = []
    for place, point in enumerate(known[0].points):
        tension = table(place, lambda of: of.tension_n)
        points.append(
            {
                "name": point.name,
                "newtons": pack.add(whole(tension)),
                "poundTenths": pack.add(tenths(tension / POUND_FORCE_N)),
                "share": pack.add(whole(100.0 * table(place, lambda of: of.share))),
                "use": pack.add(whole(100.0 * table(place, lambda of: of.utilisation))),
            }
        )
    weight = known[0].weight_n
    return {
        "weight": {"m": force_text(weight, "m"), "ft": force_text(weight, "ft")},
        "points": points,
    }


# How the command line gives the same: every aim of the page as an `aiming evaluate`.


def command_words(answer: Answer, lattice: Lattice) -> dict[str, Any]:
    """How to evaluate the aim shown: the words before, then each key with its values."""
    scenario = answer.scenario
    before = ["aiming", "evaluate", scenario.file]
    for one in answer.speakers:
        if one.name != lattice.name:
            before += _settings(scenario, one)
    speaker = scenario.speaker(lattice.name)
    key = f"speaker.{quoted(lattice.name)}.placement"
    if speaker.hang.x_m[0] != speaker.hang.x_m[1]:
        one = next(of for of in answer.speakers if of.name == lattice.name)
        before += ["--set", f"{key}.x={_exact(one.x_m)} m"]
    axes = lattice.axes
    vertical = [_length(float(of), scenario) for of in axes.vertical_m]
    standing = speaker.hang.mount == "stacked" and axes.vertical == "trim"
    return {
        "before": " ".join(shlex.quote(of) for of in before),
        "tilt": [_set(f"{key}.tilt={_exact(of)}") for of in axes.tilt_deg],
        "vertical": None if standing else [_set(f"{key}.{axes.vertical}={of}") for of in vertical],
        "orientation": [_set(f"{key}.orientation={of.orientation}") for of in lattice.turned]
        if len(lattice.turned) > 1
        else None,
    }


def _settings(scenario: Scenario, one: SpeakerAnswer) -> list[str]:
    """What fixes another loudspeaker where the answer has it."""
    hang, key = scenario.speaker(one.name).hang, f"speaker.{quoted(one.name)}.placement"
    trim = hang.vertical == "trim"
    values = {
        "x": (hang.x_m, f"{_exact(one.x_m)} m"),
        hang.vertical: (hang.vertical_m, f"{_exact(one.trim_m if trim else one.height_m)} m"),
        "tilt": (hang.tilt_deg, _exact(one.tilt_deg)),
    }
    words = []
    for name, ((low, high), value) in values.items():
        if low != high:
            words += ["--set", f"{key}.{name}={value}"]
    if len(hang.orientations) > 1:
        words += ["--set", f"{key}.orientation={one.orientation}"]
    return words


def _length(length_m: float, scenario: Scenario) -> str:
    """As the command line takes it, exactly."""
    if scenario.units == "ft":
        feet = round(length_m / FOOT_M, 9)
        if feet * FOOT_M == length_m:
            return f"{_exact(feet)} ft"
    return f"{_exact(length_m)} m"


def _exact(value: float) -> str:
    """The shortest decimal that reads back as the same number."""
    return str(np.format_float_positional(value, trim="-"))


def _set(text: str) -> str:
    return f"--set {shlex.quote(text)}"


# What the page knows: the house, and for each loudspeaker every figure of its lattice.


@dataclass
class Labels:
    """Row labels, each kept once; tables hold their numbers."""

    answer: Answer
    known: dict[int, int] = field(default_factory=dict)

    def of(self, rows: IntArray) -> IntArray:
        """Numbers of labels for indices of rows; UNKNOWN stays for −1."""
        numbers = {-1: UNKNOWN}
        for row in np.unique(rows):
            if row >= 0:
                numbers[int(row)] = self.known.setdefault(int(row), len(self.known))
        return np.asarray(np.vectorize(numbers.__getitem__, otypes=[np.intp])(rows))

    def texts(self) -> list[str]:
        """The labels in the order of their numbers."""
        return [row_text(self.answer, row) for row in self.known]


def plan_text(answer: Answer, lattices: tuple[Lattice, ...]) -> str:
    """The page's data, packed."""
    scenario = answer.scenario
    pack, labels = Packer(), Labels(answer)
    speakers = [
        _speaker(answer, one, lattice, pack, labels)
        for one, lattice in zip(answer.speakers, lattices, strict=True)
    ]
    rows = scenario.rows
    tree = {
        "unit": scenario.units,
        "channels": [DESIGN, *(band_label(band) for band in answer.bands_hz)],
        "solved": any(one.best is not None for one in answer.speakers),
        "unknown": UNKNOWN,
        "rows": {
            "name": list(rows.names),
            "seating": [int(of) for of in rows.seating],
            "x": [round(float(of), 4) for of in rows.x_m],
            "z": [round(float(of), 4) for of in rows.z_m],
        },
        "house": house_view(scenario),
        "extent": _extent(answer, lattices),
        "speakers": speakers,
        "labels": labels.texts(),
    }
    return pack.text(tree)


def _speaker(
    answer: Answer,
    one: SpeakerAnswer,
    lattice: Lattice,
    pack: Packer,
    labels: Labels,
) -> dict[str, Any]:
    scenario = answer.scenario
    speaker, axes = scenario.speaker(one.name), lattice.axes
    outline = None if speaker.cabinet is None else speaker.cabinet.outline_m
    serves = [scenario.seatings[of].name for of in speaker.serves]
    return {
        "name": one.name,
        "serves": ", ".join(serves),
        "mount": one.mount,
        "x": one.x_m,
        "xText": {"m": x_text(one.x_m, "m"), "ft": x_text(one.x_m, "ft")},
        "outline": None if outline is None else outline.tolist(),
        "tilt": [float(of) for of in axes.tilt_deg],
        "tiltText": [tilt_text(of) for of in axes.tilt_deg],
        "vertical": axes.vertical,
        "verticalText": [length_texts(of) for of in axes.vertical_m],
        "tiltGiven": axes.tilt_given,
        "verticalGiven": axes.vertical_given,
        "at": {
            "orientation": [of.orientation for of in lattice.turned].index(axes.orientation),
            "tilt": axes.at_tilt,
            "vertical": axes.at_vertical,
        },
        "window": _window(one),
        "command": command_words(answer, lattice),
        "turned": [_turned(answer, one, axes, of, pack, labels) for of in lattice.turned],
    }


def _window(one: SpeakerAnswer) -> dict[str, str] | None:
    """How far tilt and height may be off at the answer's own aim, in both units."""
    if one.window is None:
        return None
    cost = f", for at most {one.window.within_db:g} dB more spread"
    units: tuple[Unit, Unit] = ("m", "ft")
    return {
        unit: "; ".join(filter(None, (f"{window_text(one, unit)}{cost}", ruled_text(one, unit))))
        for unit in units
    }


def _turned(
    answer: Answer, one: SpeakerAnswer, axes: Any, turned: Turned, pack: Packer, labels: Labels
) -> dict[str, Any]:
    """One orientation: tables end in (heights, tilts)."""
    own = turned.orientation == axes.orientation
    lists = turned.cautions
    which = turned.caution_list
    if own:
        # The answer's own cautions know of its search and its window too.
        lists = (*lists, answer.cautions)
        which = which.copy()
        which[axes.at_vertical, axes.at_tilt] = len(lists) - 1
    texts: dict[Caution, int] = {}
    numbered = [[texts.setdefault(of, len(texts)) for of in cautions] for cautions in lists]
    return {
        "orientation": turned.orientation,
        "edges": [number(of) for of in turned.edges_deg],
        "height": _both(lengths(turned.height_m), pack),
        "heightM": [[round(float(of), 5) for of in row] for row in turned.height_m]
        if axes.vertical == "trim"
        else [[round(float(row[0]), 5)] for row in turned.height_m],
        "trim": _both(lengths(turned.trim_m), pack),
        "throw": _both(lengths(turned.throw_m), pack),
        "aimRow": pack.add(labels.of(turned.aim_row)),
        "aimLevel": pack.add(tenths(turned.aim_db)),
        "line": pack.add(lengths(turned.line_m)["m"]),
        "lineEnd": pack.add(tenths(turned.line_end_deg)),
        "alone": _heard(turned.alone, answer, pack, labels),
        "together": None
        if turned.together is None
        else _heard(turned.together, answer, pack, labels),
        "loads": loads_tree(turned.loads, pack),
        "cautions": [
            {
                "severity": of.severity,
                "text": of.text,
                "speaker": of.speaker if len(answer.speakers) > 1 else None,
            }
            for of in texts
        ],
        "cautionLists": numbered,
        "cautionList": pack.add(which),
    }


def _heard(heard: Heard, answer: Answer, pack: Packer, labels: Labels) -> dict[str, Any]:
    shown = _shown(heard.rows, answer)
    return {
        "rows": [int(heard.rows[of]) for of in shown],
        "level": pack.add(tenths(heard.level_db[:, shown])),
        "mean": pack.add(tenths(heard.mean_db)),
        "spread": pack.add(tenths(heard.spread_db)),
        "loudest": pack.add(labels.of(heard.loudest)),
        "softest": pack.add(labels.of(heard.softest)),
        "worst": pack.add(tenths(heard.worst_band_spread_db)),
        "deviation": pack.add(tenths(heard.deviation_db)),
        "within": pack.add(whole(heard.within_percent)),
    }


def _shown(rows: IntArray, answer: Answer) -> IntArray:
    """Which of these rows are drawn: all, or every so-manyth and the ends of each seating."""
    if len(rows) <= MOST_ROWS:
        return np.arange(len(rows))
    every = -(-len(rows) // MOST_ROWS)
    seating = np.array([answer.rows.seating[row] for row in rows])
    change = np.flatnonzero(seating[1:] != seating[:-1])
    ends = [0, *change, *(change + 1), len(rows) - 1]
    return np.unique([*range(0, len(rows), every), *ends])


def _both(tables: dict[str, IntArray], pack: Packer) -> dict[str, Any]:
    return {unit: pack.add(table) for unit, table in tables.items()}


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
        for turned in lattice.turned:
            for height in (turned.height_m.min(), turned.height_m.max()):
                place = np.array([one.x_m, float(height)])
                points.append(np.stack([place - reach, place + reach]))
    every = np.concatenate(points)
    (x_from, z_from), (x_to, z_to) = every.min(axis=0), every.max(axis=0)
    return [float(of) for of in (x_from, x_to, z_from, z_to)]
