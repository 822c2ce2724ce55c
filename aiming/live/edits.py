"""What may be changed from the page, and how: a document in, the changed document out.

The page names what it changes by dotted key.  EDITABLE lists every key that it may name; a key
that names a file is not among them, so no path that comes from the page is ever opened.  What the
page sends in metres is written in the file's own unit, rounded as a person would write it.
"""

import math
import tomllib
from collections.abc import Callable
from typing import Any

from ..base.errors import AimingError, found_text
from ..base.units import FOOT_M
from ..files.toml_places import Path
from ..scenario.address import AddressError, changed, copied, find
from ..scenario.read import bare_lengths
from ..scenario.scenario import Scenario
from ..speaker.cabinet import drop_m

Document = dict[str, Any]
Edit = dict[str, Any]

LONGEST_TEXT = 2000
MOST_VALUES = 2000
"""Numbers and texts in one value."""
_EACH = "*"


def _keys(where: str, *names: str) -> set[tuple[str, ...]]:
    return {(*where.split(), *name.split(".")) for name in names}


EDITABLE: frozenset[tuple[str, ...]] = frozenset(
    {("title",)}
    | _keys("datum", "name")
    | _keys("air", "temperature_c", "humidity_percent", "pressure_kpa")
    | _keys("seating *", "line", "ears", "row_spacing", "rows", "row_names", "weight")
    | _keys("surface *", "line", "absorption")
    | _keys("point *", "at", "kind")
    | _keys("focus", "at", "eyes_above_ears")
    | _keys(
        "speaker *",
        *("serves", "gain_db", "delay_ms", "eq_db", "fills", "handover", "behind_ms"),
        *("ceiling_db", "hung_under", "splay", "joint", "own_joint"),
    )
    | _keys(
        "speaker * pattern", "coverage", "control_from_hz", "control_height", "lobe", "lowest_db"
    )
    | _keys("speaker * output", "sensitivity_db", "max_level_db")
    | _keys(
        "speaker * cabinet",
        *("mass_kg", "mass", "outline", "height", "depth", "centre_of_gravity", "picks"),
        *("laser_at", "reference_face_deg"),
    )
    | {
        ("speaker", _EACH, "rigging", turn, name)
        for turn in ("upright", "flipped")
        for name in (
            *("method", "picks", "extra_mass_kg", "extra_mass", "extra_at", "wll_share"),
            *("dynamic_factor", "holes", "bar", "holes_w", "pull_elevation_deg", "pulling_point"),
            *("steel_height", "secondary_suspension"),
        )
    }
    | _keys("speaker * placement", "mount", "x", "height", "trim", "base", "tilt", "orientation")
    | _keys("outdoors", "gust_speed")
    | _keys("programme", "spectrum", "target_db", "weighting")
    | _keys("together", "aim", "sum", "without")
    | _keys("time", "reference")
    | _keys(
        "aim",
        *("bands", "objective", "axis_on_audience", "gap_db", "left_to_fill", "softest_db"),
        *("lower_if_within_db", "max_front_elevation_deg"),
    )
)
"""Every key that the page may name; * stands for a member of a table array.  Names have an edit of
their own, since others refer to them."""

TABLES = {"seating": "rows", "surface": "surface", "speaker": "loudspeaker"}
"""Table arrays that the page may add to, and what a new member is called."""
_REFERENCES = {"seating": ("serves",), "speaker": ("fills", "hung_under")}


class EditError(AimingError):
    """An edit that cannot be made; the text says why."""


def edited(scenario: Scenario, document: Document, edit: Edit) -> Document:
    """The document after one edit.  Raises EditError.

    scenario: built from this document, for lengths in metres and for lines that files give
    """
    kind = edit.get("edit")
    made = _KINDS.get(kind) if isinstance(kind, str) else None
    if made is None:
        raise EditError("no such edit")
    return made(scenario, document, edit)


