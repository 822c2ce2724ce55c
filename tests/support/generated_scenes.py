"""Whole scenario files, made up: any section, pattern, cabinet and place that a file can say.

One recipe serves two kinds of test: `scenes()` is a strategy of hypothesis, which shrinks what it
finds; `seeded(number)` is one scene of an endless list, for proofs over hundreds of them.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from hashlib import sha256
from io import StringIO
from pathlib import Path
from typing import Any, Protocol, TypeVar

import numpy as np
from hypothesis import strategies as st
from random_scenes import OUTLINE_M, rough_pattern

import aiming
from aiming.scenario import Scenario

T = TypeVar("T")
Table = dict[str, Any]
SECTIONS = ("flat", "raked", "stepped", "balcony", "several", "arc")
PLACES = ("before", "above", "amid", "behind", "under")
FREE = ("x", "vertical", "tilt")
EAR_M = 1.2
PICKS = [
    {"name": "front", "at": [-0.06, 0.44], "wll_kg": 130},
    {"name": "rear", "at": [-0.34, 0.44], "wll_kg": 130},
    {"name": "front, base", "at": [-0.06, -0.20], "wll_kg": 130},
    {"name": "rear, base", "at": [-0.34, -0.20], "wll_kg": 130},
]


class Choice(Protocol):
    """Whoever decides what a scene is like."""

    def whole(self, low: int, high: int) -> int:
        """A whole number, both ends included."""


@dataclass(frozen=True)
class Seeded:
    """Decides by a seeded generator."""

    rng: np.random.Generator

    def whole(self, low: int, high: int) -> int:
        return int(self.rng.integers(low, high + 1))


@dataclass(frozen=True)
class Drawn:
    """Lets hypothesis decide."""

    draw: st.DrawFn

    def whole(self, low: int, high: int) -> int:
        return int(self.draw(st.integers(low, high)))


def number(choice: Choice, low: float, high: float) -> float:
    """In steps of a thousandth, as a person would write it."""
    return round(float(low) + 0.001 * choice.whole(0, round((high - low) * 1000.0)), 3)


def one_of(choice: Choice, options: Sequence[T]) -> T:
    return options[choice.whole(0, len(options) - 1)]


@dataclass(frozen=True)
class Scene:
    """A scenario file before it is written, and the pattern files that go with it, by name."""

    document: Table
    files: dict[str, str] = field(default_factory=dict)

    @property
    def speaker(self) -> Table:
        """The loudspeaker that is searched for."""
        found: Table = self.document["speaker"][0]
        return found

    def with_(self, **tables: Any) -> "Scene":
        """The same with other tables at the top of the file."""
        return replace(self, document={**self.document, **tables})

    def with_speaker(self, **tables: Any) -> "Scene":
        """The same with other tables of the first loudspeaker."""
        first, *others = self.document["speaker"]
        return self.with_(speaker=[{**first, **tables}, *others])

    def placed(self, **keys: Any) -> "Scene":
        """The same with other keys of the first loudspeaker's placement."""
        return self.with_speaker(placement={**self.speaker["placement"], **keys})

    def aimed(self, **keys: Any) -> "Scene":
        """The same with other settings of the search."""
        return self.with_(aim={**self.document["aim"], **keys})

    @property
    def text(self) -> str:
        """The scenario file."""
        return "".join(f"{key} = {toml(value)}\n" for key, value in self.document.items())

    def load(self, folder: Path, changes: Table | None = None) -> Scenario:
        """Written into a folder, and read."""
        for name, text in self.files.items():
            (folder / name).write_text(text, encoding="utf-8")
        path = folder / "scene.toml"
        path.write_text(self.text, encoding="utf-8")
        return aiming.load(path, changes=changes)


def toml(value: Any) -> str:
    """A value of a TOML file, tables inline."""
    if isinstance(value, dict):
        return "{ " + ", ".join(f'"{key}" = {toml(of)}' for key, of in value.items()) + " }"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(map(toml, value)) + "]"
    if isinstance(value, bool):
        return str(value).lower()
    return f'"{value}"' if isinstance(value, str) else repr(value)


