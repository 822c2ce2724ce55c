"""Text tables from outside: the one reader of surveys, patterns, measured levels and readings.

    # comment lines begin with one of # % * ! // |, anywhere
    angle (deg);  500 Hz;  1k;  2 kHz       the header; lines above it are taken for comments
    deg;          dB;      dB;  dB          a row of units, where there is one
    -10;          -0,4;    ;    -inf        an empty cell or NaN is a hole, -inf a null
    End of data                             a footer

Cells are parted by tabs, semicolons, commas or blanks, the same throughout, and may be quoted.
Numbers have a decimal point, or a decimal comma where no number of the table has a point and the
comma does not part the cells (or the cell is quoted).  The typographic minus is a minus.  Text is
UTF-8, UTF-16 with its byte-order mark, or Latin-1 (Windows-1252).

A reader of a kind of file calls `read_table` with a way to know its header, `check_columns` for
columns that have names, `table.number` for a cell or `read_cells` for a block of them, and gathers
what is wrong in one `Faults`, whose `stop` tells all at once.
"""

import codecs
import csv
import re
from collections import Counter
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, field
from itertools import islice
from math import inf, isfinite, nan
from pathlib import Path
from typing import NoReturn

from ..base.csv_cells import as_meant
from ..base.errors import Fault, ScenarioError, found_text
from ..base.regular_file import open_ordinary
from .toml_text import like_named

Place = tuple[int, int]
"""Line and column, counted from 1."""

LARGEST_BYTES = 16_000_000
MOST_LINES = 200_000
LONGEST_LINE = 100_000
"""Characters.  What is larger than any of these is no table of this kind, and fills the memory."""
MOST_OF_A_KIND = 5
MOST_FAULTS = 50
"""A file of the wrong kind has a fault in every cell; nobody reads more than these."""
MOST_COUNTED = 500
"""After as many the file is given up: each takes a look for its place."""
COMMENT_MARKS = ("#", "%", "*", "!", "//", "|")
_LOOKED_AT = 200
"""Lines that show what parts the cells, and cells that show a header."""
_LONGEST_PREAMBLE = 50
"""Lines above a header."""


class Faults:
    """Gathers the faults of one file; of those alike the first few are told, the rest counted."""

    def __init__(self, file: str) -> None:
        self.file = file
        self._told: dict[str, list[Fault]] = {}
        self._count: Counter[str] = Counter()

    def add(self, message: str, *, key: str = "", at: Place = (1, 1), kind: str = "") -> None:
        """Note a fault at a line and column; kind is what makes two faults alike, default key."""
        kind = kind or key or message
        self._count[kind] += 1
        if self._count[kind] <= MOST_OF_A_KIND:
            self._told.setdefault(kind, []).append(Fault(self.file, *at, key, message))
        if self._count.total() >= MOST_COUNTED:
            self.stop()

    def refuse(self, message: str, *, key: str = "", at: Place = (1, 1)) -> NoReturn:
        """Raise ScenarioError with this fault and all before it."""
        self.add(message, key=key, at=at)
        self.stop()
        raise AssertionError("a fault was just added")

    def stop(self) -> None:
        """Raise ScenarioError with every fault so far, in the order of the file."""
        told = []
        for kind, faults in self._told.items():
            told += faults
            more = self._count[kind] - len(faults)
            if more:
                last = told.pop()
                such = f"{last.message} (and {more:,} more like it)"
                told.append(Fault(last.file, last.line, last.column, last.key, such))
        if not told:
            return
        told.sort(key=lambda one: (one.line, one.column))
        if len(told) > MOST_FAULTS:
            first = told[MOST_FAULTS]
            text = f"{len(told) - MOST_FAULTS:,} more faults from here on; put the first ones right"
            told[MOST_FAULTS:] = [Fault(self.file, first.line, first.column, "", text)]
        raise ScenarioError(told)


@dataclass(frozen=True)
class TextLine:
    """One line of a table: its cells, stripped and without their quotes."""

    number: int
    text: str
    cells: tuple[str, ...]
    separator: str

    def place(self, position: int = 0) -> Place:
        """Where a cell starts; the line's end for one that it has not."""
        if self.separator == " ":
            starts = [one.start() for one in re.finditer(r"\S+", self.text)]
            return self.number, (starts[position] if position < len(starts) else 0) + 1
        at = 0
        for _ in range(position):
            quoted = re.compile(r'\s*"(?:[^"]|"")*"?').match(self.text, at)
            end = self.text.find(self.separator, quoted.end() if quoted else at)
            if end < 0:
                return self.number, len(self.text) + 1
            at = end + 1
        cell = self.text[at:].partition(self.separator)[0]
        blanks = len(cell) - len(cell.lstrip())
        return self.number, at + 1 + (blanks if cell.strip() else 0)


