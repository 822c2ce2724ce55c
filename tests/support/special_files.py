"""One good file of every kind that the tool reads, and the command that reads it."""

from collections.abc import Callable
from dataclasses import dataclass
from io import StringIO
from pathlib import Path

import ezdxf
import numpy as np
from pattern_samples import grid, piston, unit, write_sofa

HEAD = """schema = 1
title = "Tannery yard"
[datum]
name = "kerb"
"""
SEATING = '[[seating]]\nname = "yard"\nline = [[4.0, 0.0], [12.0, 0.6]]\n'
SPEAKER = """[[speaker]]
name = "main"
[speaker.cabinet]
reference_face_deg = 2.0
[speaker.placement]
height = 6.0
tilt = -25.0
[speaker.pattern]
"""
COVERAGE = "coverage = 60\n"
PLAN = HEAD + SEATING + SPEAKER + COVERAGE
FREQUENCIES_HZ = (1000.0, 2000.0, 4000.0, 8000.0)
TRACE = "frequency,magnitude\n1000,92.5\n2000,91\n4000,90\n8000,88\n"
OTHER_TRACE = "frequency,magnitude\n1000,90.5\n2000,89\n4000,87\n8000,85\n"


@dataclass(frozen=True)
class Kind:
    """A kind of file: its usual name, its bytes, the files beside it, the command that reads it.

    text: a table, or TOML, whose line ends and encoding may be changed
    """

    name: str
    content: Callable[[], bytes]
    beside: dict[str, str]
    arguments: tuple[str, ...]
    text: bool = True

    def put(self, folder: Path) -> Path:
        """The good file and those beside it; where the good one is."""
        for name, content in self.beside.items():
            (folder / name).write_text(content, encoding="utf-8")
        path = folder / self.name
        path.write_bytes(self.content())
        return path


def _text(text: str) -> Callable[[], bytes]:
    return text.encode


def _pattern() -> bytes:
    angles = np.arange(-90.0, 91.0, 10.0)
    rows = ["angle_deg,1000,2000,4000,8000"]
    rows += [f"{a:g}" + f",{-6.0 * (a / 30.0) ** 2:.3f}" * 4 for a in angles]
    return "\n".join(rows).encode() + b"\n"


def _sofa() -> bytes:
    import tempfile

    around = grid(30.0, 30.0)
    off = np.arccos(np.clip(unit(around)[:, 0], -1.0, 1.0))
    spectrum = np.stack([piston(f / 2000.0, off) + 1e-3 for f in FREQUENCIES_HZ], axis=-1)
    with tempfile.TemporaryDirectory() as folder:
        path = write_sofa(
            Path(folder) / "box.sofa",
            position=np.column_stack([around, np.ones(len(around))]),
            frequency_hz=np.array(FREQUENCIES_HZ),
            spectrum=spectrum[np.newaxis],
        )
        return path.read_bytes()


def drawn(document: "ezdxf.document.Drawing") -> bytes:
    """A drawing as its file holds it."""
    stream = StringIO()
    document.write(stream)
    return stream.getvalue().encode(document.encoding)


def _drawing() -> bytes:
    document = ezdxf.new("R2010", units=6)
    document.modelspace().add_lwpolyline([(4, 0), (12, 0.6)], dxfattribs={"layer": "tier"})
    return drawn(document)


def _from(line: str) -> str:
    return HEAD + f'[[seating]]\nname = "yard"\n{line}\n' + SPEAKER + COVERAGE


_BESIDE = {"plan.toml": PLAN}
_MEASURED = "position,frequency_hz,level_db\n" + "".join(
    f"row {row},{hz:.0f},{92 - row - hz / 4000}\n" for row in (1, 5, 9) for hz in FREQUENCIES_HZ
)
_IN_PATTERN = HEAD + SEATING + SPEAKER

KINDS = {
    "scenario": Kind("plan.toml", _text(PLAN), {}, ("check", "plan.toml")),
    "pattern": Kind("box.csv", _pattern, {}, ("pattern", "box.csv", "--json")),
    "pattern of a scenario": Kind(
        "box.csv", _pattern, {"p.toml": _IN_PATTERN + 'file = "box.csv"\n'}, ("check", "p.toml")
    ),
    "sofa": Kind("box.sofa", _sofa, {}, ("pattern", "box.sofa", "--json"), text=False),
    "sofa of a scenario": Kind(
        "box.sofa",
        _sofa,
        {"p.toml": _IN_PATTERN + 'file = "box.sofa"\n'},
        ("check", "p.toml"),
        text=False,
    ),
    "drawing": Kind("hall.dxf", _drawing, {}, ("new", "--from", "hall.dxf")),
    "drawing of a scenario": Kind(
        "hall.dxf",
        _drawing,
        {"d.toml": _from('drawing = { file = "hall.dxf", layer = "tier" }')},
        ("check", "d.toml"),
    ),
    "survey": Kind(
        "floor.csv",
        _text("x_m,z_m\n4.0,0.0\n8.0,0.25\n12.0,0.6\n"),
        {"s.toml": _from('survey = "floor.csv"')},
        ("check", "s.toml"),
    ),
    "measured": Kind(
        "heard.csv", _text(_MEASURED), _BESIDE, ("onsite", "plan.toml", "heard.csv", "--json")
    ),
    "trace": Kind(
        "row1.txt",
        _text(TRACE),
        {**_BESIDE, "row9.txt": OTHER_TRACE},
        ("onsite", "plan.toml", "--at", "row 1=row1.txt", "--at", "row 9=row9.txt", "--json"),
    ),
    "places": Kind(
        "places.csv",
        _text("position,x,z\nkerb,5.0,1.2\n"),
        {**_BESIDE, "heard.csv": _MEASURED},
        ("onsite", "plan.toml", "heard.csv", "--places", "places.csv", "--json"),
    ),
    "readings": Kind(
        "read.csv",
        _text("reading,at,value\nheight,acoustic centre,6.02\n"),
        _BESIDE,
        ("onsite", "plan.toml", "--readings", "read.csv", "--json"),
    ),
}
