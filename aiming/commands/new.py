"""`aiming new`: a scenario file of one's own, asked for question by question."""

import sys
from typing import Annotated

import typer

from .common import UsageError, print_text, tell

NewFile = Annotated[
    str | None, typer.Argument(metavar="[FILE]", help="File to write; none prints the text.")
]
Plain = Annotated[bool, typer.Option("--plain", help="Write the starter file without asking.")]
From = Annotated[
    str | None,
    typer.Option(
        "--from", metavar="DXF", help="Take seating and surfaces from a drawing's layers."
    ),
]
DrawingUnits = Annotated[
    str | None,
    typer.Option("--drawing-units", metavar="UNIT", help="Unit of the drawing: mm, cm, m, ft, in."),
]
Feet = Annotated[bool, typer.Option("--feet", help="A starter file in feet, where none is asked.")]


def new(
    file: NewFile = None,
    plain: Plain = False,
    feet: Feet = False,
    drawing: From = None,
    drawing_units: DrawingUnits = None,
) -> None:
    """Make a scenario file, question by question, and solve it.

    Without a terminal, or with --plain, it writes a commented starter file.  With --from it lists
    a drawing's layers and takes seating and surfaces from them.  A file that exists is never
    overwritten.
    """
    from ..report.starter import FEET, METRES, starter_text

    if drawing is not None:
        _from(drawing, file, plain=plain, drawing_units=drawing_units)
        return
    if drawing_units is not None:
        raise UsageError("--drawing-units: without --from; both, or none")
    if plain or not sys.stdin.isatty():
        text = starter_text(FEET if feet else METRES)
        if file is None:
            print_text(text)
        else:
            _put(file, text)
        return
    from .questions import asked_start

    if file is not None:
        _must_be_new(file)
    tell("A few questions about the section. Enter takes what stands in brackets.")
    text = starter_text(asked_start())
    tell("")
    # First of all the answers are kept; whatever comes of them can be changed in the file.
    if file is not None:
        _put(file, text)
    _solve(text)
    if file is None:
        tell("\nNothing was kept; to keep it, name a file: aiming new hall.toml")


def _from(drawing: str, file: str | None, *, plain: bool, drawing_units: str | None) -> None:
    """A scenario file from a drawing's layers."""
    from ..report.drawing_starter import drawn_text
    from .from_drawing import drawn_start

    if file is not None:
        _must_be_new(file)
    asking = sys.stdin.isatty() and not plain
    start = drawn_start(drawing, into=file, drawing_units=drawing_units, asking=asking)
    text = drawn_text(start)
    if file is None:
        print_text(text)
    else:
        _put(file, text)


def _solve(text: str) -> None:
    """Print the summary of what the answers come to."""
    from ..answer.explain import explain
    from ..answer.solve import solve
    from ..report.summary import summary_text
    from ..report.terminal import stdout_terminal
    from ..scenario import load

    scenario = load("-", stdin_text=text)
    answer = solve(scenario)
    explanation = explain(scenario, answer)
    print_text(summary_text(scenario, answer, explanation, terminal=stdout_terminal()))


def _must_be_new(file: str) -> None:
    """Before anything is asked: raises OutputError where the file exists."""
    from ..report.files import check_file

    check_file(file)


def _put(file: str, text: str) -> None:
    from ..report.files import write_file

    write_file(file, text.encode())
    tell(f"written to {file}; next: aiming solve {file}")
    tell(f"with the hang sheet: aiming solve {file} --out {_folder(file)}")


def _folder(file: str) -> str:
    """A folder to name beside a file: its name without the ending."""
    from pathlib import Path

    path = Path(file)
    return str(path.with_suffix("")) if path.suffix else "out"
