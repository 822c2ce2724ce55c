"""What the commands share: progress, options, reading, printing, writing, ending."""

import os
import sys
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, suppress
from typing import TYPE_CHECKING, Annotated, Any

import typer

from ..base.errors import AimingError

if TYPE_CHECKING:
    from ..base.units import Unit
    from ..report.sheets.sheet_page import Paper as PaperName
    from ..scenario.scenario import Scenario


@contextmanager
def progress_bar(label: str, *, quiet: bool = False) -> Iterator[Callable[[int, int], None]]:
    """Gives what is to be told (done, all); shows the rate and the time left."""
    if quiet or not sys.stderr.isatty():
        yield lambda _done, _all: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn

    bar = Progress(
        TextColumn(label, markup=False),
        BarColumn(),
        TextColumn("{task.percentage:>3.0f} %"),
        TextColumn("{task.fields[rate]}"),
        TimeRemainingColumn(),
        console=Console(stderr=True),
        transient=True,
    )
    with bar:
        task = bar.add_task(label, total=None, rate="")
        before: list[int] = []

        def told(done: int, every: int) -> None:
            before[:] = before or [done]
            elapsed = bar.tasks[0].elapsed or 0.0
            rate = (done - before[0]) / elapsed if elapsed > 0.0 else 0.0
            bar.update(task, completed=done, total=every, rate=f"{rate:,.0f}/s" if rate else "")

        yield told


SHOWN_AFTER_S = 0.5


@contextmanager
def working_on(label: str, *, quiet: bool = False) -> Iterator[None]:
    """Says on a terminal what takes longer than half a second, until it is done."""
    if quiet or not sys.stderr.isatty():
        yield
        return
    from threading import Timer

    def say() -> None:
        with suppress(OSError, ValueError):
            print(f"{label} …", end="\r", file=sys.stderr, flush=True)

    timer = Timer(SHOWN_AFTER_S, say)
    timer.daemon = True
    timer.start()
    try:
        yield
    finally:
        timer.cancel()
        timer.join()
        with suppress(OSError, ValueError):
            print(" " * (len(label) + 2), end="\r", file=sys.stderr, flush=True)


# Arguments and options that several commands share.

File = Annotated[
    str, typer.Argument(metavar="FILE", help='Scenario file; "-" reads standard input.')
]
Changes = Annotated[
    list[str] | None,
    typer.Option(
        "--set",
        metavar="KEY=VALUE",
        help="Change a value of the file, such as speaker.main.placement.height=6. Repeatable.",
    ),
]
Variant = Annotated[
    str | None, typer.Option("--variant", metavar="NAME", help="Take this variant of the file.")
]
Out = Annotated[
    str | None,
    typer.Option("--out", metavar="DIR", help="Write drawings and data into this folder."),
]
OutSheets = Annotated[
    str | None,
    typer.Option(
        "--out", metavar="DIR", help="Write drawings, page, hang sheet and data into this folder."
    ),
]
Open = Annotated[
    bool, typer.Option("--open", help="Open what --out wrote: the page or the drawing.")
]
Replace = Annotated[
    bool,
    typer.Option("--replace", help="Write into the --out folder even if it holds other files."),
]
Paper = Annotated[
    str, typer.Option("--paper", metavar="a4|letter", help="Paper of the sheets in --out.")
]
Date = Annotated[
    str,
    typer.Option(
        "--date", metavar="TEXT", help="Date to print on the sheets; without it a blank to fill in."
    ),
]
Working = Annotated[
    bool,
    typer.Option("--working", help="The statics step by step: formula, numbers, result, source."),
]
Prove = Annotated[
    float | None,
    typer.Option(
        "--prove",
        metavar="SECONDS",
        min=0.0,
        max=86_400.0,
        help="Effort to prove the best of several loudspeakers together, 2 unless given; a second "
        "counts as 3000 steps, so that the answer is the same on any machine.",
    ),
]
Full = Annotated[bool, typer.Option("--full", help="Print everything, not only the first screen.")]
AsJson = Annotated[bool, typer.Option("--json", help="Print JSON and nothing else.")]
Quiet = Annotated[bool, typer.Option("--quiet", help="Print less, and no progress.")]
Units = Annotated[str, typer.Option("--units", metavar="m|ft", help="What a bare length means.")]


