"""What the commands share: progress, reading, printing, writing, ending."""

import os
import sys
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, TypeVar

import typer

from ..base.errors import AimingError

if TYPE_CHECKING:
    from ..base.units import Unit
    from ..report.text.terminal import Terminal
    from ..scenario.scenario import Scenario

Word = TypeVar("Word", bound=str)


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


def one_of(option: str, text: str, one: Word, other: Word) -> Word:
    """What was typed after an option that takes one of two words; raises UsageError."""
    for word in (one, other):
        if text == word:
            return word
    raise UsageError(f'{option}: "{text}"; must be "{one}" or "{other}"')


def one_of_or_none(option: str, text: str | None, one: Word, other: Word) -> Word | None:
    """The same of an option that may be left out."""
    return None if text is None else one_of(option, text, one, other)


def unit_of(units: str) -> "Unit":
    """ "m" or "ft"; raises UsageError."""
    return one_of("--units", units, "m", "ft")


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


def show(
    data: Callable[[], dict[str, Any]], text: "Callable[[Terminal], str]", *, as_json: bool
) -> None:
    """Print the answer: as JSON, or as text for whatever standard output is."""
    if as_json:
        print_json(data())
    else:
        from ..report.text.terminal import stdout_terminal

        print_text(text(stdout_terminal()))


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


def as_files(
    name: str, data: dict[str, Any], text: str, figures: Mapping[str, bytes]
) -> dict[str, bytes]:
    """What a folder holds of a result: NAME.json, NAME.txt, and its pictures."""
    from ..report.json_text import json_text

    return {f"{name}.json": json_text(data).encode(), f"{name}.txt": text.encode(), **figures}


OPENED_FIRST = ("aim.html", "compare.pdf", "what-if.pdf", "choose.pdf")


@dataclass(frozen=True)
class Into:
    """The folder that --out names, if any.

    open_it: whether what was written is to be opened.  Raises UsageError where nothing would be.
    """

    folder: str | None
    replace: bool
    quiet: bool
    open_it: bool = False

    def __post_init__(self) -> None:
        if self.open_it and self.folder is None:
            raise UsageError("--open: goes with --out, the folder to write into")

    def check(self, scenario: str, title: str) -> None:
        """Nobody waits for an answer that has no place to go.  Raises OutputError."""
        if self.folder is not None:
            from ..report.output_folder import check_folder

            check_folder(self.folder, scenario=scenario, title=title, replace=self.replace)

    def put(self, files: Mapping[str, bytes], scenario: str, title: str) -> None:
        """Write the files, say so, and open the first one to look at.  Raises OutputError."""
        from ..report.output_folder import write_folder

        assert self.folder is not None
        write_folder(self.folder, files, scenario=scenario, title=title, replace=self.replace)
        if not self.quiet:
            tell(f"written to {self.folder}: {', '.join(sorted(files))}")
        first = next((name for name in OPENED_FIRST if name in files), None)
        if self.open_it and first is not None:
            typer.launch(os.path.join(self.folder, first))


def finish(code: int = 0) -> None:
    """End the command with this code."""
    raise typer.Exit(code)
