"""The question put to the search: one loudspeaker, the rows it serves, and the limits."""

from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Literal

import numpy as np
import numpy.typing as npt

from ..base.air import AirLoss
from ..base.arrays import BoolArray, FloatArray, frozen
from ..field.levels import NEAREST_M, levels_db, power_sum_db
from ..geometry.section import Rows, Segments, elevation_deg
from ..speaker.cabinet import Cabinet, drop_m
from ..speaker.headroom import FAR_M, NO_ROOM_M, Headroom
from ..speaker.pattern import Pattern
from ..speaker.speaker import Hang, OneOrMany, Orientation, Placements, Range
from . import measures
from .hung_pair import Shadow, Under
from .windows import Windows, windows_of

Objective = Literal["spread", "worst band", "deviation"]
HIT_TOLERANCE_M = 1e-7
"""An axis that passes an end of the audience plane by less than this still meets it."""


@dataclass(frozen=True)
class Displacement:
    """How far a hung loudspeaker is off its placement, and off its data.

    other: 0 with the pattern of the question, k with the k-th of its `others`
    """

    tilt_deg: float = 0.0
    height_m: float = 0.0
    x_m: float = 0.0
    other: int = 0

    def of(self, placement: OneOrMany) -> OneOrMany:
        """The same, displaced."""
        return placement.displaced(tilt_deg=self.tilt_deg, height_m=self.height_m, x_m=self.x_m)


HERE = Displacement()


