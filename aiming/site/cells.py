"""Load cells, before any question of sound: what they read against what may be used.

A cell's reading is what hangs from it, so its utilisation is the reading's own: reading over the
reading at which a point, a part of its line or the structure comes to its limit.  What all cells
read together is the weight; where that is not the file's, nothing that was worked out from the file
holds.
"""

from collections.abc import Iterable, Iterator

from ..base.units import Unit, force_text, tilt_text
from ..rigging.loads import Loads
from ..speaker.rigging import Rigging
from ..speaker.speaker import Speaker
from .model import Stop
from .readings import Reading

WRONG_SHARE = 0.25
"""Cells that read this much more or less than the file's weight are a stop; our own choice."""


def cell_stops(
    speaker: Speaker,
    rigging: Rigging,
    loads: Loads | None,
    readings: Iterable[Reading],
    *,
    weight_n: float | None,
    mismatch_share: float,
    unit: Unit,
) -> tuple[Stop, ...]:
    """What the load cells forbid, or warn of, stops first; () where none was read or all is well.

    loads: as planned, or with what was weighed; None where they are not known
    weight_n: of everything that hangs, by the file; mismatch_share: a difference worth a word
    """
    read = [one for one in readings if one.kind == "load"]
    over = _stop_over_n(speaker, rigging, loads)
    found: list[Stop] = []
    for one in read:
        limit = over.get(one.at)
        if limit is not None and one.value > limit:
            used = one.value / limit if limit > 0.0 else float("inf")
            found.append(
                Stop(
                    f"the cell at {one.at} reads {force_text(one.value, unit)}, {100.0 * used:.0f} "
                    f"% of the allowed load there ({force_text(limit, unit)}, its point, line and "
                    "structure counted): take the load off",
                    True,
                    used,
                )
            )
    if weight_n is not None and rigging.method != "pull-back":
        for tilt in dict.fromkeys(one.tilt_deg for one in read):
            cells = {one.at: one.value for one in read if one.tilt_deg == tilt}
            if set(rigging.picks) <= set(cells):
                total = sum(cells[name] for name in rigging.picks)
                when = "" if tilt is None else f", weighed {tilt_text(tilt)},"
                found += _mismatch(total, weight_n, mismatch_share, when, unit)
    return tuple(sorted(found, key=lambda one: not one.stops))


def _mismatch(
    total_n: float, weight_n: float, mismatch_share: float, when: str, unit: Unit
) -> Iterator[Stop]:
    share = total_n / weight_n - 1.0
    if abs(share) > mismatch_share:
        word = "more" if share > 0.0 else "less"
        yield Stop(
            f"the cells{when} read {force_text(total_n, unit)} together, {100.0 * abs(share):.0f} "
            f"% {word} than the weight in the file ({force_text(weight_n, unit)}): "
            "find out why before anyone goes underneath",
            abs(share) > WRONG_SHARE,
        )


def _stop_over_n(speaker: Speaker, rigging: Rigging, loads: Loads | None) -> dict[str, float]:
    """By pick, the reading at which something comes to its limit, where a limit is known."""
    cabinet = speaker.cabinet
    usable = rigging.wll_share / rigging.dynamic_factor
    found = {
        pick.name: pick.wll_n * usable
        for pick in (() if cabinet is None else cabinet.picks)
        if pick.wll_n is not None and pick.name in rigging.picks
    }
    for line in () if loads is None else loads.lines:
        if line.stop_over_n is not None:
            found[line.name] = min(line.stop_over_n, found.get(line.name, float("inf")))
    return found
