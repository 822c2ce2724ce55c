"""A printed page, laid out in inches from its top left corner."""

from dataclasses import dataclass
from functools import cache
from typing import Any, Literal

from ..figures import style as look

Paper = Literal["a4", "letter"]
SIZES_IN: dict[Paper, tuple[float, float]] = {"a4": (8.27, 11.69), "letter": (8.5, 11.0)}
MARGIN_IN = 0.5
POINT_IN = 1.0 / 72.0
TIED = "\u00a0"
"""Between a number and its unit: no line is broken there."""


@dataclass
class SheetPage:
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
    def across_in(self) -> float:
        """Between the margins."""
        return self.right_in - self.left_in

    @property
    def bottom_in(self) -> float:
        return self.height_in - MARGIN_IN

    def write(self, x_in: float, y_in: float, text: str, size: float, **options: Any) -> None:
        """One line of text, its baseline at y; letters that the font lacks become "?"."""
        text = printable(text).replace(TIED, " ")
        at = (x_in / self.width_in, 1.0 - y_in / self.height_in)
        options.setdefault("color", look.INK)
        self.figure.text(*at, text, fontsize=size, **options)

    def paragraph(
        self, x_in: float, y_in: float, width: float, text: str, size: float, **options: Any
    ) -> float:
        """Text wrapped to a width (inches); y of the line after it."""
        for line in wrapped(text, width, size, weight=options.get("weight", "normal")):
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
        size = (width_in / self.width_in, height_in / self.height_in)
        return self.figure.add_axes((x_in / self.width_in, bottom, *size))


def new_page(paper: Paper) -> SheetPage:
    """An empty page of this paper."""
    from matplotlib.figure import Figure

    width, height = SIZES_IN[paper]
    return SheetPage(Figure(figsize=(width, height)), width, height)


@cache
def _font(weight: str) -> Any:
    from matplotlib.font_manager import FontProperties, findfont
    from matplotlib.ft2font import FT2Font

    font = FT2Font(findfont(FontProperties(family="DejaVu Sans", weight=weight)))
    font.set_size(100.0, 72.0)
    return font


def printable(text: str) -> str:
    """The text with "?" for every letter that the paper's font does not have."""
    font = _font("normal")
    return "".join(c if c == TIED or font.get_char_index(ord(c)) else "?" for c in text)


def width_in(text: str, size: float, *, weight: str = "normal") -> float:
    """How wide a line is on paper."""
    letters = printable(text).replace(TIED, " ")
    return sum(_advance_100_pt(of, weight) for of in letters) / 100.0 * size * POINT_IN


@cache  # kerning, which is left out, only ever brings letters closer
def _advance_100_pt(letter: str, weight: str) -> float:
    return float(_font(weight).load_char(ord(letter)).linearHoriAdvance) / 65536.0


def fitting_size(text: str, width: float, size: float, *, weight: str = "normal") -> float:
    """The size, or a smaller one at which the line fits in a width (inches)."""
    wide = width_in(text, size, weight=weight)
    return size if wide <= width else size * width / wide


def wrapped(text: str, width: float, size: float, *, weight: str = "normal") -> list[str]:
    """Lines of text that fit in a width (inches); what is tied together stays on one."""
    if width_in(text, size, weight=weight) <= width:
        return [text]
    lines: list[str] = []
    for word in text.split(" "):
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and width_in(longer, size, weight=weight) <= width:
            lines[-1] = longer
            continue
        rest = word
        while width_in(rest, size, weight=weight) > width and len(rest) > 1:
            fits = [n for n in range(1, len(rest))
                    if width_in(rest[:n], size, weight=weight) <= width]  # fmt: skip
            cut = fits[-1] if fits else 1
            lines.append(rest[:cut])
            rest = rest[cut:]
        lines.append(rest)
    return lines
