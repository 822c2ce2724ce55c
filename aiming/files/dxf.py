"""The inside of a DXF file: its unit, its layers, and the lines on each.

A section is drawn in the drawing's own x, y plane: x becomes the section's x, y its z.  Read are
LINE, LWPOLYLINE and POLYLINE (with bulges), ARC, CIRCLE, ELLIPSE and SPLINE of the model space,
alone or inside blocks, however deep, turned or scaled.  What lies on layer 0 inside a block is on
the layer of the block's insertion.
"""

import codecs
import os
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from io import StringIO
from itertools import count, islice, pairwise
from pathlib import Path
from typing import Any

import numpy as np

from ..base.arrays import FloatArray, IntArray
from ..base.errors import Fault, MissingExtraError, ScenarioError
from ..base.regular_file import open_ordinary

METRES_PER_UNIT = {
    "mm": 1e-3,
    "cm": 1e-2,
    "dm": 0.1,
    "m": 1.0,
    "km": 1e3,
    "in": 0.0254,
    "ft": 0.3048,
    "us-ft": 1200.0 / 3937.0,
    "yd": 0.9144,
}
_HEADER_UNITS = {
    1: "in", 2: "ft", 4: "mm", 5: "cm", 6: "m", 7: "km", 10: "yd", 14: "dm", 21: "us-ft",
}  # fmt: skip
"""$INSUNITS of the DXF reference; 0 is "no unit", the others do not occur in a house."""

USABLE = ("LINE", "LWPOLYLINE", "POLYLINE", "ARC", "CIRCLE", "ELLIPSE", "SPLINE")
_DEEPEST = 32
_LARGEST_BYTES = 24 * 1024 * 1024
"""In memory a drawing takes near thirty times its size."""
_MOST_ENTITIES = 2_000_000
_MOST_FROM_BLOCKS = 100_000
"""A few lines of a file can put blocks into blocks until they fill any memory."""
_MOST_CHORDS = 10_000


@dataclass(frozen=True, eq=False)
class Drawing:
    """One drawing, read.

    unit: a key of METRES_PER_UNIT, or None where the drawing names none
    layers: every layer's name, in the order of the file
    entities: by layer (case folded, as DXF compares names), blocks taken apart
    """

    unit: str | None
    layers: tuple[str, ...]
    entities: dict[str, list[Any]]


def fault(display: str, key: str, message: str) -> ScenarioError:
    """One fault of a drawing or a survey as the error to raise."""
    return ScenarioError([Fault(display, 1, 1, key, message)])


def read_drawing(path: Path, *, display: str) -> Drawing:
    """The drawing in this file; read once for all the layers that are asked of it."""
    try:
        with open_ordinary(path) as file:
            state = os.fstat(file.fileno())
            head = file.read(64)
            file.seek(max(0, state.st_size - 256))
            tail = file.read()
    except OSError as error:
        raise fault(display, "", f"cannot be read ({error.strerror}); name a DXF file") from error
    if state.st_size > _LARGEST_BYTES:
        most = f"{_LARGEST_BYTES // 1024**2} MiB"
        raise fault(display, "", f"larger than {most}; less, with only the section in it")
    if b"Binary DXF" in head:
        raise fault(display, "", "is a binary DXF; save it as a text (ASCII) DXF")
    if (head[:2] == b"AC" and head[2:6].isdigit()) or b"\0" in head:
        raise fault(display, "", "is not text; export the section as a text (ASCII) DXF")
    if not state.st_size or tail.split()[-1:] != [b"EOF"]:
        raise fault(display, "", "ends before its EOF mark, so it is cut off; must be a whole DXF")
    try:
        import ezdxf  # noqa: F401
    except ImportError as error:
        raise MissingExtraError(
            package="ezdxf", extra="dxf", purpose="Reading a drawing"
        ) from error
    return _read(path, state.st_mtime_ns, state.st_size, display)


