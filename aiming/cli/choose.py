"""`aiming choose`: which coverage angle, or which of several pattern files, would do best here."""

import os
from pathlib import Path
from typing import Annotated

from . import options as opt
from .common import STOPPED, Into, UsageError, as_files, finish, progress_bar, scenario_of, show
from .options import option

SUFFIXES = (".csv", ".sofa")


def choose(
    file: opt.File,
    patterns: Annotated[
        list[str] | None,
        option("--pattern FILE", "A pattern file to rank, or a folder of them. Repeatable."),
    ] = None,
    speaker: Annotated[
        str | None, option("--speaker NAME", "Which loudspeaker, where there are several.")
    ] = None,
    changes: opt.Changes = None,
    variant: opt.Variant = None,
    out: opt.Out = None,
    replace: opt.Replace = False,
    open_it: opt.Open = False,
    as_json: opt.AsJson = False,
    quiet: opt.Quiet = False,
) -> None:
    """Find the coverage angle that would serve best here.

    Ranks pattern files too.
    Every candidate is solved within the scenario's own ranges and limits.
    """
    from ..report.text.choose import choose_dict, choose_text
    from ..sweep.choose import choose as chosen

    into = Into(out, replace, quiet, open_it)
    scenario = scenario_of(file, changes, variant)
    title, unit = scenario.title, scenario.units
    into.check(scenario.file, title)
    with progress_bar("candidates", quiet=quiet) as bar:
        found = chosen(scenario, speaker=speaker, patterns=_files(patterns), progress=bar)
    show(
        lambda: choose_dict(found),
        lambda terminal: choose_text(found, title=title, unit=unit, terminal=terminal),
        as_json=as_json,
    )
    if into.folder is not None:
        from ..report.figures.choose import choose_figures

        text = choose_text(found, title=title, unit=unit)
        files = as_files("choose", choose_dict(found), text, choose_figures(found, title=title))
        into.put(files, scenario.file, title)
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