def path_of(document: Document, key: object) -> Path:
    """Where an editable key stands.  Raises EditError where it may not be edited."""
    if not isinstance(key, str) or len(key) > LONGEST_TEXT:
        raise EditError("a key is a short text")
    try:
        path = find(document, key).path
    except AddressError as error:
        raise EditError(str(error)) from None
    if tuple(_EACH if isinstance(part, int) else part for part in path) not in EDITABLE:
        raise EditError("this key is not changed from the page")
    return path


def _set(scenario: Scenario, document: Document, edit: Edit) -> Document:
    """A typed value: read as TOML, and as a text where that fails; empty takes the key away."""
    key, typed = edit.get("key"), edit.get("typed")
    path_of(document, key)
    value = _value(typed) if isinstance(typed, str) else edit.get("value")
    return _with(document, str(key), _plain(value))


def _value(typed: str) -> Any:
    if len(typed) > LONGEST_TEXT:
        raise EditError("too long")
    text = typed.strip().replace("\u2212", "-")
    if not text:
        return None
    try:
        parsed = tomllib.loads(f"value = {text}")
    except (ValueError, RecursionError):
        return text
    value = parsed["value"]
    # Dates are TOML too, but no value of this file.
    return (
        value if len(parsed) == 1 and isinstance(value, str | int | float | list | dict) else text
    )


def _plain(value: Any) -> Any:
    """The value, if it is made of few finite numbers, short texts, lists and tables."""
    count = 0

    def checked(one: Any, deep: int) -> bool:
        nonlocal count
        count += 1
        if count > MOST_VALUES or deep > 4:
            return False
        if isinstance(one, list):
            return all(checked(part, deep + 1) for part in one)
        if isinstance(one, dict):
            return all(
                isinstance(name, str) and len(name) < 100 and checked(part, deep + 1)
                for name, part in one.items()
            )
        if isinstance(one, str):
            return len(one) <= LONGEST_TEXT
        if isinstance(one, int) and not isinstance(one, bool):
            return abs(one) < 10**15
        if isinstance(one, float):
            return math.isfinite(one)
        return one is None or isinstance(one, bool)

    if not checked(value, 0) or (isinstance(value, list | dict) and _holds_nothing(value)):
        raise EditError("a value is made of plain numbers and short texts")
    return value


def _holds_nothing(value: list[Any] | dict[str, Any]) -> bool:
    parts = value.values() if isinstance(value, dict) else value
    return any(
        one is None or (isinstance(one, list | dict) and _holds_nothing(one)) for one in parts
    )


def _with(document: Document, key: str, value: Any) -> Document:
    result, _, faults = changed(document, {key: value})
    if faults:
        raise EditError(faults[0][1])
    return result


# ---- places, in metres ---------------------------------------------------


def own_length(scenario: Scenario, length_m: float) -> float:
    """A length as the file would have it: centimetres, or hundredths of a foot."""
    return round(length_m / (FOOT_M if scenario.units == "ft" else 1.0), 2) + 0.0


def _metres(value: object, count: int) -> list[float]:
    if not isinstance(value, list) or len(value) != count:
        raise EditError("a place is [x, z] in metres")
    numbers = [float(one) for one in value if isinstance(one, int | float)]
    if len(numbers) != count or not all(abs(one) < 1e5 for one in numbers):
        raise EditError("a place is [x, z] in metres")
    return numbers


def _own_point(scenario: Scenario, value: object) -> list[float]:
    return [own_length(scenario, one) for one in _metres(value, 2)]


def _line(scenario: Scenario, document: Document, key: object) -> tuple[str, list[Any]]:
    """The table of a line's key, and its points as the file has them or would have them."""
    path = path_of(document, key)
    if path[-1] != "line" or not isinstance(path[1], int):
        raise EditError("no line")
    table = document[str(path[0])][path[1]]
    if isinstance(table.get("line"), list):
        return str(key), copied(table["line"])
    own = _lines_m(scenario, document, str(path[0]))[path[1]]
    return str(key), [[own_length(scenario, of) for of in at] for at in own]