@lru_cache(maxsize=4)
def _read(path: Path, _changed_ns: int, _size: int, display: str) -> Drawing:
    import ezdxf

    try:
        with open_ordinary(path) as file:
            raw = file.read()
        # The library knows the encodings of drawings, but no byte order mark.
        marked = raw.startswith(codecs.BOM_UTF8)
        document = ezdxf.read(StringIO(raw.decode("utf-8-sig"))) if marked else ezdxf.readfile(path)
        # The library takes a header without a unit for metres; the file itself tells.
        stated = b"$INSUNITS" in raw
        unit = _HEADER_UNITS.get(int(document.header["$INSUNITS"])) if stated else None
        names = {layer.dxf.name.casefold(): layer.dxf.name for layer in document.layers}
        entities: dict[str, list[Any]] = {}
        shown = _taken_apart(document.modelspace(), None, 0, count(1))
        for number, (layer, entity) in enumerate(shown):
            if number >= _MOST_ENTITIES:
                raise fault(
                    display, "", f"holds more than {_MOST_ENTITIES:,} entities; only the section"
                )
            names.setdefault(layer.casefold(), layer)
            entities.setdefault(layer.casefold(), []).append(entity)
    except ScenarioError:
        raise
    # A broken file breaks the reader in any place, so any error of its is one of the file.
    except Exception as error:
        what = " ".join(str(error).split()) or type(error).__name__
        raise fault(display, "", f"is no readable DXF ({what}); must be a text DXF") from error
    return Drawing(unit=unit, layers=tuple(names.values()), entities=entities)


def _taken_apart(
    entities: Any, outer: str | None, depth: int, from_blocks: Iterator[int]
) -> Iterator[tuple[str, Any]]:
    """(layer, entity) with every block insertion replaced by what it shows.

    from_blocks: counts what blocks have shown so far, insertions too
    """
    if depth > _DEEPEST:
        raise ValueError(f"blocks are nested more than {_DEEPEST} deep")
    for entity in entities:
        if depth and next(from_blocks) > _MOST_FROM_BLOCKS:
            raise ValueError(f"its blocks show more than {_MOST_FROM_BLOCKS:,} entities")
        own = entity.dxf.get("layer", "0")
        layer = outer if outer is not None and own == "0" else own
        if entity.dxftype() != "INSERT":
            yield layer, entity
        else:
            if abs(entity.dxf.row_count * entity.dxf.column_count) > _MOST_FROM_BLOCKS:
                raise ValueError(f"a block stands in more than {_MOST_FROM_BLOCKS:,} places")
            for one in entity.multi_insert() if entity.mcount > 1 else (entity,):
                if next(from_blocks) > _MOST_FROM_BLOCKS:
                    break
                inside = one.virtual_entities()
                yield from _taken_apart(inside, layer, depth + 1, from_blocks)


def points_of(entity: Any, *, sagitta: float | None) -> FloatArray | None:
    """(n, 3) points along one entity in drawing units, or None where it is no line.

    sagitta: how far a chord may lie from its curve, drawing units; None for 1/200 of the radius
    """
    kind = entity.dxftype()
    if kind == "LINE":
        return np.array([tuple(entity.dxf.start), tuple(entity.dxf.end)])
    if kind in {"ARC", "CIRCLE"}:
        return _arc(entity, sagitta)
    if kind == "LWPOLYLINE":
        z = float(entity.dxf.get("elevation", 0.0))
        rows = [(x, y, z, bulge) for x, y, bulge in entity.get_points("xyb")]
        return _polyline(entity, rows, closed=entity.closed, sagitta=sagitta)
    if kind == "POLYLINE":
        if not (entity.is_2d_polyline or entity.is_3d_polyline):
            return None
        # Flag 16 marks the frame of a fitted curve; the curve itself follows as points.
        shown = [vertex for vertex in entity.vertices if not vertex.dxf.flags & 16]
        z = float(tuple(entity.dxf.elevation)[2]) if entity.is_2d_polyline else 0.0
        rows = [
            (*tuple(v.dxf.location)[:2], v.dxf.location[2] or z, v.dxf.get("bulge", 0.0))
            for v in shown
        ]
        return _polyline(entity, rows, closed=entity.is_closed, sagitta=sagitta)
    if kind in {"ELLIPSE", "SPLINE"}:
        rough = _flat(entity, np.inf)
        size = float(np.ptp(rough, axis=0).max())
        return _flat(entity, sagitta if sagitta is not None else max(size, 1e-9) / 400.0)
    return None


