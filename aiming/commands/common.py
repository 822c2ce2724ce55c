"""What the commands do alike: read a scenario, print, write a folder, end with a code."""

import sys
from collections.abc import Mapping
from contextlib import suppress
from typing import TYPE_CHECKING, Any

import typer

from ..errors import AimingError

if TYPE_CHECKING:
    from ..report.sheet_page import Paper
    from ..scenario.scenario import Scenario
    from ..units import Unit

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
        known = ", ".join(f'"{one.name}"' for one in whole.variants) or "none"
        raise UsageError(f'--variant: "{variant}"; the file\'s variants: {known}')
    chosen = variant_of(whole, variant)
    return rebuilt(chosen, made) if made else chosen


def unit_of(units: str) -> "Unit":
    """ "m" or "ft"; raises UsageError."""
    if units == "m":
        return "m"
    if units == "ft":
        return "ft"
    raise UsageError(f'--units: "{units}"; "m" or "ft"')


def paper_of(paper: str) -> "Paper":
    """ "a4" or "letter"; raises UsageError."""
    if paper == "a4":
        return "a4"
    if paper == "letter":
        return "letter"
    raise UsageError(f'--paper: "{paper}"; "a4" or "letter"')


def length_m(option: str, text: str, units: str) -> float:
    """Metres of a length given on the command line; raises UsageError naming the option."""
    from ..units import parse_length_m

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


def may_write(folder: str | None, *, scenario: str, title: str, replace: bool) -> None:
    """Nobody waits for an answer that has no place to go.  Raises OutputError."""
    if folder is not None:
        from ..report.folder_rules import check_folder

        check_folder(folder, scenario=scenario, title=title, replace=replace)


def put_folder(
    folder: str,
    files: Mapping[str, bytes],
    *,
    scenario: str,
    title: str,
    replace: bool,
    quiet: bool = False,
) -> None:
    """Write an output folder, and say so.  Raises OutputError."""
    from ..report.files import write_folder

    write_folder(folder, files, scenario=scenario, title=title, replace=replace)
    if not quiet:
        tell(f"written to {folder}: {', '.join(sorted(files))}")


def finish(code: int = 0) -> None:
    """End the command with this code."""
    raise typer.Exit(code)