def _lines_m(scenario: Scenario, document: Document, table: str) -> list[list[list[float]]]:
    """The lines of all members of a table array, in metres."""
    lines = (
        [one.floor_m for one in scenario.seatings]
        if table == "seating"
        else [one.line_m for one in scenario.surfaces]
    )
    if len(lines) != len(document.get(table, ())):
        raise EditError("a drawing gives these in several pieces; change them in the drawing")
    return [[[float(of) for of in at] for at in line] for line in lines]


def _index(value: object, count: int) -> int:
    if not isinstance(value, int) or isinstance(value, bool) or not 0 <= value < count:
        raise EditError("no such point")
    return value


def _move_point(scenario: Scenario, document: Document, edit: Edit) -> Document:
    """One point of a line to a place; the others stay as they are written."""
    key, line = _line(scenario, document, edit.get("key"))
    line[_index(edit.get("point"), len(line))] = _own_point(scenario, edit.get("to"))
    return _with(document, key, line)


def _add_point(scenario: Scenario, document: Document, edit: Edit) -> Document:
    """A point after another, at a place."""
    key, line = _line(scenario, document, edit.get("key"))
    place = _index(edit.get("point"), len(line) - 1) + 1
    line.insert(place, _own_point(scenario, edit.get("to")))
    return _with(document, key, line)


def _drop_point(scenario: Scenario, document: Document, edit: Edit) -> Document:
    key, line = _line(scenario, document, edit.get("key"))
    if len(line) < 3:
        raise EditError("a line has two points at least")
    del line[_index(edit.get("point"), len(line))]
    return _with(document, key, line)


def _move_line(scenario: Scenario, document: Document, edit: Edit) -> Document:
    """A whole line so that its first point is at a place."""
    key, line = _line(scenario, document, edit.get("key"))
    table, index = path_of(document, key)[:2]
    assert isinstance(index, int)
    own = _lines_m(scenario, document, str(table))[index]
    if len(own) != len(line):
        raise EditError("this line cannot be moved as a whole")
    x, z = _metres(edit.get("to"), 2)
    by_x, by_z = x - own[0][0], z - own[0][1]
    moved = [[own_length(scenario, at[0] + by_x), own_length(scenario, at[1] + by_z)] for at in own]
    return _with(document, key, moved)


def _move_place(scenario: Scenario, document: Document, edit: Edit) -> Document:
    """A point to watch, or the focus, to a place."""
    path = path_of(document, edit.get("key"))
    if path[-1] != "at":
        raise EditError("no place")
    return _with(document, str(edit.get("key")), _own_point(scenario, edit.get("to")))


def speaker_index(document: Document, name: object) -> int:
    """The loudspeaker of this name.  Raises EditError."""
    for index, one in enumerate(document.get("speaker", ())):
        if one.get("name") == name:
            return index
    raise EditError("no such loudspeaker")


def vertical_key(placement: dict[str, Any]) -> str | None:
    """What says how high: "height" or "trim"; None for what stands on a base."""
    if "base" in placement:
        return None
    return "trim" if "trim" in placement else "height"


def _pin(scenario: Scenario, document: Document, edit: Edit) -> Document:
    """A loudspeaker's acoustic centre to a place; its tilt stays as open as it was."""
    index = speaker_index(document, edit.get("speaker"))
    x, z = _metres(edit.get("to"), 2)
    result: Document = copied(document)
    placement = result["speaker"][index].setdefault("placement", {})
    placement["x"] = own_length(scenario, x)
    vertical = vertical_key(placement)
    if vertical == "trim":
        tilt = edit.get("tilt")
        if not isinstance(tilt, int | float) or not math.isfinite(tilt):
            raise EditError("no tilt")
        cabinet = scenario.speaker(document["speaker"][index]["name"]).cabinet
        flipped = edit.get("flipped") is True
        z -= float(drop_m(cabinet, tilt_deg=float(tilt), flipped=flipped))
    if vertical is not None:
        placement[vertical] = own_length(scenario, z)
    return result


def _turn(_scenario: Scenario, document: Document, edit: Edit) -> Document:
    """A loudspeaker's axis to a tilt, degrees; its place stays as open as it was."""
    index = speaker_index(document, edit.get("speaker"))
    result: Document = copied(document)
    result["speaker"][index].setdefault("placement", {})["tilt"] = _tilt_deg(edit.get("to"))
    return result


