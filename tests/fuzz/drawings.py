"""DXF drawings: broken as pairs of code and value, as entities and blocks, as text and bytes."""

import io
import re
import tomllib
from collections.abc import Callable
from functools import lru_cache
from pathlib import Path
from random import Random

import ezdxf

from .case import Case, Kind, Options
from .scenarios import SHIPPED
from .texts import WORDS, broken_bytes, broken_text, encoded, number_text

Pairs = list[tuple[str, str]]
_UNITS = (None, None, None, None, "mm", "mm", "mm", "m", "ft", "no unit")
_NAMES = ("SECTION", "ENDSEC", "EOF", "LINE", "LWPOLYLINE", "POLYLINE", "VERTEX", "SEQEND", "ARC",
          "CIRCLE", "ELLIPSE", "SPLINE", "INSERT", "BLOCK", "ENDBLK", "TABLE", "LAYER", "HATCH",
          "TEXT", "3DFACE", "DICTIONARY", "ATTRIB", "DIMENSION", "MTEXT", "LEADER")  # fmt: skip


def drawn(version: str = "R2000", units: int = 4) -> str:
    """A small drawing with one of everything that is read."""
    ezdxf.options.write_fixed_meta_data_for_testing = True  # no dates, no names by chance
    document = ezdxf.new(version, units=units)
    space = document.modelspace()
    add_floor = space.add_polyline2d if version == "R12" else space.add_lwpolyline
    add_floor([(0, 0, 0), (5000, 0, 0), (9000, 700, 0.3), (12000, 900, 0)],
              format="xyb", dxfattribs={"layer": "floor"})  # fmt: skip
    space.add_line((12000, 0), (12000, 6000), dxfattribs={"layer": "wall"})
    space.add_arc((6000, 4000), 3000, 20, 160, dxfattribs={"layer": "ceiling"})
    space.add_circle((3000, 3000), 200, dxfattribs={"layer": "ceiling"})
    if version != "R12":
        space.add_ellipse((3000, 3000), (500, 0), 0.4, 0, 3, dxfattribs={"layer": "curves"})
        bent = space.add_spline(dxfattribs={"layer": "curves"})
        bent.set_open_uniform([(0, 0, 0), (900, 300, 0), (2000, 0, 0), (3000, 800, 0)])
    space.add_polyline2d([(0, 0), (100, 50)], dxfattribs={"layer": "old"})
    space.add_polyline3d([(0, 0, 1), (100, 50, 2)], dxfattribs={"layer": "old"})
    seat, pair = document.blocks.new("seat"), document.blocks.new("pair")
    seat.add_line((0, 0), (0, 450))
    for x in (0, 500):
        pair.add_blockref("seat", (x, 0), dxfattribs={"rotation": 5})
    space.add_blockref("pair", (1000, 0), dxfattribs={"layer": "seats", "xscale": -1})
    space.add_text("rows", dxfattribs={"layer": "words"})
    stream = io.StringIO()
    document.write(stream)
    return stream.getvalue()


_SHORT = """
0 SECTION, 2 HEADER, 9 $ACADVER, 1 AC1009, 9 $INSUNITS, 70 4
0 ENDSEC
0 SECTION, 2 BLOCKS
0 BLOCK, 8 0, 2 step, 70 0, 10 0, 20 0
0 LINE, 8 0, 10 0, 20 0, 11 900, 21 200
0 ENDBLK
0 ENDSEC
0 SECTION, 2 ENTITIES
0 LINE, 8 floor, 10 0, 20 0, 11 5000, 21 100
0 INSERT, 8 steps, 2 step, 10 100, 20 0, 70 2, 71 2, 44 900, 45 200
0 POLYLINE, 8 old, 66 1, 70 0
0 VERTEX, 8 old, 10 0, 20 0, 42 0.5
0 VERTEX, 8 old, 10 3000, 20 10
0 SEQEND
0 ENDSEC
0 EOF
"""
"""The same by hand, of another age: pairs of code and value, an entity on each line."""


@lru_cache
def _good() -> tuple[Pairs, ...]:
    hall = (SHIPPED / "drawings" / "riverside_hall.dxf").read_text(encoding="utf-8")
    by_hand = "".join(
        f"{pair.replace(' ', chr(10), 1)}\n" for pair in re.split(r", |\n", _SHORT.strip())
    )
    texts = (by_hand, by_hand, by_hand, drawn("R12"), drawn(), drawn(), drawn(units=0), hall)
    found = []
    for text in texts:
        lines = text.splitlines()
        found.append([(a.strip(), b) for a, b in zip(lines[::2], lines[1::2], strict=True)])
    return tuple(found)


def _text(pairs: Pairs) -> str:
    return "".join(f"{code}\n{value}\n" for code, value in pairs)


def _entities_from(pairs: Pairs) -> int:
    """Where the entities begin: most of the file before them is of no interest."""
    return next((k for k, pair in enumerate(pairs) if pair == ("2", "ENTITIES")), 0)


def _place(pairs: Pairs, chance: Random) -> int:
    low = _entities_from(pairs) if chance.random() < 0.75 else 0
    return chance.randrange(min(low, len(pairs) - 1), len(pairs))