@dataclass(frozen=True, eq=False)
class Problem:
    """Which placement of this loudspeaker serves these rows best.

    pattern: the design bands only
    rows: the rows that it serves
    planes: the audience planes that it serves
    air_loss: of the design bands
    reachable_tilt_deg: per orientation the intervals of tilt that the rigging can hold, ascending;
        an orientation that is missing has no further limit
    headroom: per orientation the steel that its lines have to fit under; likewise
    max_front_elevation_deg: the box is seen at most this high from front_ear_m (x, z)
    around: displacements at which the objective is taken, and the largest counts; the limits hold
        for the placement itself
    others: patterns that the loudspeaker may turn out to have, for displacements
    softest_db: no row is softer than this re what the loudspeaker itself would give, in free sight,
        the farthest of last_ears_m with its axis on it; None for no limit
    last_ears_m: (k, 2) x, z of the last rows' ears
    under: a second loudspeaker fixed under this one, heard together with it; the rows are then
        those that both serve, and everything else is about this one
    """

    pattern: Pattern
    rows: Rows
    planes: Segments
    air_loss: AirLoss
    hang: Hang
    cabinet: Cabinet | None = None
    objective: Objective = "spread"
    axis_on_audience: bool = True
    shadow: Shadow | None = None
    reachable_tilt_deg: dict[Orientation, tuple[Range, ...]] | None = None
    headroom: dict[Orientation, Headroom] | None = None
    max_front_elevation_deg: float | None = None
    front_ear_m: tuple[float, float] | None = None
    around: tuple[Displacement, ...] = (HERE,)
    others: tuple[Pattern, ...] = ()
    softest_db: float | None = None
    last_ears_m: FloatArray = field(default_factory=lambda: np.zeros((0, 2)))
    under: Under | None = None

    def with_hang(self, hang: Hang) -> "Problem":
        """The same question with other ranges."""
        return replace(self, hang=hang)

    def turned_out(self, other: int) -> "Problem":
        """The same question, at the placement alone, as with one of the others; 0: as it is."""
        return self._turned_out[other]

    @cached_property
    def _turned_out(self) -> tuple["Problem", ...]:
        own = replace(self, around=(HERE,), others=())
        return (own, *(replace(own, pattern=pattern) for pattern in self.others))

    def at_splay(self, splay_deg: float) -> "Problem":
        """The same question with the splay given; the same where nothing hangs under."""
        if self.under is None:
            return self
        held = replace(self.under.held, splay_deg=(splay_deg, splay_deg))
        return replace(self, under=replace(self.under, held=held))

    @property
    def from_trim(self) -> bool:
        """Whether the height follows from the cabinet's lowest point and the tilt."""
        outline = self.cabinet is not None and self.cabinet.outline_m is not None
        return self.hang.vertical == "trim" and outline

    def drop_m(self, tilt_deg: npt.ArrayLike, flipped: bool) -> FloatArray:
        """Acoustic centre above the vertical limit's own point (tilts…)."""
        if not self.from_trim:
            return np.zeros(np.shape(tilt_deg))
        return drop_m(self.cabinet, tilt_deg=tilt_deg, flipped=flipped)

    @cached_property
    def per_band(self) -> bool:
        """Whether single bands have to be looked at rather than their mean: so does a sum."""
        return self.objective != "spread" or self.under is not None

    @property
    def splay_deg(self) -> Range:
        """What is left to choose of the splay of a loudspeaker under this one; 0 without one."""
        return (0.0, 0.0) if self.under is None else self.under.held.splay_deg

    @cached_property
    def windows(self) -> Windows:
        """Enclosures of the tables that the objective sees: the bands, or their mean."""
        return windows_of(self.pattern, per_band=self.per_band)

    @cached_property
    def channel_air_loss(self) -> AirLoss:
        """Of the bands or their mean, to go with the windows."""
        return self.air_loss if self.per_band else self._design_air_loss

    @cached_property
    def _design_air_loss(self) -> AirLoss:
        return self.air_loss.mean()

    @cached_property
    def row_share(self) -> FloatArray:
        """(rows,) weights that sum to 1."""
        return np.asarray(self.rows.weight / self.rows.weight.sum())

    @cached_property
    def _design(self) -> Pattern:
        """The mean of the bands as a pattern of one: it reads what the mean of the readings is."""
        return replace(
            self.pattern,
            band_hz=self.pattern.band_hz[:1],
            level_db=frozen(self.pattern.mean()[np.newaxis]),
        )

    def _shadow_db(self, placement: OneOrMany) -> FloatArray:
        """(…, bands, rows), or 0 where nothing hides."""
        if self.shadow is None:
            return np.zeros((1, 1))
        return self.shadow.loss_db(np.asarray(placement.x_m), np.asarray(placement.height_m))

    def levels_db(self, placement: OneOrMany) -> FloatArray:
        """(…, bands, rows) without the offsets of output, which move no objective."""
        own = levels_db(
            self.pattern,
            placement,
            self.rows.x_m,
            self.rows.z_m,
            air_loss=self.air_loss,
            shadow_db=self._shadow_db(placement),
        )
        if self.under is None:
            return own
        below = self.under.levels_db(placement, self.rows, self.air_loss)
        return power_sum_db(np.stack(np.broadcast_arrays(own, below)))

    def objective_db(self, placement: OneOrMany) -> FloatArray:
        """(…) the figure to make small; +inf where a level is unknown."""
        values = [
            (self.turned_out(off.other) if off.other else self)._objective_db(off.of(placement))
            for off in self.around
        ]
        return np.asarray(values[0] if len(values) == 1 else np.max(values, axis=0))

    def design_level_db(self, placement: OneOrMany) -> FloatArray:
        """(…, rows) mean of the bands: read from the mean of tables, at a fraction of the work."""
        if self.under is not None:
            return measures.design_level_db(self.levels_db(placement))
        levels = levels_db(
            self._design,
            placement,
            self.rows.x_m,
            self.rows.z_m,
            air_loss=self._design_air_loss,
            shadow_db=self._shadow_db(placement).mean(axis=-2, keepdims=True),
        )
        return np.asarray(levels[..., 0, :])

    def spread_db(self, placement: OneOrMany) -> FloatArray:
        """(…) spread of the design level; +inf where a level is unknown."""
        value = np.ptp(self.design_level_db(placement), axis=-1)
        return np.where(np.isnan(value), np.inf, value)

    @cached_property
    def least_level(self) -> bool:
        """Whether a least level limits the placements."""
        return self.softest_db is not None and len(self.last_ears_m) > 0

    def last_row_could_db(self, distance_m: FloatArray) -> FloatArray:
        """(…) design level on the axis at this distance in free sight."""
        away = np.maximum(distance_m, NEAREST_M)
        far = np.atleast_1d(away)
        air = self._design_air_loss.at_db(far)[..., 0, :]
        return np.asarray(-20.0 * np.log10(away) - air.reshape(away.shape))

    def softest_re_last_db(self, placement: OneOrMany) -> FloatArray:
        """(…) the softest row's design level re the farthest last row with the axis on it.

        NaN where a level is unknown.
        """
        return np.asarray(
            self.design_level_db(placement).min(axis=-1) - self.last_rows_could_db(placement)
        )

    def last_rows_could_db(self, placement: OneOrMany) -> FloatArray:
        """(…) what the loudspeaker could give the farthest last row: on its axis, in free sight."""
        x, z = self.last_ears_m.T
        away = np.hypot(
            x - np.asarray(placement.x_m)[..., np.newaxis],
            z - np.asarray(placement.height_m)[..., np.newaxis],
        )
        return self.last_row_could_db(away.max(axis=-1))

    def _objective_db(self, placement: OneOrMany) -> FloatArray:
        if self.objective == "spread":
            return self.spread_db(placement)
        levels = self.levels_db(placement)
        if self.objective == "worst band":
            value = measures.worst_band_spread_db(levels)
        else:
            value = measures.deviation_db(levels, self.rows.weight)
        return np.where(np.isnan(value), np.inf, value)

    def tilt_ranges(self, flipped: bool) -> tuple[Range, ...]:
        """The intervals of tilt that placement and rigging leave, ascending; () for none."""
        low, high = self.hang.tilt_deg
        name: Orientation = "flipped" if flipped else "upright"
        reachable = (self.reachable_tilt_deg or {}).get(name, (self.hang.tilt_deg,))
        cut = [(max(low, a), min(high, b)) for a, b in reachable]
        return tuple((a, b) for a, b in cut if a <= b)

    def over_steel_m(self, placement: OneOrMany) -> FloatArray:
        """(…) how much too high placements are for the lines; −FAR_M where no steel is given."""
        tilt = np.asarray(placement.tilt_deg)
        over = np.full(np.broadcast(tilt, placement.height_m, placement.flipped).shape, -FAR_M)
        for name, under in (self.headroom or {}).items():
            mine = np.asarray(placement.flipped) == (name == "flipped")
            over = np.where(mine, np.asarray(placement.height_m) - under.highest_m(tilt), over)
        return over

    def allowed(self, placement: OneOrMany) -> BoolArray:
        """(…) whether placements keep every limit but those of x and height or trim themselves."""
        tilt = np.asarray(placement.tilt_deg)
        flipped = np.broadcast_to(np.asarray(placement.flipped), tilt.shape)
        good = np.zeros(tilt.shape, dtype=bool)
        for turn in (False, True):
            for low, high in self.tilt_ranges(turn):
                good |= (flipped == turn) & (tilt >= low - 1e-9) & (tilt <= high + 1e-9)
        if self.headroom:
            good &= self.over_steel_m(placement) <= NO_ROOM_M
        if self.axis_on_audience:
            good &= np.isfinite(first_hit(placement, self.planes)[0])
        if self.max_front_elevation_deg is not None and self.front_ear_m is not None:
            x, z = self.front_ear_m
            seen = elevation_deg(
                np.abs(x - np.asarray(placement.x_m)), np.asarray(placement.height_m) - z
            )
            good &= seen <= self.max_front_elevation_deg + 1e-9
        if self.least_level and good.any():
            assert self.softest_db is not None
            # Levels are the most work: of those alone that keep all else.
            some = placement.pick(good) if isinstance(placement, Placements) else placement
            good[good] = self.softest_re_last_db(some) >= self.softest_db - 1e-9
        return good


