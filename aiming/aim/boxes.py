"""Boxes of placements.

A box is a centre and half-widths in (q, v, x), and in the splay where a loudspeaker hangs under:

    q   where the axis points: a share along one piece of the audience plane ("aimed"), or the
        tilt itself ("tilted")
    v   height of the acoustic centre, or trim of the cabinet's lowest point
    x   of the acoustic centre

Six unknowns in [−1, 1] describe what may happen within a box: these three, what is left over in
tilt and in height (common to all rows, so they cancel where rows are compared), and the splay.
"""

from dataclasses import dataclass

import numpy as np

from ..base.arrays import BoolArray, FloatArray, IntArray

GENERATORS = 6
Q, V, X, TILT_LEFT, HEIGHT_LEFT, SPLAY = range(GENERATORS)
"""The unknowns: q, v and x, what is left over in tilt and in height, and the splay."""
COLUMN_OF = {Q: 0, V: 1, X: 2, SPLAY: 3}
"""Which column of a box an unknown belongs to."""


@dataclass(frozen=True, eq=False)
class Boxes:
    """(b,) boxes of placements.

    centre, half: (b, 3) in (q, v, x), or (b, 4) with the splay in degrees
    piece: (b,) index of the audience plane's piece, −1 where q is the tilt in degrees
    flipped: (b,)
    """

    centre: FloatArray
    half: FloatArray
    piece: IntArray
    flipped: BoolArray

    def __len__(self) -> int:
        return len(self.piece)

    def pick(self, which: IntArray | BoolArray) -> "Boxes":
        return Boxes(self.centre[which], self.half[which], self.piece[which], self.flipped[which])


def joined(parts: list[Boxes]) -> Boxes:
    """All boxes of several sets."""
    return Boxes(
        np.concatenate([part.centre for part in parts]),
        np.concatenate([part.half for part in parts]),
        np.concatenate([part.piece for part in parts]),
        np.concatenate([part.flipped for part in parts]),
    )