@dataclass(frozen=True)
class Heading:
    """The head of a column: "Frequency (Hz)" and "frequency_hz" are ("frequency", "hz").

    name: lower case, blanks as underscores; unit: "m", "ft", "deg", "hz", "khz", "db", … or None
    """

    text: str
    name: str
    unit: str | None


@dataclass(frozen=True)
class TextTable:
    """A header, or none, and the rows below it.

    comments: what stood before the header, without marks
    headings: one for each cell of the header, with the unit from the row of units where it has none
    decimal_comma: whether numbers of this table are written with one
    """

    file: str
    comments: tuple[str, ...]
    header: TextLine | None
    headings: tuple[Heading, ...]
    rows: tuple[TextLine, ...]
    decimal_comma: bool
    _position: dict[str, int] = field(default_factory=dict)

    def __contains__(self, name: str) -> bool:
        return name in self._position

    def position(self, name: str) -> int:
        """Which column has this name, from 0.  Raises KeyError."""
        return self._position[name]

    def unit(self, name: str) -> str | None:
        """The unit in the head of a column, None without one, or without the column."""
        return self.headings[self._position[name]].unit if name in self else None

    def cell(self, row: TextLine, name: str) -> str:
        """The text under a heading, "" where the table or the line has none."""
        at = self._position.get(name, len(row.cells))
        return row.cells[at] if at < len(row.cells) else ""

    def place(self, row: TextLine | None, name: str) -> Place:
        """Where that cell starts; the head's place where row is None."""
        line = row or self.header
        return line.place(self._position.get(name, 0)) if line else (1, 1)

    def pointed(self, text: str) -> str:
        """A text with a number in it, with a decimal point: "14,20 m" is "14.20 m"."""
        return re.sub(r"(?<=\d),(?=\d)", ".", text) if self.decimal_comma else text

    def number(self, text: str) -> float | None:
        """A finite number, or None."""
        return number_in(self.pointed(text) if "," in text else text)

    def told(self, text: str, wanted: str) -> str:
        """What to say of a cell that holds no number."""
        if not text:
            return f"an empty cell; {wanted}"
        if _DECIMAL_COMMA.fullmatch(text) and not self.decimal_comma:
            return (
                f"{found_text(text)} has a decimal comma where other numbers have points; "
                f"{text.replace(',', '.')}, if it is no thousands separator"
            )
        return f"{found_text(text)}; {wanted}"


def number_in(text: str) -> float | None:
    """A finite number with a decimal point, or None."""
    try:
        value = float(text)
    except ValueError:
        return None
    return value if isfinite(value) and "_" not in text else None


def frequency_hz_in(text: str) -> float | None:
    """Hz of "1000", "1000 Hz", "1 kHz", "1k", "1.25k" or "1k25", or None."""
    found = _FREQUENCY.fullmatch(text.strip().strip("()[]").replace(",", "."))
    if found is None:
        return None
    whole, kilo, rest = found["whole"], found["kilo"], found["rest"]
    if rest:
        return None if "." in whole else float(f"{whole}.{rest}") * 1e3
    # Through the decimal, so that "1.25k" is 1250 and not a neighbour of it.
    return float(f"{whole}e3") if kilo else float(whole)


