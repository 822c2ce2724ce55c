"""Type sizes of a hang sheet's lower half, which shrink together."""

from dataclasses import dataclass

from .sheet_page import POINT_IN

SCALES = (1.0, 0.95, 0.9, 0.85, 0.8, 0.75, 0.7, 0.65, 0.6, 0.55)
"""The lower half is printed as large as it fits; figures shrink less than cautions."""
LINE = 1.28


@dataclass(frozen=True)
class Sizes:
    """Type sizes in points of the lower half."""

    scale: float

    @property
    def figure(self) -> float:
        return 10.5 * (0.4 + 0.6 * self.scale)

    @property
    def text(self) -> float:
        return 9.8 * (0.4 + 0.6 * self.scale)

    @property
    def caution(self) -> float:
        return 8.8 * self.scale

    @property
    def row_in(self) -> float:
        return 1.5 * self.figure * POINT_IN
