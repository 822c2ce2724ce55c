"""One setting of everything but the fast axes, and the figures of a whole grid of placements there.

Fast are tilt, height and x of one loudspeaker: changing them changes nothing but the placement.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from ..aim.problem import Problem
from ..analysis.problems import fixed, only_placement
from ..base.arrays import FloatArray
from ..base.units import FOOT_M, Unit
from ..speaker.speaker import Hang, Placements
from .axes import Axis
from .direct_figures import Exact
from .figures import TOGETHER, Figure
from .kernel import Channels, TiltKernel, Tilts, tilt_kernel

FEWEST_TILTS = 16
_EVEN_DEG = 1e-9
FAST = ("x", "height", "tilt")
"""In the order of a stage's own grid."""


@dataclass(frozen=True)
class Fast:
    """The fast axes by name, and the unit of their lengths."""

    axes: dict[str, Axis]
    unit: Unit

    def values(self, name: str, span: tuple[int, int] | None = None) -> FloatArray | None:
        """Metres or degrees of one axis, whole or from start to stop; None where not swept."""
        if name not in self.axes:
            return None
        axis = self.axes[name]
        scale = FOOT_M if self.unit == "ft" and name != "tilt" else 1.0
        return scale * axis.numbers(*(span or (0, axis.count)))

    def first(self, name: str) -> float | None:
        """The first value of one axis; None where it is not swept."""
        values = self.values(name, (0, 1))
        return None if values is None else float(values[0])

    def ends(self, name: str) -> tuple[float, float] | None:
        """Least and largest value."""
        if name not in self.axes:
            return None
        axis = self.axes[name]
        if axis.listed:
            values = self.values(name)
        else:
            parts = [self.values(name, (k, k + 1)) for k in (0, axis.count - 1)]
            values = np.concatenate([part for part in parts if part is not None])
        assert values is not None
        return float(values.min()), float(values.max())


