"""Load cells, before any question of sound: what they read against what may be used.

A cell's reading is what hangs from it, so its utilisation is the reading's own: reading times the
dynamic factor over the limit that may be used.  What all cells read together is the weight; where
that is not the file's, nothing that was worked out from the file holds.
"""

from ..base.units import Unit, force_text
from ..rigging.loads import Loads
from ..speaker.speaker import Speaker
from .model import Stop
from .readings import Reading

HEAVIER_SHARE = 0.05
"""Cells that read this much more or less than the file's weight are worth a word; our own."""
WRONG_SHARE = 0.25
"""Cells that read this much more or less are a stop; our own choice."""


def cell_stops(
    speaker: Speaker, loads: Loads, readings: tuple[Reading, ...], unit: Unit
) -> tuple[Stop, ...]:
    """What the load cells forbid, or warn of; () where nothing was read or all is well."""
    read = {one.at: one for one in readings if one.kind == "load"}
    if not read:
        return ()
    found: list[Stop] = []
    cabinet = speaker.cabinet
    for name, one in read.items():
        limit = None if cabinet is None else _limit_n(speaker, name, loads)
        if limit is not None and one.value * loads.dynamic_factor > limit:
            used = one.value * loads.dynamic_factor / limit
            found.append(
                Stop(
                    f"the cell at {name} reads {force_text(one.value, unit)}, {100.0 * used:.0f} % "
                    f"of the allowed load there ({force_text(limit, unit)} with its share of the "
                    "working load limit): take the load off",
                    True,
                    used,
                )
            )
    names = {point.name for point in loads.points}
    if loads.pull_elevation_deg is None and names <= set(read):
        total = sum(read[name].value for name in names)
        share = total / loads.weight_n - 1.0
        if abs(share) > HEAVIER_SHARE:
            word = "more" if share > 0.0 else "less"
            found.append(
                Stop(
                    f"the cells read {force_text(total, unit)} together, {100.0 * abs(share):.0f} "
                    f"% {word} than the weight in the file ({force_text(loads.weight_n, unit)}): "
                    "find out why before anyone goes underneath",
                    abs(share) > WRONG_SHARE,
                )
            )
    return tuple(sorted(found, key=lambda one: not one.stops))


def _limit_n(speaker: Speaker, name: str, loads: Loads) -> float | None:
    """What may be used of the pick's marked limit; None where none is marked."""
    assert speaker.cabinet is not None, "asked for with a cabinet only"
    try:
        wll = speaker.cabinet.pick(name).wll_n
    except KeyError:
        return None
    return None if wll is None else wll * loads.wll_share
