"""Drawings: floor lines and surfaces from one layer of a DXF, and what a drawing holds.

The section stands in the drawing's x, y plane; x becomes the section's x, y its z.  Lengths come
from the drawing's own unit ($INSUNITS) or from drawing_units, which takes precedence.  Lines,
polylines and arcs of one layer are joined where their ends meet within 1 mm; arcs become chords
that stay within 1 mm.
"""

from collections import Counter
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np

from ..base.arrays import FloatArray, frozen
from ..base.errors import ScenarioError
from .dxf import (
    JOIN_M,
    METRES_PER_UNIT,
    USABLE,
    Chains,
    Drawing,
    fault,
    joined,
    points_of,
    read_drawing,
)
from .floor_line import at_text, rising_m, size_doubt

SAGITTA_M = 1e-3
LARGEST = 1e12
"""Drawing units: country coordinates in millimetres are smaller."""
_NAMED = 6


@dataclass(frozen=True)
class LayerSummary:
    """What one layer holds.

    low, high: x, y of the extents, in drawing units; None where nothing on it can be a line
    counts: entity type and number, in alphabetical order
    lines: how many separate lines its pieces join into; 0 where the unit is not known
    """

    name: str
    low: tuple[float, float] | None
    high: tuple[float, float] | None
    counts: tuple[tuple[str, int], ...]
    lines: int

    def text(self) -> str:
        """One line for a screen: name, what is on it, extents in drawing units."""
        held = ", ".join(f"{number} {kind}" for kind, number in self.counts) or "empty"
        if self.low is None or self.high is None:
            return f"{self.name}: {held}"
        across, up = (f"{a:.6g} to {b:.6g}" for a, b in zip(self.low, self.high, strict=True))
        return f"{self.name}: {held}; x {across}, y {up}"


@dataclass(frozen=True)
class DrawingSummary:
    """What a drawing holds: its unit ("mm", "ft", …; None where it names none) and layers."""

    unit: str | None
    metres_per_unit: float | None
    layers: tuple[LayerSummary, ...]


def floor_from_drawing(
    path: Path,
    *,
    layer: str,
    drawing_units: str | None = None,
    origin_m: tuple[float, float] = (0.0, 0.0),
    mirrored: bool = False,
    display: str | None = None,
) -> FloatArray:
    """(n, 2) x, z in metres from the datum, x never decreasing: the one floor line on this layer.

    drawing_units: a key of METRES_PER_UNIT; None takes the drawing's own
    origin_m: where the datum lies in the drawing, x, y converted to metres
    mirrored: the drawing's audience sits to the left of the datum; x is turned about it
    display: the file's name in faults; default the path

    Raises ScenarioError with one fault (key "layer", "drawing_units" or "" for the file itself),
    MissingExtraError without ezdxf.
    """
    name = display or str(path)
    chains = _chains(path, layer, drawing_units, origin_m, mirrored, name)
    refused = partial(fault, name, "layer")
    if len(chains.branches_m):
        where = at_text(*chains.branches_m[0])
        raise refused(f'the lines on "{layer}" branch at {where}; one floor line alone')
    if len(chains.lines_m) > 1:
        shown = [f"{at_text(*line[0])} to {at_text(*line[-1])}" for line in chains.lines_m[:_NAMED]]
        more = len(chains.lines_m) - len(shown)
        rest = f" and {more} more" if more else ""
        raise refused(
            f'"{layer}" holds {len(chains.lines_m)} lines that do not meet: {", ".join(shown)}'
            f"{rest}{_nearest_gap(chains)}; one line, its pieces joined within "
            f"{JOIN_M * 1000.0:.0f} mm, or a layer for each seating",
        )
    line = chains.lines_m[0]
    if np.hypot(*(line[0] - line[-1])) <= JOIN_M:
        raise refused(
            f'the line on "{layer}" is closed, at {at_text(*line[0])}; a floor line from the first '
            "row to the last"
        )
    # A riser that leans back by rounding alone is upright.
    try:
        return frozen(rising_m(line, lean_m=JOIN_M)[0])
    except ValueError as error:
        raise refused(f'the line on "{layer}" {error}') from error


def surfaces_from_drawing(
    path: Path,
    *,
    layer: str,
    drawing_units: str | None = None,
    origin_m: tuple[float, float] = (0.0, 0.0),
    mirrored: bool = False,
    display: str | None = None,
) -> tuple[FloatArray, ...]:
    """Every line on this layer, each (n, 2) x, z in metres, longest first.

    Arguments and errors as floor_from_drawing; lines may be many, branch, close or run back.
    """
    name = display or str(path)
    lines = _chains(path, layer, drawing_units, origin_m, mirrored, name).lines_m
    length = [float(np.hypot(*np.diff(line, axis=0).T).sum()) for line in lines]
    order = sorted(range(len(lines)), key=lambda index: -length[index])
    return tuple(frozen(lines[index]) for index in order)