@dataclass(frozen=True, eq=False)
class Stage:
    """speaker: the one that moves; in exact its placement has the fast axes' whole ranges."""

    exact: Exact
    speaker: str
    fast: Fast
    figures: tuple[Figure, ...]

    @property
    def problem(self) -> Problem:
        return self.exact.problems[self.speaker]

    @cached_property
    def first(self) -> Hang:
        """What is left to choose at the first value of every fast axis."""
        hang = self.problem.hang
        x, height, tilt = (self.fast.first(name) for name in FAST)
        return replace(
            hang,
            x_m=hang.x_m if x is None else (x, x),
            vertical_m=hang.vertical_m if height is None else (height, height),
            tilt_deg=hang.tilt_deg if tilt is None else (tilt, tilt),
        )

    @cached_property
    def evaluated(self) -> bool:
        """Whether nothing is left to choose for any loudspeaker that the figures look at."""
        owners = {figure.of for figure in self.figures}
        names = self.exact.problems if TOGETHER in owners else owners
        return all(
            self.first.fixed if name == self.speaker else fixed(self.exact.problems[name])
            for name in names
        )

    def grid(self, spans: dict[str, tuple[int, int]]) -> FloatArray:
        """(figures, x, height, tilt) over part of the fast axes; 1 long where one is not swept."""
        here = only_placement(self.problem.with_hang(self.first))
        flipped = here.flipped
        x, height, tilt = (self.fast.values(name, spans.get(name)) for name in FAST)
        x = np.array([here.x_m]) if x is None else x
        tilt = np.array([here.tilt_deg]) if tilt is None else tilt
        if height is None:
            vertical = self.first.vertical_m[0]
            height = vertical + self.problem.drop_m(tilt, flipped)[np.newaxis]
            height = height if self.problem.from_trim else height[:, :1]
        else:
            height = height[:, np.newaxis]
        places = len(x) * len(height)
        at = Placements.of(
            np.repeat(x, len(height))[:, np.newaxis],
            np.tile(height, (len(x), 1)),
            tilt[np.newaxis],
            flipped,
        )
        found = np.empty((len(self.figures), places, len(tilt)))
        quick = [k for k, figure in enumerate(self.figures) if self.quick and figure.in_bulk]
        rest = [k for k in range(len(self.figures)) if k not in quick]
        if quick:
            figures = tuple(self.figures[k] for k in quick)
            found[quick] = self._in_bulk(figures, at, spans["tilt"])
        if rest:
            placements = {
                name: only_placement(problem)
                for name, problem in self.exact.problems.items()
                if name != self.speaker and fixed(problem)
            }
            figures = tuple(self.figures[k] for k in rest)
            found[rest] = self.exact.figures(
                placements | {self.speaker: at},
                figures,
                shape=(places, len(tilt)),
                # The kernel is only there where the pattern is known for every row and tilt.
                known=bool(quick),
            )
        return found.reshape(len(self.figures), len(x), len(height), len(tilt))

    @cached_property
    def quick(self) -> bool:
        """Whether the kernel gives every figure that follows from levels.

        Where one of them needs the levels anyway, all are read from them.
        """
        by_level = [one for one in self.figures if one.of_levels]
        mine = all(one.in_bulk for one in by_level)
        mine &= {one.of for one in self.figures} == {self.speaker}
        return bool(by_level) and mine and self.kernel is not None

    @cached_property
    def kernel(self) -> TiltKernel | None:
        """For evenly spaced tilts that do not move the acoustic centre; else None."""
        problem, tilts = self.problem, self._tilts
        if tilts is None or ("height" not in self.fast.axes and problem.from_trim):
            return None
        here = only_placement(problem.with_hang(self.first))
        x, height = here.x_m, here.height_m
        return tilt_kernel(
            self._channels,
            problem.rows.x_m,
            problem.rows.z_m,
            tilts,
            x_m=self.fast.ends("x") or (x, x),
            height_m=self.fast.ends("height") or (height, height),
            flipped=here.flipped,
        )

    @property
    def _tilts(self) -> Tilts | None:
        """The tilts, where they are many and evenly spaced."""
        ends = self.fast.ends("tilt")
        if ends is None or self.fast.axes["tilt"].count < FEWEST_TILTS:
            return None
        count = self.fast.axes["tilt"].count
        step = (ends[1] - ends[0]) / (count - 1)
        if self.fast.axes["tilt"].listed:
            tilt = self.fast.values("tilt")
            even = ends[0] + step * np.arange(count)
            if step <= 0.0 or tilt is None or np.abs(even - tilt).max() > _EVEN_DEG:
                return None
        return Tilts(ends[0], step, count)

    @cached_property
    def _bands_needed(self) -> tuple[int, ...]:
        """The bands that the kernel reads, ascending; −1 for their mean."""
        needed: set[int] = set()
        for figure in self.figures:
            if figure.band is not None:
                needed.add(figure.band)
            elif figure.what == "worst_band_spread_db":
                needed.update(range(len(self.problem.pattern.band_hz)))
            elif figure.in_bulk:
                needed.add(-1)
        return tuple(sorted(needed))

    @cached_property
    def _channels(self) -> Channels:
        pattern, mean = self.problem.pattern, self.problem.pattern.mean()
        one = np.eye(len(pattern.band_hz))
        share = [one.mean(axis=0) if k < 0 else one[k] for k in self._bands_needed]
        return Channels(
            pattern.angle_deg,
            np.stack([mean if k < 0 else pattern.level_db[k] for k in self._bands_needed]),
            self.problem.air_loss.mixed(np.array(share)),
        )

    def _in_bulk(
        self, figures: tuple[Figure, ...], at: Placements, tilts: tuple[int, int]
    ) -> FloatArray:
        """(figures, places, tilts) from the kernel, for x and height (places, 1)."""
        assert self.kernel is not None
        x, height = at.x_m[:, 0], at.height_m[:, 0]
        place = {band: channel for channel, band in enumerate(self._bands_needed)}
        bands = [channel for band, channel in place.items() if band >= 0]
        offset = float(self.exact.offset_db(self.speaker).mean())
        found = np.empty((len(figures), len(x), tilts[1] - tilts[0]))
        for which, some, soft, loud, base in self.kernel.extremes_db(
            x, height, first=tilts[0], count=tilts[1] - tilts[0], shadow=self._shadow
        ):
            apart = loud - soft
            for out, figure in zip(found, figures, strict=True):
                if figure.band is not None:
                    out[which, some] = apart[place[figure.band]]
                elif figure.what == "worst_band_spread_db":
                    out[which, some] = apart[bands].max(axis=0)
                elif figure.what == "spread_db":
                    out[which, some] = apart[place[-1]]
                else:
                    out[which, some] = soft[place[-1]] + base[place[-1]] + offset
        return found

    @property
    def _shadow(self) -> Callable[[FloatArray, FloatArray], FloatArray] | None:
        """Acoustic centres (p,), (p,) → (p, channels, rows) what walls hide."""
        walls = self.problem.shadow
        if walls is None:
            return None

        def hidden_db(x_m: FloatArray, height_m: FloatArray) -> FloatArray:
            by_band = walls.loss_db(x_m, height_m)
            mean = by_band.mean(axis=1)
            return np.stack([mean if k < 0 else by_band[:, k] for k in self._bands_needed], axis=1)

        return hidden_db