def _flat(entity: Any, sagitta: float) -> FloatArray:
    """Points along a curve; ValueError where it is no curve that a pen could draw."""
    points = list(islice(entity.flattening(sagitta, 8), _MOST_CHORDS + 1))
    if not 2 <= len(points) <= _MOST_CHORDS:
        raise ValueError(f"it takes {len(points):,} points to draw")
    return np.array([tuple(point) for point in points])


def _chords(sweep: float, radius: float, sagitta: float | None) -> int:
    """Number of chords of an arc of this sweep (rad) that stay within the sagitta."""
    share = 0.005 if sagitta is None else min(sagitta / radius, 1.0)
    # arccos(1 − share), exact for small shares too.
    half = 2.0 * np.arcsin(np.sqrt(0.5 * share))
    return max(1, int(np.ceil(min(abs(sweep) / (2.0 * half), _MOST_CHORDS))))


def _arc(entity: Any, sagitta: float | None) -> FloatArray | None:
    radius = abs(float(entity.dxf.radius))
    if radius == 0.0:
        return None
    start, sweep = 0.0, 2.0 * np.pi
    if entity.dxftype() == "ARC":
        start = np.radians(entity.dxf.start_angle)
        sweep = np.radians((entity.dxf.end_angle - entity.dxf.start_angle) % 360.0) or sweep
    angle = np.linspace(start, start + sweep, _chords(sweep, radius, sagitta) + 1)
    x, y, z = tuple(entity.dxf.center)
    points = np.stack(
        [x + radius * np.cos(angle), y + radius * np.sin(angle), np.full(angle.shape, z)], axis=1
    )
    return _in_world(entity, points)


def _polyline(
    entity: Any,
    rows: list[tuple[float, float, float, float]],
    *,
    closed: bool,
    sagitta: float | None,
) -> FloatArray | None:
    """Points of a polyline of (x, y, z, bulge); a bulge is tan of a quarter of its arc's angle."""
    if len(rows) < 2:
        return None
    table = np.array([*rows, rows[0]] if closed else rows)
    if not table[:-1, 3].any():
        return _in_world(entity, table[:, :3])
    points = [table[:1, :3]]
    for (x0, y0, z0, bulge), (x1, y1, z1, _) in pairwise(table.tolist()):
        chord = complex(x1 - x0, y1 - y0)
        share = np.array([1.0])
        if bulge and chord:
            sweep = 4.0 * np.arctan(bulge)
            radius = abs(chord / (2.0 * np.sin(0.5 * sweep)))
            share = np.linspace(0.0, 1.0, _chords(sweep, radius, sagitta) + 1)[1:]
            # From the start, an arc's point lies sin(half its part)/sin(half the sweep) away,
            # turned back from the chord by half of what is still to come.
            along = np.sin(0.5 * sweep * share) / np.sin(0.5 * sweep)
            step = chord * along * np.exp(-0.5j * sweep * (1.0 - share))
        else:
            step = np.array([chord])
        z = z0 + share * (z1 - z0)
        points.append(np.stack([x0 + step.real, y0 + step.imag, z], axis=1))
        points[-1][-1] = (x1, y1, z1)
    return _in_world(entity, np.concatenate(points))


def _in_world(entity: Any, points: FloatArray) -> FloatArray:
    """From the entity's own axes (mirrored ones have an extrusion) to the drawing's."""
    extrusion = tuple(entity.dxf.get("extrusion", (0.0, 0.0, 1.0)))
    is_3d = entity.dxftype() == "POLYLINE" and entity.is_3d_polyline
    if extrusion == (0.0, 0.0, 1.0) or is_3d:
        return points
    ocs = entity.ocs()
    return np.array([tuple(ocs.to_wcs(point)) for point in points.tolist()])