def _tilt_deg(value: object) -> float:
    """Within a quarter turn of level, to the hundredth of a degree."""
    (tilt,) = _metres([value], 1)
    return round(max(-90.0, min(90.0, tilt)), 2) + 0.0


def _limit(scenario: Scenario, document: Document, edit: Edit) -> Document:
    """One end of a range: of x, of the height or trim (metres), of the tilt (degrees)."""
    index = speaker_index(document, edit.get("speaker"))
    hang = scenario.speaker(document["speaker"][index]["name"]).hang
    result: Document = copied(document)
    placement = result["speaker"][index].setdefault("placement", {})
    which, end = edit.get("range"), _index(edit.get("end"), 2)
    if which == "tilt":
        tilts = list(hang.tilt_deg)
        tilts[end] = _tilt_deg(edit.get("to"))
        placement["tilt"] = sorted(tilts)
        return result
    (value,) = _metres([edit.get("to")], 1)
    key = "x" if which == "x" else vertical_key(placement)
    if key is None or which not in ("x", "vertical"):
        raise EditError("no such range")
    ends = [own_length(scenario, of) for of in (hang.x_m if which == "x" else hang.vertical_m)]
    ends[end] = own_length(scenario, value)
    placement[key] = sorted(ends)
    return result


# ---- the file's own unit --------------------------------------------------

_WRITTEN = 3
"""Decimals of a length that is written in another unit: within 0.5 mm, in feet within 0.2 mm."""


def _units(scenario: Scenario, document: Document, edit: Edit) -> Document:
    """Every bare length in the other unit; what is written with its unit stays as it is."""
    unit = edit.get("to")
    if unit not in ("m", "ft"):
        raise EditError("metres or feet")
    if unit == scenario.units:
        return document
    if document.get("variant"):
        raise EditError("the file has variants with lengths of their own; change it in the file")
    by = FOOT_M if unit == "m" else 1.0 / FOOT_M
    result: Document = copied(document)
    for path in bare_lengths(document):
        node: Any = result
        for part in path[:-1]:
            node = node[part]
        node[path[-1]] = round(node[path[-1]] * by, _WRITTEN) + 0.0
    result["units"] = unit
    return result


# ---- members of table arrays ---------------------------------------------


def _free_name(document: Document, table: str, wished: str) -> str:
    taken = {one.get("name") for one in document.get(table, ())}
    names = [wished, *(f"{wished} {number}" for number in range(2, len(taken) + 3))]
    return next(name for name in names if name not in taken)


def _add(scenario: Scenario, document: Document, edit: Edit) -> Document:
    """A new block of rows, surface or loudspeaker, where it can be seen and dragged."""
    table = edit.get("table")
    if table not in TABLES:
        raise EditError("nothing that can be added")
    result: Document = copied(document)
    name = _free_name(document, str(table), str(edit.get("name") or TABLES[str(table)])[:100])
    ends = [one.floor_m for one in scenario.seatings]
    right = max(float(one[-1][0]) for one in ends)
    left = min(float(one[0][0]) for one in ends)
    top = max(float(one[:, 1].max()) for one in ends)

    def own(*point_m: float) -> list[float]:
        return [own_length(scenario, of) for of in point_m]

    if table == "seating":
        start = 0.5 * (left + right)
        line = [own(start, top + 3.0), own(right, top + 4.5)]
        result.setdefault("seating", []).append({"name": name, "line": line})
    elif table == "surface":
        line = [own(right + 1.0, top), own(right + 1.0, top + 4.0)]
        result.setdefault("surface", []).append({"name": name, "line": line})
    else:
        result.setdefault("speaker", []).append(_new_speaker(scenario, document, edit, name))
    return result


