"""What is found at each placement of a lattice one by one: trim, throw, line, loads, cautions."""

from dataclasses import dataclass
from typing import Any

import numpy as np

from ..aim.line import near_side_above
from ..arrays import FloatArray, IntArray
from ..scenario.scenario import Scenario
from .figures import aim_level_db
from .held import Held
from .placed import Placed, aim_seating_and_row, trim_m, uniform_of

LINE_POINTS = 17
"""Points of the uniform-level line from the aim point to the coverage edge."""


@dataclass(frozen=True, eq=False)
class Spots:
    """What is found placement by placement, unknown to begin with."""

    trim_m: FloatArray
    throw_m: FloatArray
    aim_row: IntArray
    aim_db: FloatArray
    line_m: FloatArray
    line_end_deg: FloatArray
    loads: Any
    caution_list: IntArray

    @classmethod
    def blank(cls, shape: tuple[int, ...]) -> "Spots":
        return cls(
            trim_m=np.full(shape, np.nan),
            throw_m=np.full(shape, np.nan),
            aim_row=np.full(shape, -1, dtype=np.intp),
            aim_db=np.full(shape, np.nan),
            line_m=np.full((LINE_POINTS, *shape), np.nan),
            line_end_deg=np.full(shape, np.nan),
            loads=np.full(shape, None, dtype=object),
            caution_list=np.zeros(shape, dtype=np.intp),
        )

    def fill(
        self,
        index: tuple[int, ...],
        scenario: Scenario,
        at: Placed,
        edges_deg: tuple[float | None, float | None],
        held: Held,
    ) -> None:
        """Trim, loads, throw, aim row and uniform-level line of one placement."""
        self.trim_m[index] = trim_m(at)
        self.loads[index] = held.loads
        line = uniform_of(at)
        row = aim_seating_and_row(scenario, at)[1]
        if line is None or row is None:
            return
        self.throw_m[index] = line.throw_m
        self.aim_row[index] = row
        self.aim_db[index] = aim_level_db(scenario, at)
        end = edges_deg[int(near_side_above(at.placement, at.problem.rows))]
        if end is None:
            end = float(line.angle_deg[np.isfinite(line.design_db)].min())
        self.line_end_deg[index] = end
        off_axis = np.linspace(0.0, end, LINE_POINTS)
        self.line_m[:, index[0], index[1]] = line.distance_m(off_axis)