def _value(pairs: Pairs, chance: Random) -> None:
    at = _place(pairs, chance)
    code, value = pairs[at]
    try:
        before: float | None = float(value)
    except ValueError:
        before = None
    others = (*WORDS, *_NAMES, "seat", "pair", "step", "0")
    new = number_text(chance, before)
    if before is None or chance.random() < 0.15:
        new = chance.choice(others).replace("\n", " ")
    pairs[at] = (code, new)


def _code(pairs: Pairs, chance: Random) -> None:
    at = _place(pairs, chance)
    code = chance.choice(("0", "2", "5", "8", "10", "20", "30", "11", "40", "41", "42", "43", "50",
                          "66", "70", "71", "72", "90", "100", "102", "210", "220", "230", "330",
                          "999", "1000", "1070", "-1", "x", "310", pairs[at][0]))  # fmt: skip
    pairs[at] = (code, pairs[at][1])


def _pairs(pairs: Pairs, chance: Random) -> None:
    a, b, what = _place(pairs, chance), _place(pairs, chance), chance.randrange(4)
    if what == 0:
        del pairs[a]
    elif what == 1:
        pairs.insert(b, pairs[a])
    elif what == 2:
        pairs[a], pairs[b] = pairs[b], pairs[a]
    else:
        pairs[a:a] = [pairs[a]] * chance.choice((2, 50, 2000))


def _entity(pairs: Pairs, chance: Random) -> None:
    """One entity, whole: left out, again, many times, or elsewhere."""
    starts = [k for k, pair in enumerate(pairs) if pair[0] == "0"]
    if len(starts) < 2:
        return
    k = chance.randrange(len(starts) - 1)
    part = pairs[starts[k] : starts[k + 1]]
    what = chance.randrange(4)
    if what in (0, 3):
        del pairs[starts[k] : starts[k + 1]]
    if what == 1:
        pairs[starts[k] : starts[k]] = part
    elif what == 2:
        pairs[starts[k] : starts[k]] = part * chance.choice((3, 30, 300))
    elif what == 3:
        starts = [at for at, pair in enumerate(pairs) if pair[0] == "0"]
        at = chance.choice(starts)
        pairs[at:at] = part


def _blocks(pairs: Pairs, chance: Random) -> None:
    """Blocks within blocks: in themselves, deep, or so many that they fill any memory."""
    at = next((k for k, pair in enumerate(pairs) if pair == ("2", "BLOCKS")), None)
    if at is None:
        return
    deep, wide = chance.choice(((1, 1), (2, 4), (3, 3), (40, 1), (300, 1)))
    if chance.random() < 0.01:  # slow, since a hundred thousand are taken apart
        deep, wide = chance.choice(((8, 10), (5, 100), (20, 2)))
    inside = [("0", "LINE"), ("8", "0"), ("10", "0"), ("20", "0"), ("11", "1"), ("21", "1")]
    made: Pairs = []
    for level in range(deep):
        made += [
            ("0", "BLOCK"),
            ("8", "0"),
            ("2", f"n{level}"),
            ("70", "0"),
            ("10", "0"),
            ("20", "0"),
        ]
        insert = [("0", "INSERT"), ("8", "0"), ("2", f"n{level - 1}"), ("10", "0"), ("20", "0")]
        if level == 0 and wide == 1 and chance.random() < 0.5:
            insert[2] = ("2", f"n{deep - 1}")
            made += insert
        made += inside if level == 0 else insert * wide
        made += [("0", "ENDBLK"), ("8", "0")]
    pairs[at + 1 : at + 1] = made
    entities = _entities_from(pairs)
    last = [("0", "INSERT"), ("8", "deep"), ("2", f"n{deep - 1}"), ("10", "0"), ("20", "0")]
    if chance.random() < 0.3:
        last += [
            ("70", chance.choice(("2", "300", "32767"))),
            ("71", chance.choice(("2", "32767"))),
        ]
    pairs[entities + 1 : entities + 1] = last


_CHANGES: tuple[Callable[[Pairs, Random], None], ...] = (
    _value, _value, _value, _value, _code, _pairs, _pairs, _entity, _entity, _blocks,
)  # fmt: skip


def make(chance: Random) -> Case:
    """Most broken as pairs, the others as text or bytes."""
    pairs = list(chance.choice(_good()))
    options = {"unit": chance.choice(_UNITS), "mirrored": chance.random() < 0.2}
    way = chance.random()
    if way < 0.75:
        for _ in range(chance.choice((1, 1, 1, 1, 1, 2, 2, 3, 4))):
            chance.choice(_CHANGES)(pairs, chance)
        return Case(encoded(_text(pairs), chance), options)
    text = _text(pairs)
    if way < 0.9:
        return Case(encoded(broken_text(text, chance), chance), options)
    return Case(broken_bytes(text.encode(), chance), options)


def read(path: Path, options: Options) -> None:
    """As `aiming new --from` does, and then as the scenario does that it writes."""
    import aiming
    from aiming.cli.drawn import drawn_start
    from aiming.report.starter import drawn_text

    unit = options.get("unit")
    start = drawn_start(str(path), into=None, drawing_units=unit, asking=False)
    text = drawn_text(start)
    tomllib.loads(text)
    text.encode()
    if options.get("mirrored"):
        text = f"drawing_mirrored = true\n{text}"
    aiming.load("-", stdin_text=text)


KIND = Kind("drawing", ".dxf", make, read)