_FREQUENCY = re.compile(
    r"(?P<whole>\d{1,9}(?:\.\d{1,9})?|\.\d{1,9})\s*(?:(?P<kilo>k)(?P<rest>\d{0,6}))?\s*(?:hz)?",
    re.IGNORECASE | re.ASCII,
)
_DECIMAL_COMMA = re.compile(r"[+-]?\d*,\d+(?:[eE][+-]?\d+)?", re.ASCII)
_DECIMAL_POINT = re.compile(r"[+-]?(?:\d+\.\d*|\.\d+)(?:[eE][+-]?\d+)?", re.ASCII)
_UNIT_NAMES = {
    **{name: name for name in ("m", "cm", "mm", "ft", "in", "hz", "khz", "db", "%")},
    **dict.fromkeys(("deg", "degree", "degrees", "°"), "deg"),
    **dict.fromkeys(("dbspl", "db spl", "db(spl)", "dbfs"), "db"),
    "percent": "%",
}
_UNIT = "|".join(re.escape(name) for name in sorted(_UNIT_NAMES, key=len, reverse=True))
_HEADING = re.compile(
    rf"(?P<name>.+?)(?:[\s_]*[(\[]\s*(?P<bracket>{_UNIT})\s*[)\]]|[\s_]+(?P<suffix>{_UNIT}))?"
)
_UNIT_CELL = re.compile(rf"[(\[]?\s*(?P<unit>{_UNIT}|-)\s*[)\]]?")
_HEAD_WITH_UNIT = re.compile(
    rf"\S+(?:\s+(?:[(\[][^)\]]*[)\]]|(?:{_UNIT})(?=\s|$)))*", re.IGNORECASE
)
_HOLES = ("", "nan", "n/a", "-", "--", "---")
_NULLS = ("-inf", "-infinity", "-∞")


def heading_of(text: str) -> Heading:
    """The name and the unit in the head of a column."""
    found = _HEADING.fullmatch(text.lower())
    if found is None:
        return Heading(text, "", None)
    unit = found["bracket"] or found["suffix"]
    return Heading(text, re.sub(r"[\s_]+", "_", found["name"].strip()), unit and _UNIT_NAMES[unit])


def read_text(path: Path, *, file: str) -> str:
    """The whole of a text file, lines parted by "\\n", typographic minus signs as "-".

    file: the name for messages.  Raises ScenarioError for what cannot be read or is no text.
    """
    faults = Faults(file)
    try:
        with open_ordinary(path) as stream:
            raw = stream.read(LARGEST_BYTES + 1)
    except FileNotFoundError:
        faults.refuse(f"no such file; {like_named(path) or 'must be a table of text'}")
    except OSError as error:
        faults.refuse(f"cannot be read ({error.strerror}); must be a table of text")
    if len(raw) > LARGEST_BYTES:
        faults.refuse(f"larger than {LARGEST_BYTES:,} bytes; must be in less than that")
    text = _decoded(raw, faults)
    if "\0" in text:
        found = "a zero byte"
        if text.count("\0") * 3 > len(text):
            found = "UTF-16 text without its byte-order mark, it seems"
        line = text.count("\n", 0, text.index("\0")) + 1
        faults.refuse(f"{found}; a table saved as UTF-8 text", at=(line, 1))
    return text.replace("\r\n", "\n").replace("\r", "\n").replace("\u2212", "-")


def _decoded(raw: bytes, faults: Faults) -> str:
    coding = "utf-8-sig"
    if raw.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        coding = "utf-16"
    elif not _is_utf8(raw):
        # Bytes that are UTF-8 here and not there are a damaged file, not another coding.
        lenient = raw.decode("utf-8", "surrogateescape")
        coding = "utf-8" if re.search("[\x80-\ud7ff\ue000-\U0010ffff]", lenient) else "cp1252"
    try:
        text = raw.decode(coding)
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        faults.refuse(
            f"bytes that are no {coding.removesuffix('-sig').upper()} text; a table saved as "
            "UTF-8 text",
            at=(line, 1),
        )
    if coding == "cp1252" and (odd := re.search(r"[\x01-\x08\x0e-\x19\x1b-\x1f\x7f]", text)):
        line = text.count("\n", 0, odd.start()) + 1
        faults.refuse("bytes that are no text; a table saved as UTF-8 text", at=(line, 1))
    return text


def _is_utf8(raw: bytes) -> bool:
    try:
        raw.decode("utf-8")
    except UnicodeDecodeError:
        return False
    return True


