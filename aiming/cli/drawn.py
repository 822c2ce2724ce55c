"""What the layers of a drawing are taken for, and a person's word on each."""

import os
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from ..base.errors import ScenarioError
from .asking import ask
from .common import UsageError, tell
from .typed import one_of

if TYPE_CHECKING:
    from ..files.drawing import LayerSummary
    from ..report.starter import DrawnLayer, DrawnStart, Use

_NO_FLOORS = ("wall", "ceiling", "soffit", "roof", "front", "fascia", "proscenium", "screen")
"""Words in a layer's name that no floor has."""
_FEW_LINES = 4
"""A layer of more separate lines than this is more likely furniture than walls."""


def drawn_start(
    drawing: str, *, into: str | None, drawing_units: str | None, asking: bool
) -> "DrawnStart":
    """What the layers of a drawing are taken for; a person is asked where there is one.

    into: the scenario file that is to name the drawing, from its own folder
    Raises ScenarioError for what cannot be read, UsageError where the unit has to be said.
    """
    from ..files.drawing import drawing_summary
    from ..report.starter import DrawnStart

    path = Path(drawing)
    summary = drawing_summary(path, drawing_units=drawing_units, display=drawing)
    tell(f"{drawing}: unit {summary.unit or 'not named'}; {len(summary.layers)} layers")
    for layer in summary.layers:
        tell(f"  {layer.text()}")
    if summary.metres_per_unit is None:
        raise UsageError(
            f"{drawing}: the drawing names no unit; say --drawing-units, as --drawing-units mm"
        )
    drawn = [
        _layer(path, one, drawing, drawing_units, summary.metres_per_unit)
        for one in summary.layers
        if one.low is not None
    ]
    if asking:
        drawn = [_asked(one) for one in drawn]
    if not any(one.use == "seating" for one in drawn):
        raise UsageError(f"{drawing}: no layer holds a floor line; {_told(drawn)}")
    for one in drawn:
        tell(f"  {one.name}: taken as {one.use}{f' ({one.reason})' if one.reason else ''}")
    beside = Path(into).parent if into else Path()
    return DrawnStart(
        drawing=Path(os.path.relpath(path, beside)).as_posix(),
        units="ft" if summary.unit in ("ft", "in", "us-ft", "yd") else "m",
        stated=drawing_units,
        layers=tuple(drawn),
    )


def _layer(
    path: Path, layer: "LayerSummary", display: str, drawing_units: str | None, scale: float
) -> "DrawnLayer":
    """What a layer is most likely meant for."""
    from ..files.drawing import floor_from_drawing, surfaces_from_drawing
    from ..report.starter import DrawnLayer
    from ..scenario.keys import LONGEST_NAME

    assert layer.low is not None and layer.high is not None
    low, high = (tuple(scale * of for of in end) for end in (layer.low, layer.high))
    found = DrawnLayer(layer.name, "surface", (low[0], low[1]), (high[0], high[1]), seatable=False)
    if len(layer.name) > LONGEST_NAME or not layer.name.isprintable():
        return replace(found, use="left out", unusable=True, reason="no scenario can name it")
    try:
        surfaces_from_drawing(path, layer=layer.name, drawing_units=drawing_units, display=display)
    except ScenarioError as error:
        fault = error.faults[0]
        if fault.key == "drawing_units":
            raise UsageError(f"{display}: {fault.message}; say --drawing-units") from error
        return replace(found, use="left out", unusable=True, reason=fault.message)
    try:
        floor = floor_from_drawing(
            path, layer=layer.name, drawing_units=drawing_units, display=display
        )
    except ScenarioError as error:
        if layer.lines > 1:
            use: Use = "surface" if layer.lines <= _FEW_LINES else "left out"
            return replace(found, use=use, reason=f"{layer.lines} lines that do not meet")
        return replace(found, reason=error.faults[0].message)
    run, rise = abs(floor[-1] - floor[0])
    named = any(word in layer.name.casefold() for word in _NO_FLOORS)
    if run > rise and not named:
        return replace(found, use="seating", seatable=True)
    return replace(found, seatable=run > 0.0)


def _asked(one: "DrawnLayer") -> "DrawnLayer":
    """What the person takes the layer for; what it cannot be is not offered."""

    if one.use == "left out" and one.unusable:
        return one
    choices: tuple[Use, ...] = ("surface", "left out")
    if one.seatable:
        choices = ("seating", *choices)
    span = ", ".join(
        f"{way} {low:.2f} to {high:.2f} m"
        for way, low, high in zip("xz", one.low_m, one.high_m, strict=True)
    )
    taken = ask(
        f'Layer "{one.name}": {", ".join(choices)}?',
        f"{span}. Seating is the floor under rows; a surface hides rows or sends sound back.",
        one.use,
        one_of(*choices),
    )
    for use in choices:
        if use == taken:
            return replace(one, use=use)
    return one


def _told(drawn: "list[DrawnLayer]") -> str:
    """Each layer and why it is none."""
    return "; ".join(f'"{one.name}": {one.reason or "taken as " + one.use}' for one in drawn)