# What the commands do alike: read a scenario, print, write a folder, end with a code.

STOPPED = 3


class UsageError(AimingError):
    """What was asked for on the command line cannot be had."""


def scenario_of(file: str, changes: list[str] | None, variant: str | None = None) -> "Scenario":
    """The scenario of a file, in a variant where one is named, after changes.

    Raises ScenarioError, and UsageError where there is no such variant.
    """
    from ..scenario import load, parse_set
    from ..scenario import variant as variant_of
    from ..scenario.read import rebuilt

    made = dict(parse_set(text) for text in changes or ())
    if variant is None:
        return load(file, changes=made)
    whole = load(file)
    if variant not in [one.name for one in whole.variants]:
        known = ", ".join(f'"{one.name}"' for one in whole.variants)
        there = f"must be one of {known}" if known else "the file has no variants"
        raise UsageError(f'--variant: "{variant}"; {there}')
    chosen = variant_of(whole, variant)
    return rebuilt(chosen, made) if made else chosen


def unit_of(units: str) -> "Unit":
    """ "m" or "ft"; raises UsageError."""
    if units == "m":
        return "m"
    if units == "ft":
        return "ft"
    raise UsageError(f'--units: "{units}"; must be "m" or "ft"')


def paper_of(paper: str) -> "PaperName":
    """ "a4" or "letter"; raises UsageError."""
    if paper == "a4":
        return "a4"
    if paper == "letter":
        return "letter"
    raise UsageError(f'--paper: "{paper}"; must be "a4" or "letter"')


def length_m(option: str, text: str, units: str) -> float:
    """Metres of a length given on the command line; raises UsageError naming the option."""
    from ..base.units import parse_length_m

    try:
        return parse_length_m(text, unit_of(units))
    except ValueError as error:
        raise UsageError(f"{option}: {error}") from None


def print_text(text: str) -> None:
    """Text that ends its own lines, to standard output."""
    sys.stdout.write(text)


def print_json(data: dict[str, Any]) -> None:
    """JSON to standard output, in UTF-8 whatever the locale."""
    from ..report.json_text import json_text

    text = json_text(data)
    try:
        sys.stdout.write(text)
    except UnicodeEncodeError:
        sys.stdout.buffer.write(text.encode())


def tell(text: str) -> None:
    """One line to standard error: progress and cautions."""
    with suppress(OSError):  # where nobody listens any more, the answer itself still counts
        print(text, file=sys.stderr)


def one_stream() -> bool:
    """Whether standard output and standard error go to the same place, as under `2>&1`."""
    try:
        out, err = (os.fstat(stream.fileno()) for stream in (sys.stdout, sys.stderr))
    except (OSError, ValueError, AttributeError):
        return False
    return (out.st_dev, out.st_ino) == (err.st_dev, err.st_ino)


def may_write(folder: str | None, *, scenario: str, title: str, replace: bool) -> None:
    """Nobody waits for an answer that has no place to go.  Raises OutputError."""
    if folder is not None:
        from ..report.output_folder import check_folder

        check_folder(folder, scenario=scenario, title=title, replace=replace)


def put_folder(
    folder: str,
    files: Mapping[str, bytes],
    *,
    scenario: str,
    title: str,
    replace: bool,
    quiet: bool = False,
    open_it: bool = False,
) -> None:
    """Write an output folder, say so, and open it where asked.  Raises OutputError."""
    from ..report.output_folder import write_folder

    write_folder(folder, files, scenario=scenario, title=title, replace=replace)
    if not quiet:
        tell(f"written to {folder}: {', '.join(sorted(files))}")
    if open_it:
        open_written(folder, files)


OPENED_FIRST = ("aim.html", "compare.pdf", "what-if.pdf", "choose.pdf")


def needs_out(open_it: bool, out: str | None) -> None:
    """Raises UsageError where something is to be opened that is not written."""
    if open_it and out is None:
        raise UsageError("--open: goes with --out, the folder to write into")


def open_written(folder: str, files: Mapping[str, bytes]) -> None:
    """Open the first of these that was written, with whatever the system opens it."""
    for name in OPENED_FIRST:
        if name in files:
            typer.launch(os.path.join(folder, name))
            return


def finish(code: int = 0) -> None:
    """End the command with this code."""
    raise typer.Exit(code)
