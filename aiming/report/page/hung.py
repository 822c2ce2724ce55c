"""The loads of a lattice, for the page: force, share and use of the limit at each point."""

from collections.abc import Callable
from typing import Any

import numpy as np

from ...arrays import FloatArray
from ...rigging.loads import Loads, PointLoad
from ...units import POUND_FORCE_N, force_text
from .tables import Packer, tenths, whole


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
