"""What every floor line must be, whether drawn or measured: of a house's size, and never back."""

import numpy as np

from ..base.arrays import FloatArray

LARGEST_M = 1000.0
SMALLEST_M = 0.1
"""A house is neither a kilometre nor a hand's breadth: beyond these the unit is wrong."""


def size_doubt(across_m: float, up_m: float, *, unit: str) -> str | None:
    """The question to ask where a line of this size can hardly be drawn in this unit."""
    if SMALLEST_M <= max(across_m, up_m) <= LARGEST_M:
        return None
    return (
        f"would be {across_m:.6g} m by {up_m:.6g} m if given in {unit}; is that the unit? "
        f"a size of {SMALLEST_M} m to {LARGEST_M:.0f} m"
    )


def rising_m(line_m: FloatArray, *, lean_m: float) -> tuple[FloatArray, float]:
    """(n, 2) the line from its first row to its last, and how far a riser was set upright (m).

    line_m: (n, 2) x, z from either end.  A riser that leans back by at most lean_m is upright.
    Raises ValueError with "found; allowed" where the line runs back by more.
    """
    run, rise = line_m[-1] - line_m[0]
    if run < -lean_m or (abs(run) <= lean_m and rise < 0.0):
        line_m = line_m[::-1]
    x = np.maximum.accumulate(line_m[:, 0])
    back = x - line_m[:, 0]
    worst = int(np.argmax(back))
    if back[worst] > lean_m:
        raise ValueError(
            f"runs back from x {x[worst]:.3f} m to {at_text(*line_m[worst])}; x never decreases "
            "from the first row to the last"
        )
    upright = np.column_stack([x, line_m[:, 1]])
    moved = np.append(True, np.abs(np.diff(upright, axis=0)).max(axis=1) > 1e-9)
    return np.asarray(upright[moved]), float(back[worst])


def at_text(x_m: float, z_m: float) -> str:
    """A point as messages write it, metres."""
    return f"({x_m:.3f}, {z_m:.3f})"