def floor(choice: Choice, kind: str, x: float, z: float) -> list[list[float]]:
    """The line of one block of rows that begins at x, z."""
    depth = number(choice, 3.0, 20.0)
    end = [round(x + depth, 3), z]
    if kind == "flat":
        return [[x, z], end]
    middle = [round(x + depth * one_of(choice, (0.4, 0.5, 0.7)), 3), round(z + 0.06 * depth, 3)]
    rise = number(choice, 0.1, 1.2)
    end[1] = round(middle[1] + number(choice, 0.0, 0.3) * depth, 3)
    if kind == "stepped":
        top = round(middle[1] + rise, 3)
        return [[x, z], middle, [middle[0], top], [end[0], round(top + 0.1 * depth, 3)]]
    return [[x, z], middle, end]


def section(choice: Choice, kind: str) -> Table:
    """Seatings and surfaces; "arc": every row as far from [0, 9] as every other."""
    x, z = number(choice, 2.0, 8.0), number(choice, -1.0, 1.0)
    if kind == "arc":
        along = np.linspace(0.2, one_of(choice, (0.8, 0.95)), choice.whole(3, 7)) * 2.0 * (x + 4.0)
        line = [[float(at), 9.0 - float(np.sqrt(4.0 * (x + 4.0) ** 2 - at**2)) - EAR_M]
                for at in along]  # fmt: skip
        return {"seating": [{"name": "arc", "line": line, "rows": len(line)}]}
    shape = {"balcony": "raked", "several": one_of(choice, ("flat", "raked", "stepped"))}
    first = floor(choice, shape.get(kind, kind), x, z)
    blocks = [seating(choice, "stalls", first)]
    surfaces: list[Table] = []
    end_x, end_z = first[-1]
    if kind == "balcony":
        front, up = end_x - number(choice, 0.5, 3.0), end_z + number(choice, 2.5, 4.0)
        line = floor(choice, "raked", round(front, 3), round(up, 3))
        blocks.append(seating(choice, "balcony", line))
        edge = [[line[0][0], line[0][1] - 0.3], [line[0][0], line[0][1] + number(choice, 0.0, 1.0)]]
        surfaces.append({"name": "balcony front", "line": edge})
    if kind == "several":
        for name in ("tier", "terrace")[: choice.whole(1, 2)]:
            start = round(end_x + number(choice, 0.2, 3.0), 3), end_z + number(choice, 0.0, 1.5)
            line = floor(choice, one_of(choice, ("flat", "raked")), start[0], round(start[1], 3))
            blocks.append(seating(choice, name, line))
            end_x, end_z = line[-1]
    if choice.whole(0, 3) == 0 and not surfaces:
        at = round(0.5 * (first[0][0] + first[-1][0]), 3)
        post = [[at, first[0][1] - 1.0], [at, round(end_z + number(choice, 0.5, 2.5), 3)]]
        surfaces.append({"name": "rail", "line": post})
    return {"seating": blocks, **({"surface": surfaces} if surfaces else {})}


def seating(choice: Choice, name: str, line: list[list[float]]) -> Table:
    """One block on a floor line."""
    rows: Table = one_of(choice, ({"rows": choice.whole(2, 6)}, {"row_spacing": 4.0}))
    ears = one_of(choice, ("seated", "standing", 1.3))
    return {"name": name, "line": line, "ears": ears, "weight": number(choice, 0.5, 2.0), **rows}


def pattern(choice: Choice, bands: list[int]) -> tuple[Table, dict[str, str]]:
    """A nominal lobe, or a rough table: ripple, steps, notches, at times of the front alone."""
    above, below = number(choice, 10.0, 60.0), number(choice, 10.0, 60.0)
    kind = one_of(choice, ("symmetric", "lopsided", "piston", "flat", "table"))
    if kind == "table":
        rng = np.random.default_rng(choice.whole(0, 9999))
        made = rough_pattern(rng, tuple(map(float, bands)), above_deg=above, below_deg=below)
        known = ~np.isnan(made.level_db).any(axis=0)
        text = StringIO()
        print("angle_deg", *map(str, bands), sep=",", file=text)
        for angle, levels in zip(made.angle_deg[known], made.level_db[:, known].T, strict=True):
            print(*map(repr, map(float, (angle, *levels))), sep=",", file=text)
        name = f"{sha256(text.getvalue().encode()).hexdigest()[:12]}.csv"
        return {"file": name}, {name: text.getvalue()}
    coverage: Any = {"above": above, "below": below} if kind == "lopsided" else above + below
    table: Table = {"coverage": coverage}
    if kind in ("piston", "flat"):
        table["lobe"] = kind
    if choice.whole(0, 1):
        table["control_from_hz"] = choice.whole(500, 6000)
    return table, {}


