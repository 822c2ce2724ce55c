"""The section: floors, audience planes, rows and surfaces.  Pure geometry in arrays.

 z
 |                      ____----  audience plane = floor + ear height
 |            ____----  ____----  floor line, first row → last row
 |      ----  ____----
 |      ----
 +---------------------------------- x, towards the audience
datum
"""

from dataclasses import dataclass, field

import numpy as np

from ..base.arrays import FloatArray, IntArray, frozen

SEATED_EAR_M = 1.2
STANDING_EAR_M = 1.6
DEFAULT_ROW_SPACING_M = 0.9
SPACING_NOTE_SHARE = 0.02


@dataclass(frozen=True, eq=False)
class Seating:
    """One block of rows.

    floor_m: (n, 2) x, z from the first row to the last; x never decreases
    ear_height_m: added to the floor gives the audience plane
    row_spacing_m: wished spacing in x; ignored where row_count is given
    row_names: the house's own names, or () for 1, 2, 3 …; a shorter list is continued by number
    """

    name: str
    floor_m: FloatArray
    ear_height_m: float = SEATED_EAR_M
    row_spacing_m: float = DEFAULT_ROW_SPACING_M
    row_count: int | None = None
    row_names: tuple[str, ...] = ()
    weight: float = 1.0

    @property
    def audience_plane_m(self) -> FloatArray:
        """(n, 2) x, z of the ears along the floor line."""
        return np.asarray(self.floor_m + np.array([0.0, self.ear_height_m]))

    @property
    def run_m(self) -> float:
        """Horizontal length of the floor line."""
        return float(self.floor_m[-1, 0] - self.floor_m[0, 0])

    @property
    def intervals(self) -> int:
        """Number of spaces between rows; 0 for a single row."""
        if self.row_count is not None:
            return self.row_count - 1
        return max(1, round(self.run_m / self.row_spacing_m))

    @property
    def spacing_moved_share(self) -> float:
        """By how much even spacing departs from the wished spacing, as a share of it."""
        if self.row_count is not None:
            return 0.0
        return abs(self.run_m / self.intervals - self.row_spacing_m) / self.row_spacing_m

    def row_x_m(self) -> FloatArray:
        """(rows,) x of each row, evenly spaced, both ends of the line included."""
        return np.linspace(self.floor_m[0, 0], self.floor_m[-1, 0], self.intervals + 1)

    def ear_z_m(self, x_m: FloatArray) -> FloatArray:
        """z of the ears at x (same shape); on a riser the later point counts."""
        floor = self.floor_m
        # side="right" lands behind the last of several points with one x: the riser's later point.
        after = np.clip(np.searchsorted(floor[:, 0], x_m, side="right"), 1, len(floor) - 1)
        x0, z0 = floor[after - 1].T
        x1, z1 = floor[after].T
        run = x1 - x0
        share = np.divide(x_m - x0, run, out=np.ones_like(run), where=run > 0.0)
        return np.asarray(z0 + np.clip(share, 0.0, 1.0) * (z1 - z0) + self.ear_height_m)

    def name_of_row(self, position: int) -> str:
        """The house's name of the row at this 0-based position."""
        return self.row_names[position] if position < len(self.row_names) else str(position + 1)


@dataclass(frozen=True, eq=False)
class Surface:
    """A solid edge line that can shadow a row or send sound back.

    line_m: (n, 2) x, z
    absorption: share of energy that a reflection loses, 0 to 1
    """

    name: str
    line_m: FloatArray
    absorption: float = 0.0


@dataclass(frozen=True, eq=False)
class Rows:
    """Listening positions, all seatings one after another in the scenario's order.

    x_m, z_m: (n,) ears
    weight: (n,) trapezoid in x times the seating's weight
    seating: (n,) index into seatings
    names: (n,) the house's name of each row
    """

    x_m: FloatArray
    z_m: FloatArray
    weight: FloatArray
    seating: IntArray
    names: tuple[str, ...]
    seatings: tuple[Seating, ...]

    def __len__(self) -> int:
        return len(self.names)

    def of(self, seatings: tuple[int, ...]) -> IntArray:
        """Indices of the rows of these seatings, ascending."""
        return np.flatnonzero(np.isin(self.seating, seatings))

    def pick(self, rows: IntArray) -> "Rows":
        """Only these rows, in this order; the seatings stay."""
        return Rows(
            x_m=frozen(self.x_m[rows]),
            z_m=frozen(self.z_m[rows]),
            weight=frozen(self.weight[rows]),
            seating=self.seating[rows],
            names=tuple(self.names[row] for row in rows),
            seatings=self.seatings,
        )

    def label(self, row: int) -> str:
        """How a screen names this row, with the seating where there are several."""
        if len(self.seatings) == 1:
            return f"row {self.names[row]}"
        return f"row {self.names[row]} of {self.seatings[self.seating[row]].name}"


def _trapezoid_weights(x_m: FloatArray) -> FloatArray:
    """(n,) share of the run that each row stands for; 1 where the rows have no run."""
    if x_m[-1] == x_m[0]:
        return np.ones_like(x_m)
    step = np.diff(x_m)
    return np.asarray(0.5 * (np.append(step, 0.0) + np.append(0.0, step)))


def rows_of(seatings: tuple[Seating, ...]) -> Rows:
    """Every row of every seating, in order."""
    placed = [(seating, seating.row_x_m()) for seating in seatings]
    return Rows(
        x_m=frozen(np.concatenate([x for _, x in placed])),
        z_m=frozen(np.concatenate([seating.ear_z_m(x) for seating, x in placed])),
        weight=frozen(np.concatenate([s.weight * _trapezoid_weights(x) for s, x in placed])),
        seating=np.repeat(np.arange(len(seatings)), [len(x) for _, x in placed]),
        names=tuple(
            seating.name_of_row(position) for seating, x in placed for position in range(len(x))
        ),
        seatings=seatings,
    )


@dataclass(frozen=True, eq=False)
class Segments:
    """Straight pieces of audience planes.

    start_m, end_m: (s, 2) x, z of the ears
    seating: (s,) index of the seating
    """

    start_m: FloatArray
    end_m: FloatArray
    seating: IntArray = field(default_factory=lambda: np.zeros(0, dtype=np.intp))

    def __len__(self) -> int:
        return len(self.start_m)


def plane_segments(seatings: tuple[Seating, ...], which: tuple[int, ...]) -> Segments:
    """The straight pieces of the audience planes of these seatings; a single point is a piece."""
    starts, ends, owners = [], [], []
    for index in which:
        plane = seatings[index].audience_plane_m
        if len(plane) == 1:
            plane = np.vstack([plane, plane])
        starts.append(plane[:-1])
        ends.append(plane[1:])
        owners.append(np.full(len(plane) - 1, index))
    return Segments(
        start_m=np.concatenate(starts),
        end_m=np.concatenate(ends),
        seating=np.concatenate(owners),
    )


def elevation_deg(dx_m: FloatArray, dz_m: FloatArray) -> FloatArray:
    """Elevation of a displacement, (−180, 180], positive up."""
    return np.asarray(np.degrees(np.arctan2(dz_m, dx_m)))


def wrap_deg(angle_deg: FloatArray) -> FloatArray:
    """The same direction in (−180, 180]."""
    past = (angle_deg <= -180.0) | (angle_deg > 180.0)
    if not past.any():
        return angle_deg
    turned = np.array(angle_deg)  # few are past: a remainder costs more than all else here
    turned[past] = 180.0 - np.mod(180.0 - turned[past], 360.0)
    return turned
