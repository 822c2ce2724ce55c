"""What the page knows: the house, and for each loudspeaker every figure of its lattice."""

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from ...answer.lattice import Lattice, Turned
from ...answer.lattice_heard import Heard
from ...answer.model import Answer, Caution, SpeakerAnswer
from ...arrays import IntArray
from ...bands import band_label
from ...scenario.scenario import Scenario
from ...units import Unit, tilt_text, x_text
from ..words import row_text, window_text
from .again import command_words
from .hung import loads_tree
from .tables import UNKNOWN, Packer, length_texts, lengths, number, tenths, whole

MOST_ROWS = 120
"""Rows drawn; figures are over all of them."""
DESIGN = "mean of the bands"


@dataclass
class Labels:
    """Row labels, each kept once; tables hold their numbers."""

    scenario: Scenario
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
        return [row_text(self.scenario, self.answer, row) for row in self.known]


def plan_text(scenario: Scenario, answer: Answer, lattices: list[Lattice]) -> str:
    """The page's data, packed."""
    pack, labels = Packer(), Labels(scenario, answer)
    speakers = [
        _speaker(scenario, answer, one, lattice, pack, labels)
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
        "seatings": [
            {"name": of.name, "floor": of.floor_m.tolist(), "ears": of.audience_plane_m.tolist()}
            for of in scenario.seatings
        ],
        "surfaces": [of.line_m.tolist() for of in scenario.surfaces],
        "extent": _extent(scenario, answer, lattices),
        "speakers": speakers,
        "labels": labels.texts(),
    }
    return pack.text(tree)


def _speaker(
    scenario: Scenario,
    answer: Answer,
    one: SpeakerAnswer,
    lattice: Lattice,
    pack: Packer,
    labels: Labels,
) -> dict[str, Any]:
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
        "command": command_words(scenario, answer, lattice),
        "turned": [_turned(answer, one, axes, of, pack, labels) for of in lattice.turned],
    }


def _window(one: SpeakerAnswer) -> dict[str, str] | None:
    """How far tilt and height may be off at the answer's own aim, in both units."""
    if one.window is None:
        return None
    cost = f", for at most {one.window.within_db:g} dB more spread"
    units: tuple[Unit, Unit] = ("m", "ft")
    return {unit: f"{window_text(one, unit)}{cost}" for unit in units}


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


def _extent(scenario: Scenario, answer: Answer, lattices: list[Lattice]) -> list[float]:
    """x from, x to, z from, z to of everything that may be drawn, the datum included."""
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
