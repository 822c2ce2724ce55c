"""The loads of a lattice, for the page: force, share and use of the limit at each point."""

from collections.abc import Callable
from typing import Any

import numpy as np

from ...units import POUND_FORCE_N, force_text
from .tables import Packer, tenths, whole

Loads = tuple[tuple[dict[str, Any] | None, ...], ...]


def loads_tree(loads: Loads, pack: Packer) -> dict[str, Any] | None:
    """Per point tables of (heights, tilts); None where nothing could be computed anywhere."""
    known = [one for row in loads for one in row if one is not None]
    if not known:
        return None
    first = known[0]
    shape = len(loads), len(loads[0])
    weight = float(first["weight_n"])

    def table(value: Callable[[dict[str, Any]], float | None]) -> Any:
        found = np.full(shape, np.nan)
        for index in np.ndindex(shape):
            one = loads[index[0]][index[1]]
            number = None if one is None else value(one)
            found[index] = np.nan if number is None else number
        return found

    points = []
    for place, point in enumerate(first["points"]):

        def of(name: str, place: int = place) -> Any:
            return table(lambda one: one["points"][place][name])

        tension = of("tension_n")
        points.append(
            {
                "name": point["name"],
                "newtons": pack.add(whole(tension)),
                "poundTenths": pack.add(tenths(tension / POUND_FORCE_N)),
                "share": pack.add(whole(100.0 * of("share"))),
                "use": pack.add(whole(100.0 * of("utilisation"))),
            }
        )
    return {
        "weight": {"m": force_text(weight, "m"), "ft": force_text(weight, "ft")},
        "points": points,
    }