def read_table(
    path: Path, *, file: str, is_header: Callable[[Sequence[Heading]], bool] | None = None
) -> TextTable:
    """The table of a text file.

    file: its name for messages
    is_header: whether a line is the header; the first such line is, what stands above it is
        comment; where none is, the first line.  None: the line above the first line of numbers is,
        if there is one

    Raises ScenarioError for what cannot be read, is no text, holds nothing or is too large.
    """
    faults = Faults(file)
    comments: list[str] = []
    texts: list[tuple[int, str]] = []
    for number, text in enumerate(read_text(path, file=file).split("\n"), start=1):
        bare = text.strip().lstrip('"')
        if bare.startswith(COMMENT_MARKS):
            comments.append(bare.lstrip("#%*!/| ").rstrip('"'))
        elif bare.strip(",;\t\x0c\x1a "):
            texts.append((number, text))
        if len(text) > LONGEST_LINE:
            long = f"a line of {len(text):,} characters; at most {LONGEST_LINE:,}"
            faults.refuse(long, at=(number, 1))
        if len(texts) > MOST_LINES:
            faults.refuse(f"more than {MOST_LINES:,} lines; at most that", at=(number, 1))
    if not texts:
        faults.refuse("the file is empty; a header and rows")
    separator = _separator([text for _, text in islice(texts, _LOOKED_AT)])
    if separator != ";":
        comments += [text.strip("; ") for _, text in texts if text.lstrip().startswith(";")]
        texts = [one for one in texts if not one[1].lstrip().startswith(";")] or texts
    lines = [TextLine(number, text, _cells(text, separator), separator) for number, text in texts]
    start = _header_at(lines, is_header)
    header = lines[start] if start >= 0 else None
    comments += [line.text.strip() for line in lines[: max(start, 0)]]
    body = lines[start + 1 :]
    headings = _headings(header, body) if header else ()
    if headings and body and (units := _units_of(body[0])):
        body = body[1:]
        headings = tuple(
            Heading(one.text, one.name, one.unit or unit)
            for one, unit in zip(headings, [*units, *[None] * len(headings)], strict=False)
        )
    rows = _without_footer(body)
    return TextTable(
        file=file,
        comments=tuple(comments),
        header=header,
        headings=headings,
        rows=tuple(rows),
        decimal_comma=_has(_DECIMAL_COMMA, ",", rows) and not _has(_DECIMAL_POINT, ".", rows),
        _position={one.name: at for at, one in reversed(list(enumerate(headings)))},
    )


def _separator(texts: list[str]) -> str:
    """What parts the cells: the mark that most lines have equally often.

    A tab before a semicolon, before blanks between numbers, before a comma: what comes later may
    stand inside cells that what comes earlier parts.
    """

    def score(mark: str) -> int:
        counts = Counter(count for text in texts if (count := text.count(mark)))
        return max(counts.values(), default=0)

    numbers = Counter(
        len(cells)
        for text in texts
        if len(cells := text.split()) > 1
        and all(number_in(cell.replace(",", ".")) is not None for cell in cells)
    )
    scores = {
        "\t": score("\t"), ";": score(";"), " ": max(numbers.values(), default=0), ",": score(",")
    }  # fmt: skip
    best = max(scores, key=lambda mark: scores[mark])
    return best if scores[best] else " "


def _cells(text: str, separator: str) -> tuple[str, ...]:
    if separator == " ":
        return tuple(text.split())
    if '"' not in text:
        cells = [cell.strip() for cell in text.split(separator)]
    else:
        reader = csv.reader([text], delimiter=separator, strict=False, skipinitialspace=True)
        cells = [cell.strip() for cell in next(reader)]
    return tuple(map(as_meant, cells))


def _header_at(lines: list[TextLine], is_header: Callable[[Sequence[Heading]], bool] | None) -> int:
    """Which line is the header; −1 where there is none."""
    if is_header is None:
        first = next((k for k, line in enumerate(lines) if _starts_with_number(line)), 0)
        if first > 1 and _units_of(lines[first - 1]):
            first -= 1
        return first - 1
    for at, line in enumerate(lines[:_LONGEST_PREAMBLE]):
        if at and _starts_with_number(line):
            break
        if is_header([heading_of(cell) for cell in line.cells[:_LOOKED_AT]]):
            return at
    return 0


def _headings(header: TextLine, body: list[TextLine]) -> tuple[Heading, ...]:
    """The heads of the columns; between blanks a unit belongs to the name before it."""
    cells = list(header.cells)
    width = next((len(line.cells) for line in body if _starts_with_number(line)), len(cells))
    if header.separator == " ":
        joined = cells if len(cells) == width else _HEAD_WITH_UNIT.findall(header.text)
        cells = [cell.strip(",;") for cell in (joined if len(joined) == width else cells)]
    while cells and not cells[-1]:
        cells.pop()
    return tuple(heading_of(cell) for cell in cells)


