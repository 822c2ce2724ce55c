"""`aiming choose`: which coverage angle, or which of several pattern files, would do best here."""

import os
from pathlib import Path
from typing import Annotated

import typer

from .common import (
    STOPPED,
    AsJson,
    Changes,
    File,
    Open,
    Out,
    Quiet,
    Replace,
    UsageError,
    Variant,
    finish,
    may_write,
    needs_out,
    print_json,
    print_text,
    progress_bar,
    put_folder,
    scenario_of,
)

Patterns = Annotated[
    list[str] | None,
    typer.Option(
        "--pattern",
        metavar="FILE",
        help="A pattern file to rank, or a folder of them. Repeatable.",
    ),
]
OneSpeaker = Annotated[
    str | None,
    typer.Option("--speaker", metavar="NAME", help="Which loudspeaker, where there are several."),
]
SUFFIXES = (".csv", ".sofa")


def choose(
    file: File,
    patterns: Patterns = None,
    speaker: OneSpeaker = None,
    changes: Changes = None,
    variant: Variant = None,
    out: Out = None,
    replace: Replace = False,
    open_it: Open = False,
    as_json: AsJson = False,
    quiet: Quiet = False,
) -> None:
    """Find the coverage angle that would serve best here.

    Ranks pattern files too.
    Every candidate is solved within the scenario's own ranges and limits.
    """
    from ..sweep.choose import choose as chosen

    needs_out(open_it, out)
    scenario = scenario_of(file, changes, variant)
    may_write(out, scenario=scenario.file, title=scenario.title, replace=replace)
    with progress_bar("candidates", quiet=quiet) as bar:
        found = chosen(scenario, speaker=speaker, patterns=_files(patterns), progress=bar)
    if as_json:
        from ..report.text.choose import choose_dict

        print_json(choose_dict(found))
    else:
        from ..report.text.choose import choose_text
        from ..report.text.terminal import stdout_terminal

        terminal = stdout_terminal()
        print_text(choose_text(found, title=scenario.title, unit=scenario.units, terminal=terminal))
    if out is not None:
        from ..report.figures.choose import choose_figures
        from ..report.json_text import json_text
        from ..report.text.choose import choose_dict, choose_text

        text = choose_text(found, title=scenario.title, unit=scenario.units)
        files = {
            "choose.json": json_text(choose_dict(found)).encode(),
            "choose.txt": text.encode(),
            **choose_figures(found, title=scenario.title),
        }
        put_folder(
            out, files, scenario=scenario.file, title=scenario.title, replace=replace, quiet=quiet,
            open_it=open_it,
        )  # fmt: skip
    if found.best is None and all(one.objective_db is None for one in found.ranked):
        finish(STOPPED)


def _files(patterns: list[str] | None) -> list[Path]:
    """The files named, and those in the folders named, each once."""
    found: list[Path] = []
    for text in patterns or ():
        path = Path(text)
        if os.path.isdir(path):
            inside = sorted(one for one in path.iterdir() if one.suffix.lower() in SUFFIXES)
            if not inside:
                raise UsageError(f"--pattern: {text}: no {' or '.join(SUFFIXES)} file in there")
            found += inside
        elif os.path.isfile(path):
            found.append(path)
        else:
            raise UsageError(f"--pattern: {text}: there is no such file or folder")
    return list(dict.fromkeys(found))