def span(choice: Choice, low: float, high: float, *, free: bool) -> Any:
    """A range, or a number of these two ends' range."""
    at = number(choice, low, high)
    return [at, round(at + number(choice, 0.1, 0.5 * (high - low)), 3)] if free else at


def placement(choice: Choice, rooms: Table, where: str, free: Sequence[str], trim: bool) -> Table:
    """Where it may hang; `free` names what is left as a range."""
    points = np.array([point for block in rooms["seating"] for point in block["line"]])
    left, right = points[:, 0].min(), points[:, 0].max()
    low, high = points[:, 1].min(), points[:, 1].max()
    x = {"before": (left - 6.0, left - 0.5), "above": (left - 2.0, left + 4.0),
         "amid": (left, right), "behind": (right + 0.5, right + 6.0),
         "under": (left - 6.0, left - 1.0)}[where]  # fmt: skip
    z = (low - 2.0, low + 1.0) if where == "under" else (low + 1.5, high + 8.0)
    return {
        "x": span(choice, *x, free="x" in free),
        "trim" if trim else "height": span(choice, *z, free="vertical" in free),
        "tilt": [-90.0, 90.0] if "tilt" in free else number(choice, -50.0, 20.0),
        "orientation": one_of(choice, ("upright", "flipped", "either")),
    }


def cabinet() -> Table:
    """A box of which all is known."""
    return {
        "mass_kg": 26.0,
        "outline": [list(point) for point in OUTLINE_M],
        "centre_of_gravity": [-0.17, 0.08],
        "picks": PICKS,
        "laser_at": [-0.02, 0.44],
    }


def rigging() -> Table:
    """Two points at the top, whichever side that is."""
    held: Table = {"method": "two points", "extra_mass_kg": 3.0, "extra_at": [-0.17, 0.50]}
    return {
        "upright": {**held, "picks": ["front", "rear"]},
        "flipped": {**held, "picks": ["front, base", "rear, base"]},
    }


def scene(choice: Choice) -> Scene:
    """A scenario with one loudspeaker to be aimed, and at times another that stays."""
    rooms = section(choice, one_of(choice, SECTIONS))
    bands = [1000, 2000, 4000, 8000][: choice.whole(1, 4)]
    shape, files = pattern(choice, bands)
    free = [name for name in FREE if choice.whole(0, 3)] if choice.whole(0, 9) else []
    known = one_of(choice, ("nothing", "outline", "rigging"))
    trim = known != "nothing" and choice.whole(0, 1) == 1
    where = one_of(choice, PLACES)
    at = placement(choice, rooms, where, free, trim)
    if rooms["seating"][0]["name"] == "arc" and choice.whole(0, 1):
        at = {"x": 0.0, "height": 9.0, "tilt": at["tilt"], "orientation": at["orientation"]}
    main: Table = {"name": "main", "pattern": shape, "placement": at}
    if known != "nothing":
        main["cabinet"] = cabinet()
    if known == "rigging":
        main["rigging"] = rigging()
    speakers = [main]
    if choice.whole(0, 4) == 0:
        fixed = {"x": -1.0, "height": 5.0, "tilt": -12.5}
        speakers.append({"name": "side", "gain_db": -3.0, "pattern": {"coverage": 70.0},
                         "placement": fixed})  # fmt: skip
    aim = {
        "bands": bands,
        "objective": one_of(choice, ("spread", "worst band", "deviation")),
        "axis_on_audience": where != "behind" and choice.whole(0, 2) > 0,
        # A box may stand amid or behind its rows, where the default leaves no place at all.
        "softest_db": one_of(choice, ("off", -30.0, -18.0)),
    }
    air = {"temperature_c": number(choice, -5.0, 35.0)}
    return Scene({"schema": 1, "air": air, **rooms, "speaker": speakers, "aim": aim}, files)


@st.composite
def scenes(draw: st.DrawFn) -> Scene:
    """A strategy of whole scenarios."""
    return scene(Drawn(draw))


def seeded(seed: int) -> Scene:
    """The scene of this number."""
    return scene(Seeded(np.random.default_rng(seed)))