def _starts_with_number(line: TextLine) -> bool:
    return number_in(line.cells[0].replace(",", ".")) is not None


def _units_of(line: TextLine) -> list[str | None]:
    """The units of a row of units; empty for any other line."""
    found = [_UNIT_CELL.fullmatch(cell.lower()) if cell else None for cell in line.cells]
    if any(cell and not one for cell, one in zip(line.cells, found, strict=True)):
        return []
    units = [_UNIT_NAMES.get(one["unit"]) if one else None for one in found]
    return units if any(units) else []


def _without_footer(lines: list[TextLine]) -> list[TextLine]:
    """Without last lines of one text alone: below rows of numbers, or below an empty line.

    A row cut short at its first cell must not pass for a footer.
    """
    end = len(lines)
    while end > 1:
        last, before = lines[end - 1], lines[end - 2]
        filled = last.cells if last.separator == " " else [cell for cell in last.cells if cell]
        words = last.separator == " " or len(filled) == 1
        if not words or any(number_in(cell.replace(",", ".")) is not None for cell in filled):
            break
        if not _starts_with_number(before) and last.number == before.number + 1:
            break
        end -= 1
    return lines[:end]


def _has(kind: re.Pattern[str], mark: str, lines: list[TextLine]) -> bool:
    """Whether a word in a cell of these lines is a number of this kind."""
    return any(
        kind.fullmatch(word.rstrip("°%"))
        for line in lines
        if mark in line.text and (line.separator != mark or '"' in line.text)
        for cell in line.cells
        if mark in cell
        for word in cell.split()
    )


def check_columns(
    table: TextTable,
    faults: Faults,
    *,
    needed: Collection[str],
    optional: Collection[str] = (),
    what: str = "table",
) -> None:
    """Note headings that are unknown, come twice or are missing, and cells without a heading."""
    header = table.header
    seen: set[str] = set()
    allowed = ", ".join((*needed, *(f"[{name}]" for name in optional)))
    for at, heading in enumerate(table.headings):
        place = header.place(at) if header else (1, 1)
        if heading.name not in (*needed, *optional):
            if heading.text:
                text = f"is no column of this {what}; {allowed}"
                faults.add(text, key=heading.text, at=place)
        elif heading.name in seen:
            faults.add("the column comes twice; once", key=heading.text, at=place)
        seen.add(heading.name)
    for name in needed:
        if name not in seen:
            at_line = header.number if header else 1
            faults.add(f"no such column; {allowed}", key=name, at=(at_line, 1))
    check_widths(table, faults)


def check_widths(table: TextTable, faults: Faults, *, whole: bool = False) -> None:
    """Note rows with more filled cells than the header, and with whole, with fewer cells."""
    width = len(table.headings)
    for row in table.rows:
        extra = next((at for at in range(width, len(row.cells)) if row.cells[at]), None)
        short = whole and len(row.cells) < width
        if extra is None and not short:
            continue
        text = f"{len(row.cells)} cells; {width} as in the header"
        if row.separator == "," and extra is not None:
            text += " (decimal commas need semicolons or tabs between the cells)"
        faults.add(text, key="row", at=(row.number, 1))


def read_cells(
    table: TextTable,
    faults: Faults,
    row: TextLine,
    *,
    keys: Sequence[str],
    wanted: str,
    largest: float,
    first: int = 0,
) -> list[float]:
    """The numbers of one line from the column first on: NaN for a hole, −inf for a null.

    keys: what messages call the columns of the whole line; wanted: what a cell should hold
    Numbers larger than largest, of either sign, are faults.
    """
    cells = row.cells[first : len(keys)]
    if table.decimal_comma:
        cells = tuple(cell.replace(",", ".") for cell in cells)
    if "_" not in row.text:
        try:
            plain = [float(cell) for cell in cells]
        except ValueError:
            plain = []
        if (
            len(plain) == len(keys) - first
            and isfinite(sum(plain))
            and max(map(abs, plain), default=0.0) <= largest
        ):
            return plain
    found = []
    for at in range(first, len(keys)):
        text = row.cells[at] if at < len(row.cells) else ""
        value = nan
        if text.lower() in _NULLS:
            value = -inf
        elif text.lower() not in _HOLES:
            number = table.number(text)
            if number is None or abs(number) > largest:
                faults.add(table.told(text, wanted), key=keys[at], at=row.place(at))
            else:
                value = number
        found.append(value)
    return found