def first_hit(placement: OneOrMany, planes: Segments) -> tuple[FloatArray, FloatArray]:
    """(distance in m, index of the piece) where axes (…) first meet an audience plane.

    Distance is +inf where the axis meets none.  An axis that runs along a piece meets its nearer
    end.
    """
    tilt = np.radians(np.asarray(placement.tilt_deg, dtype=np.float64))[..., np.newaxis]
    x = np.asarray(placement.x_m, dtype=np.float64)[..., np.newaxis]
    z = np.asarray(placement.height_m, dtype=np.float64)[..., np.newaxis]
    cos, sin = np.cos(tilt), np.sin(tilt)

    def seen(point_m: FloatArray) -> tuple[FloatArray, FloatArray]:
        dx, dz = point_m[:, 0] - x, point_m[:, 1] - z
        return dx * cos + dz * sin, dz * cos - dx * sin  # along the axis, across it

    along0, across0 = seen(planes.start_m)
    along1, across1 = seen(planes.end_m)
    # Push ends that the axis grazes onto it.
    across0 = np.where(np.abs(across0) < HIT_TOLERANCE_M, 0.0, across0)
    across1 = np.where(np.abs(across1) < HIT_TOLERANCE_M, 0.0, across1)
    flat = (across0 == 0.0) & (across1 == 0.0)
    gap = np.where(across0 == across1, 1.0, across0 - across1)
    distance = along0 + across0 / gap * (along1 - along0)
    near, far = np.minimum(along0, along1), np.maximum(along0, along1)
    distance = np.where(flat, np.where(near > 0.0, near, far), distance)
    hit = (across0 * across1 <= 0.0) & (distance > 0.0)
    distance = np.where(hit, distance, np.inf)
    piece = np.argmin(distance, axis=-1)
    return np.take_along_axis(distance, piece[..., np.newaxis], axis=-1)[..., 0], piece