# Loose pieces of a drawing, joined end to end into lines.

JOIN_M = 1e-3
"""Ends this close are one point: drawings are snapped, so a wider gap is a gap."""


@dataclass(frozen=True, eq=False)
class Chains:
    """Lines that pieces joined into, in the order in which the pieces came.

    lines_m: each (n, 2); the first point equals the last where the line is closed
    branches_m: (k, 2) points where more than two pieces meet; lines end there
    """

    lines_m: tuple[FloatArray, ...]
    branches_m: FloatArray


def joined(pieces_m: list[FloatArray]) -> Chains:
    """Pieces (n, 2) joined where their ends meet within JOIN_M.

    Pieces without length are left out, and so is a piece that lies exactly on another.
    """
    pieces = [piece for piece in pieces_m if np.ptp(piece, axis=0).max() > JOIN_M]
    if not pieces:
        return Chains((), np.zeros((0, 2)))
    ends = np.array([[piece[0], piece[-1]] for piece in pieces])
    node = _nodes(ends.reshape(-1, 2)).reshape(-1, 2)
    kept = _without_twins(pieces, node)
    at: dict[int, list[int]] = defaultdict(list)
    for piece in kept:
        for end in node[piece]:
            at[int(end)].append(piece)
    place = {int(n): ends[p, e] for p in reversed(kept) for e, n in enumerate(node[p])}

    free = dict.fromkeys(kept)
    lines: list[FloatArray] = []

    def follow(start: int) -> None:
        """One line from this node, through every node where exactly two pieces meet."""
        points: list[FloatArray] = []
        here = start
        while True:
            piece = next((p for p in at[here] if p in free), None)
            if piece is None:
                break
            del free[piece]
            first, last = (int(n) for n in node[piece])
            forward = first == here
            run = pieces[piece] if forward else pieces[piece][::-1]
            points.append(run if not points else run[1:])
            here = last if forward else first
            if len(at[here]) != 2 or here == start:
                break
        line = np.concatenate(points)
        if here == start:  # a ring, which rounding may have left open
            line[-1] = line[0]
        lines.append(line)

    # Open lines first, from their ends; what is left then are rings.
    for piece in kept:
        for end in (int(n) for n in node[piece]):
            while len(at[end]) != 2 and any(p in free for p in at[end]):
                follow(end)
    while free:
        follow(int(node[next(iter(free))][0]))
    branches = [place[n] for n, meet in at.items() if len(meet) > 2]
    return Chains(tuple(lines), np.array(branches).reshape(-1, 2))


def _nodes(points_m: FloatArray) -> IntArray:
    """(n,) one number for all points within JOIN_M of the first of them."""
    unique, back = np.unique(points_m, axis=0, return_inverse=True)
    cells: dict[tuple[int, int], list[int]] = defaultdict(list)
    number = np.arange(len(unique))
    for index, ((x, z), (i, j)) in enumerate(
        zip(unique.tolist(), np.floor(unique / JOIN_M).astype(int).tolist(), strict=True)
    ):
        near = (
            other
            for near_i in (i - 1, i, i + 1)
            for near_j in (j - 1, j, j + 1)
            for other in cells.get((near_i, near_j), ())
            if np.hypot(unique[other, 0] - x, unique[other, 1] - z) <= JOIN_M
        )
        found = next(near, None)
        if found is None:
            cells[i, j].append(index)
        else:
            number[index] = found
    return np.asarray(number[back.reshape(-1)])


def _without_twins(pieces: list[FloatArray], node: IntArray) -> list[int]:
    """Indices of the pieces, of exact twins (drawn twice, either way round) only the first."""
    seen: set[tuple[object, ...]] = set()
    kept = []
    for index, (piece, ends) in enumerate(zip(pieces, node.tolist(), strict=True)):
        middle = tuple(np.round(piece.mean(axis=0) / JOIN_M).tolist()) if len(piece) > 2 else ()
        twin = (*sorted(ends), len(piece), middle)
        if twin not in seen:
            seen.add(twin)
            kept.append(index)
    return kept
