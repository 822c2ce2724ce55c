"""A second loudspeaker fixed under the first, as the search sees it."""

from dataclasses import dataclass
from functools import cached_property
from typing import Protocol

import numpy.typing as npt

from ..base.air import AirLoss
from ..base.arrays import FloatArray, IntArray
from ..field.levels import levels_db
from ..geometry.section import Rows
from ..speaker.groups import HungUnder
from ..speaker.pattern import Pattern
from ..speaker.speaker import OneOrMany
from .windows import Windows, windows_of


class Shadow(Protocol):
    """What hides rows: exact losses, and their guaranteed bounds over boxes of placements."""

    def loss_db(self, x_m: FloatArray, height_m: FloatArray) -> FloatArray:
        """(…, bands, rows) for acoustic centres (…)."""
        ...

    def bounds_db(
        self, x_m: tuple[FloatArray, FloatArray], height_m: tuple[FloatArray, FloatArray]
    ) -> tuple[FloatArray, FloatArray]:
        """(least, largest), each (boxes, bands, rows), for (low, high) of each box (boxes,)."""
        ...

    def at_rows(self, which: IntArray) -> "Shadow":
        """The same of some of the rows."""
        ...


@dataclass(frozen=True, eq=False)
class Under:
    """The second loudspeaker.

    held: its joint and the range of its splay
    pattern: the design bands only; flipped: how it hangs, whatever the first one does
    louder_db: (bands,) its output less the first one's
    """

    held: HungUnder
    pattern: Pattern
    flipped: bool
    louder_db: FloatArray
    shadow: Shadow | None = None

    @cached_property
    def windows(self) -> Windows:
        """Enclosures of its bands."""
        return windows_of(self.pattern, per_band=True)

    def levels_db(self, above: OneOrMany, rows: Rows, air_loss: AirLoss) -> FloatArray:
        """(…, bands, rows) where the first one is at placements (…), relative to its output."""
        own = self.held.placements(above, flipped=self.flipped)
        shadow: npt.ArrayLike = 0.0
        if self.shadow is not None:
            shadow = self.shadow.loss_db(own.x_m, own.height_m)
        return levels_db(
            self.pattern,
            own,
            rows.x_m,
            rows.z_m,
            air_loss=air_loss,
            offset_db=self.louder_db,
            shadow_db=shadow,
        )
