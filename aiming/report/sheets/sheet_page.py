"""A printed page, laid out in inches from its top left corner."""

from dataclasses import dataclass
from textwrap import wrap
from typing import Any, Literal

from ..figures import style as look

Paper = Literal["a4", "letter"]
SIZES_IN: dict[Paper, tuple[float, float]] = {"a4": (8.27, 11.69), "letter": (8.5, 11.0)}
MARGIN_IN = 0.5
POINT_IN = 1.0 / 72.0
_WIDE_LETTER = 0.545
"""Mean width of a letter of this font over its size, on the wide side."""


@dataclass
class Page:
    """A figure to write on; x to the right and y down, both in inches."""

    figure: Any
    width_in: float
    height_in: float

    @property
    def left_in(self) -> float:
        return MARGIN_IN

    @property
    def right_in(self) -> float:
        return self.width_in - MARGIN_IN

    @property
    def bottom_in(self) -> float:
        return self.height_in - MARGIN_IN

    def write(self, x_in: float, y_in: float, text: str, size: float, **options: Any) -> None:
        """One line of text, its baseline at y."""
        at = (x_in / self.width_in, 1.0 - y_in / self.height_in)
        options.setdefault("color", look.INK)
        self.figure.text(*at, text, fontsize=size, **options)

    def paragraph(
        self, x_in: float, y_in: float, width_in: float, text: str, size: float, **options: Any
    ) -> float:
        """Wrapped text; y of the line after it."""
        for line in wrapped(text, width_in, size):
            self.write(x_in, y_in, line, size, **options)
            y_in += 1.28 * size * POINT_IN
        return y_in

    def rule(self, x_in: float, y_in: float, width_in: float, *, thick: float = 0.8) -> None:
        """A level line."""
        from matplotlib.lines import Line2D

        line: Any = Line2D
        y = 1.0 - y_in / self.height_in
        x = [x_in / self.width_in, (x_in + width_in) / self.width_in]
        self.figure.add_artist(line(x, [y, y], color=look.INK, linewidth=thick))

    def box(
        self, x_in: float, y_in: float, width_in: float, height_in: float, **look_of: Any
    ) -> None:
        """A rectangle with its top left corner at x, y."""
        from matplotlib.patches import Rectangle

        rectangle: Any = Rectangle
        at = (x_in / self.width_in, 1.0 - (y_in + height_in) / self.height_in)
        size = (width_in / self.width_in, height_in / self.height_in)
        look_of = {"facecolor": "none", "edgecolor": look.INK, "linewidth": 1.0, **look_of}
        self.figure.add_artist(rectangle(at, *size, **look_of))

    def axes(self, x_in: float, y_in: float, width_in: float, height_in: float) -> Any:
        """An Axes with its top left corner at x, y."""
        bottom = 1.0 - (y_in + height_in) / self.height_in
        return self.figure.add_axes(
            (
                x_in / self.width_in,
                bottom,
                width_in / self.width_in,
                height_in / self.height_in,
            )
        )


def new_page(paper: Paper) -> Page:
    """An empty page of this paper."""
    from matplotlib.figure import Figure

    width, height = SIZES_IN[paper]
    return Page(Figure(figsize=(width, height)), width, height)


def wrapped(text: str, width_in: float, size: float) -> list[str]:
    """Lines of text that fit in a width."""
    return wrap(text, max(10, int(width_in / (_WIDE_LETTER * size * POINT_IN))))