def _new_speaker(scenario: Scenario, document: Document, edit: Edit, name: str) -> dict[str, Any]:
    """A loudspeaker of 60°; a fill (fills, serves) hangs before the rows that it serves."""
    made: dict[str, Any] = {"name": name}
    serves = edit.get("serves")
    seating = next((one for one in scenario.seatings if one.name == serves), None)
    first = scenario.seatings[0] if seating is None else seating
    x, z = (float(of) for of in first.floor_m[0])
    if seating is not None:
        made["serves"] = [seating.name]
    made["pattern"] = {"coverage": 60}
    fills = edit.get("fills")
    if fills is not None:
        speaker_index(document, fills)
        made |= {"fills": fills, "pattern": {"coverage": 90}}
        place = [own_length(scenario, x - 1.5), own_length(scenario, z + 2.2)]
        made["placement"] = {"x": place[0], "height": place[1]}
        return made
    low, high = own_length(scenario, z + 4.0), own_length(scenario, z + 6.5)
    made["placement"] = {"x": own_length(scenario, x - 4.0), "height": [low, high]}
    return made


def _member(document: Document, edit: Edit) -> tuple[str, int]:
    table, name = edit.get("table"), edit.get("member")
    if table in TABLES:
        for index, one in enumerate(document.get(str(table), ())):
            if one.get("name") == name:
                return str(table), index
    raise EditError("no such member")


def _duplicate(scenario: Scenario, document: Document, edit: Edit) -> Document:
    table, index = _member(document, edit)
    result: Document = copied(document)
    twin = copied(result[table][index])
    twin["name"] = _free_name(document, table, str(twin["name"]))
    placement = twin.get("placement")
    if table == "speaker" and isinstance(placement, dict):
        # A little aside, so that both can be seen.
        low, high = scenario.speaker(document["speaker"][index]["name"]).hang.x_m
        placement["x"] = (
            own_length(scenario, low + 1.0)
            if low == high
            else [own_length(scenario, low + 1.0), own_length(scenario, high + 1.0)]
        )
    if table != "speaker" and isinstance(twin.get("line"), list):
        own = _lines_m(scenario, document, table)[index]
        twin["line"] = [[own_length(scenario, x), own_length(scenario, z + 1.0)] for x, z in own]
    result[table].insert(index + 1, twin)
    return result


def _delete(_scenario: Scenario, document: Document, edit: Edit) -> Document:
    table, index = _member(document, edit)
    result: Document = copied(document)
    gone = result[table].pop(index)["name"]
    if not result[table]:
        if table != "surface":
            raise EditError("the last one stays: there has to be one")
        del result[table]
    _rename_references(result, table, gone, None)
    return result


def _rename(_scenario: Scenario, document: Document, edit: Edit) -> Document:
    """A new name, also where others name it."""
    table, index = _member(document, edit)
    name = edit.get("name")
    if not isinstance(name, str) or not name.strip() or len(name) > 200:
        raise EditError("a name is a text that is not empty")
    if any(one.get("name") == name for one in document[table]):
        raise EditError(f"{found_text(name)} is taken")
    result: Document = copied(document)
    old = result[table][index]["name"]
    result[table][index]["name"] = name
    _rename_references(result, table, old, name)
    return result


def _rename_references(document: Document, table: str, old: str, new: str | None) -> None:
    """serves, fills and hung_under follow; new None takes them away."""
    for speaker in document.get("speaker", ()):
        for key in _REFERENCES.get(table, ()):
            value = speaker.get(key)
            if isinstance(value, list) and old in value:
                speaker[key] = [new if one == old else one for one in value if one != old or new]
                if not speaker[key]:
                    del speaker[key]
            elif value == old and new is None:
                del speaker[key]
            elif value == old:
                speaker[key] = new


_KINDS: dict[str, Callable[[Scenario, Document, Edit], Document]] = {
    "set": _set,
    "move point": _move_point,
    "add point": _add_point,
    "drop point": _drop_point,
    "move line": _move_line,
    "move place": _move_place,
    "pin": _pin,
    "turn": _turn,
    "units": _units,
    "limit": _limit,
    "add": _add,
    "duplicate": _duplicate,
    "delete": _delete,
    "rename": _rename,
}