def drawing_summary(
    path: Path, *, drawing_units: str | None = None, display: str | None = None
) -> DrawingSummary:
    """The layers, their extents and entities, and the unit.

    Raises as floor_from_drawing, but a drawing without a unit is no fault here.
    """
    name = display or str(path)
    drawing = read_drawing(path, display=name)
    unit = _checked_unit(drawing_units, name) or drawing.unit
    scale = None if unit is None else METRES_PER_UNIT[unit]
    sagitta = None if scale is None else SAGITTA_M / scale
    layers = []
    for layer in drawing.layers:
        try:
            pieces = [piece[:, :2] for piece in _pieces(drawing, layer, sagitta, name)]
        except ScenarioError:  # told to whom asks for this layer; the others are none the worse
            pieces = []
        every = np.concatenate(pieces) if pieces else None
        lines = [piece * scale for piece in pieces] if scale is not None else []
        layers.append(
            LayerSummary(
                name=layer,
                low=None if every is None else _point(every.min(axis=0)),
                high=None if every is None else _point(every.max(axis=0)),
                counts=_counts(drawing, layer),
                lines=len(joined(lines).lines_m),
            )
        )
    return DrawingSummary(unit=unit, metres_per_unit=scale, layers=tuple(layers))


def _point(at: FloatArray) -> tuple[float, float]:
    return float(at[0]), float(at[1])


def _counts(drawing: Drawing, layer: str) -> tuple[tuple[str, int], ...]:
    entities = drawing.entities.get(layer.casefold(), [])
    return tuple(sorted(Counter(entity.dxftype() for entity in entities).items()))


def _checked_unit(drawing_units: str | None, name: str) -> str | None:
    if drawing_units is not None and drawing_units not in METRES_PER_UNIT:
        allowed = ", ".join(f'"{unit}"' for unit in METRES_PER_UNIT)
        raise fault(name, "drawing_units", f'"{drawing_units}"; one of {allowed}')
    return drawing_units


def _chains(
    path: Path,
    layer: str,
    drawing_units: str | None,
    origin_m: tuple[float, float],
    mirrored: bool,
    name: str,
) -> Chains:
    """The lines of one layer in metres from the datum; at least one."""
    given = _checked_unit(drawing_units, name)
    refused, no_unit = partial(fault, name, "layer"), partial(fault, name, "drawing_units")
    drawing = read_drawing(path, display=name)
    known = {one.casefold() for one in drawing.layers}
    if layer.casefold() not in known:
        there = ", ".join(f'"{one}"' for one in drawing.layers)
        raise refused(f'no layer "{layer}"; the layers are {there}')
    unit = given or drawing.unit
    scale = METRES_PER_UNIT[unit] if unit else 1.0
    sagitta = SAGITTA_M / scale if unit else None
    pieces = _pieces(drawing, layer, sagitta, name)
    every = np.concatenate(pieces) if pieces else np.zeros((0, 3))
    across, up, deep = np.ptp(every, axis=0) if len(every) else (0.0, 0.0, 0.0)
    if max(across, up) == 0.0:
        held = ", ".join(f"{number} {kind}" for kind, number in _counts(drawing, layer))
        allowed = ", ".join(USABLE)
        raise refused(f'"{layer}" holds no line ({held or "it is empty"}); {allowed}')
    if unit is None:
        raise no_unit(
            f'the drawing names no unit, and "{layer}" is {across:.6g} by {up:.6g}; say '
            f"drawing_units, one of {', '.join(METRES_PER_UNIT)}",
        )
    doubt = size_doubt(across * scale, up * scale, unit=unit)
    if doubt:
        raise no_unit(f'"{layer}" {doubt}, or another drawing_units')
    if deep * scale > JOIN_M:
        raise refused(
            f'"{layer}" is not flat: its z spans {deep * scale:.6g} m; a section drawn in the '
            "x, y plane",
        )
    turn = np.array([-1.0 if mirrored else 1.0, 1.0])
    chains = joined([(piece[:, :2] * scale - origin_m) * turn for piece in pieces])
    if not chains.lines_m:
        raise refused(f'"{layer}" holds only pieces of {JOIN_M * 1000.0:.0f} mm and less; a line')
    return chains


def _pieces(drawing: Drawing, layer: str, sagitta: float | None, name: str) -> list[FloatArray]:
    """(n, 3) points of everything on one layer that is a line, in drawing units."""
    found = []
    for entity in drawing.entities.get(layer.casefold(), []):
        kind = entity.dxftype()
        try:
            with np.errstate(all="ignore"):
                points = points_of(entity, sagitta=sagitta)
        # What a broken file says of a curve breaks the library in any place.
        except Exception as error:
            what = " ".join(str(error).split()) or type(error).__name__
            text = f'"{layer}" holds a {kind} that is none ({what}); lines that can be drawn'
            raise fault(name, "layer", text) from error
        if points is None:
            continue
        if not (np.abs(points) <= LARGEST).all():
            text = f'"{layer}" holds a coordinate that is no number; numbers up to {LARGEST:g}'
            raise fault(name, "layer", text)
        found.append(points)
    return found


def _nearest_gap(chains: Chains) -> str:
    """Where two of the lines come closest to meeting, which is where to look first."""
    lines = [line for line in chains.lines_m if np.hypot(*(line[0] - line[-1])) > JOIN_M][:200]
    if len(lines) < 2:
        return ""
    ends = np.array([[line[0], line[-1]] for line in lines])
    flat = ends.reshape(-1, 2)
    gap = np.hypot(*(flat[:, np.newaxis] - flat).transpose(2, 0, 1))
    owner = np.arange(len(flat)) // 2
    gap[owner[:, np.newaxis] == owner] = np.inf
    a, _ = np.unravel_index(int(np.argmin(gap)), gap.shape)
    return f" (smallest gap {gap.min() * 1000.0:.4g} mm, at {at_text(*flat[a])})"
