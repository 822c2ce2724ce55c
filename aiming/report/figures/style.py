"""How every figure looks, and how it becomes bytes: the same input gives the same file.

The level scale is perceptually even and safe for colour-blind eyes, and its lightness runs one
way, so a black and white print keeps the order; the marker's shape says the same again.
"""

import io
import warnings
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from html import escape
from typing import Any, Literal

from ...base.units import FOOT_M, Unit

Format = Literal["png", "svg", "pdf"]
FORMATS: tuple[Format, ...] = ("png", "svg", "pdf")

INK = "#1a1a1a"
QUIET = "#6b6b6b"
FAINT = "#c9c9c9"
TONES = tuple(
    f"#{int(255 - 150 * share):02x}{int(255 - 118 * share):02x}{int(255 - 62 * share):02x}"
    for share in (0.0, 0.03, 0.06, 0.1, 0.15, 0.2, 0.26, 0.33, 0.41, 0.5, 0.6)
)
"""One quiet blue from the softest to the loudest tone of a level map; grey keeps the order."""
UNIFORM = "#c2410c"
STOP = "#b00020"
WITHIN_FILL = "#e9eef2"
LEVEL_MAP = "viridis"
LEVEL_SPAN_DB = 6.0
"""Row colours run from this much below the mean to this much above it."""
BY_LEVEL = {"cmap": LEVEL_MAP, "vmin": -LEVEL_SPAN_DB, "vmax": LEVEL_SPAN_DB}

SPEAKER_INKS = ("#1a1a1a", "#0060a8", "#8a3b8f", "#00785a")
"""Dark enough on white, and told apart by their dashes too."""
AXIS_DASHES: tuple[Any, ...] = (
    (0, (9, 2, 2, 2)),
    (0, (9, 2, 2, 2, 2, 2)),
    (0, (14, 3)),
    (0, (5, 2)),
)
EDGE_DASHES: tuple[Any, ...] = ((0, (3, 3)), (0, (1, 2)), (0, (6, 4)), (0, (2, 5)))
BAND_DASHES: tuple[Any, ...] = ("-", (0, (5, 1.5)), (0, (1.5, 1.5)), (0, (5, 1.5, 1.5, 1.5)))
FURTHER_DASH: Any = (0, (3, 3))
"""Bands of interest beside the design bands: thin and quiet."""
BAND_INKS = ("#0060a8", "#b35c00", "#8a3b8f", "#00785a", "#6b6b6b", "#9a6b00")

LOUDER, WITHIN, SOFTER = "^", "o", "v"

_SETTINGS: dict[str, Any] = {
    "svg.hashsalt": "aiming",
    "svg.fonttype": "none",
    "pdf.fonttype": 3,  # outlines: no font to cut down, which was a third of the whole writing
    "font.family": ["DejaVu Sans"],
    "font.size": 8.5,
    "axes.edgecolor": QUIET,
    "axes.linewidth": 0.7,
    "axes.labelcolor": INK,
    "xtick.color": INK,
    "ytick.color": INK,
    "text.color": INK,
    "text.parse_math": False,
    # Hinted small type runs wider in pixels than it was measured on paper.
    "text.hinting": "none",
    "axes.unicode_minus": True,
    "axes.titlelocation": "left",
    "axes.titlesize": 8.5,
    "axes.titlepad": 4.0,
    "legend.frameon": False,
    "legend.borderaxespad": 0.0,
    "lines.solid_capstyle": "round",
    "hatch.linewidth": 0.5,
}
_NO_DATES: dict[Format, dict[str, None]] = {
    "png": {"Software": None},
    "svg": {"Date": None},
    "pdf": {"CreationDate": None},
}


@contextmanager
def style() -> Iterator[None]:
    """Draw and write figures in here: our settings only, whatever the person's own are."""
    import matplotlib

    with matplotlib.rc_context(), warnings.catch_warnings():
        matplotlib.rcdefaults()
        matplotlib.rcParams.update(_SETTINGS)
        # A title in a script that the font lacks still makes a figure.
        warnings.filterwarnings("ignore", message="Glyph .* missing from", category=UserWarning)
        yield


def figure_bytes(figure: Any, form: Format, *, title: str = "") -> bytes:
    """The figure as a file's bytes, without dates; title: what an SVG is called."""
    stream = io.BytesIO()
    figure.savefig(stream, format=form, dpi=160, metadata=_NO_DATES[form])
    if form != "svg":
        return stream.getvalue()
    text = stream.getvalue().decode()
    # Where the font is missing another one of its kind serves.
    text = text.replace("'DejaVu Sans'", "'DejaVu Sans', Verdana, sans-serif")
    root = text.index(">", text.index("<svg")) + 1
    return f"{text[:root]}\n <title>{escape(title or 'aiming')}</title>{text[root:]}".encode()


def files(
    name: str, draw: Callable[[], Any], formats: tuple[Format, ...] = FORMATS, *, title: str = ""
) -> dict[str, bytes]:
    """A figure drawn in our style, as "NAME.png" and so on and their bytes; title: as above."""
    with style():
        figure = draw()
        return {f"{name}.{form}": figure_bytes(figure, form, title=title) for form in formats}


def book(figures: Iterable[Any]) -> bytes:
    """One PDF, a page for each figure; to be called inside style()."""
    from matplotlib.backends.backend_pdf import PdfPages

    stream = io.BytesIO()
    with PdfPages(stream, metadata={"CreationDate": None}) as pages:
        for figure in figures:
            pages.savefig(figure)
    return stream.getvalue()


def per_m(unit: Unit) -> float:
    """Drawn units in a metre: a drawing is in the scenario's unit."""
    return 1.0 if unit == "m" else 1.0 / FOOT_M


class Sheet:
    """A figure of fixed size, written and drawn on by inches from its bottom left corner.

    shown: what becomes of every text before it is written
    """

    def __init__(
        self, width_in: float, height_in: float, *, shown: Callable[[str], str] = str
    ) -> None:
        from matplotlib.figure import Figure

        self.figure: Any = Figure(figsize=(width_in, height_in))
        self.width_in, self.height_in, self.shown = width_in, height_in, shown

    def axes(self, left: float, bottom: float, width: float, height: float) -> Any:
        """Axes of this size."""
        wide, tall = self.width_in, self.height_in
        return self.figure.add_axes((left / wide, bottom / tall, width / wide, height / tall))

    def write(self, x: float, y: float, text: str, **options: Any) -> Any:
        """One line of text, as matplotlib has it."""
        return self.figure.text(x / self.width_in, y / self.height_in, self.shown(text), **options)

    def lines(
        self, x: float, y: float, texts: Iterable[str], *, step: float, **options: Any
    ) -> float:
        """Lines one under another; y of the one after them."""
        for text in texts:
            self.write(x, y, text, **options)
            y -= step
        return y

    def box(self, x: float, y: float, width: float, height: float) -> None:
        """An empty box to write in."""
        from matplotlib.patches import Rectangle

        rectangle: Any = Rectangle
        at = (x / self.width_in, y / self.height_in)
        size = (width / self.width_in, height / self.height_in)
        self.figure.add_artist(
            rectangle(at, *size, facecolor="none", edgecolor=QUIET, linewidth=0.6)
        )


def grid(ax: Any, colour: str = "#e4e4e4", *, axis: str = "both") -> None:
    """Thin lines behind everything that is drawn."""
    ax.grid(axis=axis, color=colour, linewidth=0.6)
    ax.set_axisbelow(True)


def nth(of: tuple[Any, ...], index: int) -> Any:
    """The member for the index-th thing, beginning again when there are more things."""
    return of[index % len(of)]
