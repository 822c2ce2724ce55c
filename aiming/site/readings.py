"""Readings at the loudspeaker: a small table of what inclinometer, laser, load cells and tape say.

    reading,at,value,plus_minus,tilt
    inclinometer,reference face,-12.5,0.3      degrees, nose up positive; or "nose down 12.5"
    laser,floor,14.20 m,100 mm                 x of the dot, on the floor, at the "ears", or at a z
    load,front,152 N,3 %                       by pick; N, kN, kg or lb
    load,front,194 N,3 %,level                 weighed at that tilt of the axis, in a column `tilt`
    height,acoustic centre,6.02 m,20 mm        z; or at "lowest point", or at a pick by its name
    x,acoustic centre,0.05 m,50 mm             from the datum; or at a pick by its name

plus_minus is half of a 90 % interval; where it is left out, DEFAULT_DOUBT stands.
"""

import re
from dataclasses import dataclass
from pathlib import Path
from typing import Literal, get_args

from ..base.errors import found_text
from ..base.units import Unit, parse_length_m, parse_load_n
from ..files.text_table import Faults, Place, check_columns, number_in, read_table

Kind = Literal["inclinometer", "laser", "load", "height", "x"]
KINDS: tuple[Kind, ...] = get_args(Kind)
DEFAULT_DOUBT: dict[Kind, float] = {
    "inclinometer": 0.3,  # degrees
    "laser": 0.10,  # m along the floor
    "load": 0.03,  # of the reading
    "height": 0.03,  # m
    "x": 0.05,  # m
}
"""Half of a 90 % interval; our own choice, to be replaced by what the instrument's maker states."""
_TILT = re.compile(r"(?:nose\s+(up|down)\s+)?([+-]?[\d.]+)\s*(?:°|deg)?", re.IGNORECASE)
_SHARE = re.compile(r"([\d.]+)\s*%")
LARGEST_M = 1e5


@dataclass(frozen=True)
class Reading:
    """One reading: degrees, metres or newtons; doubt is half of its 90 % interval, in the same.

    tilt_deg: of a load that was weighed at a tilt of its own, to find the centre of gravity; None
        for what was read as it hangs
    """

    kind: Kind
    at: str
    value: float
    doubt: float
    file: str
    place: Place
    tilt_deg: float | None = None


def read_readings(path: str | Path, *, unit: Unit) -> tuple[Reading, ...]:
    """Every reading of the table.  Raises ScenarioError with every fault."""
    needed, optional = ("reading", "at", "value"), ("plus_minus", "tilt")
    table = read_table(
        Path(path),
        file=str(path),
        is_header=lambda headings: "reading" in [one.name for one in headings],
    )
    faults = Faults(table.file)
    check_columns(table, faults, needed=needed, optional=optional, what="table of readings")
    if not table.rows:
        at = (table.header.number if table.header else 1, 1)
        faults.add("a header and no rows; readings", at=at)
    faults.stop()
    found = []
    for row in table.rows:
        name = table.cell(row, "reading").lower()
        kind = next((one for one in KINDS if one == name), None)
        if kind is None:
            text = f"{found_text(name)}; {', '.join(KINDS)}"
            faults.add(text, key="reading", at=table.place(row, "reading"))
            continue
        place = table.place(row, "value")
        value = _told(kind, table.pointed(table.cell(row, "value")), unit, faults, "value", place)
        doubt_text = table.pointed(table.cell(row, "plus_minus"))
        doubt = DEFAULT_DOUBT[kind] * (abs(value) if kind == "load" else 1.0)
        if doubt_text:
            place = table.place(row, "plus_minus")
            if kind == "load" and (share := _SHARE.fullmatch(doubt_text)):
                doubt = abs(value) * (number_in(share[1]) or 0.0) / 100.0
            else:
                doubt = _told(kind, doubt_text, unit, faults, "plus_minus", place)
        if not doubt > 0.0:  # a share of nothing too
            faults.add("0 or less; above 0", key="plus_minus", at=place)
        at_text = " ".join(table.cell(row, "at").split())
        tilt_text, tilt = table.pointed(table.cell(row, "tilt")), None
        if tilt_text:
            place = table.place(row, "tilt")
            tilt = _weighed_deg(tilt_text, faults, place)
            if kind != "load":
                faults.add(f"beside {kind}; a tilt only beside load", key="tilt", at=place)
        place = table.place(row, "reading")
        found.append(Reading(kind, at_text, value, doubt, table.file, place, tilt))
    faults.stop()
    return tuple(found)


def _told(kind: Kind, text: str, unit: Unit, faults: Faults, key: str, at: Place) -> float:
    """The value of a cell; a fault, and 1, where it has none."""
    try:
        return _value(kind, text, unit)
    except ValueError as error:
        faults.add(str(error), key=key, at=at)
        return 1.0


def _weighed_deg(text: str, faults: Faults, at: Place) -> float:
    """ "level", or degrees; a fault, and 0, where it is neither."""
    if text.casefold() == "level":
        return 0.0
    try:
        return _value("inclinometer", text, "m")
    except ValueError as error:
        faults.add(f'{error}; or "level"', key="tilt", at=at)
        return 0.0


def _value(kind: Kind, text: str, unit: Unit) -> float:
    """Degrees, metres or newtons; ValueError says what was found and what is allowed."""
    if kind in ("laser", "height", "x"):
        value = parse_length_m(text, unit)
        if abs(value) > LARGEST_M:
            raise ValueError(f"{found_text(text)}; within 100 km of the datum")
        return value
    if kind == "load":
        return parse_load_n(text)
    match = _TILT.fullmatch(text)
    number = number_in(match[2]) if match else None
    if match is None or number is None or abs(number) > 90.0:
        said = found_text(text) if text else "an empty cell"
        raise ValueError(f"{said}; degrees from -90 to 90, nose up positive")
    if match[1]:
        return abs(number) * (1.0 if match[1].lower() == "up" else -1.0)
    return number
