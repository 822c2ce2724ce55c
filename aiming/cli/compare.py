"""`aiming compare`: variants of a file, or several files, side by side."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from . import options as opt
from .common import STOPPED, Into, UsageError, as_files, finish, scenario_of, show, working_on

if TYPE_CHECKING:
    from ..scenario.scenario import Scenario


AS_IT_IS = "as in the file"
MOST_CASES = 6


def compare(
    files: Annotated[list[str], typer.Argument(metavar="FILE...", help="One file, or several.")],
    changes: opt.Changes = None,
    out: opt.Out = None,
    replace: opt.Replace = False,
    open_it: opt.Open = False,
    as_json: opt.AsJson = False,
    quiet: opt.Quiet = False,
) -> None:
    """Solve a file's variants, or several files, and compare.

    One file is compared with each of its variants; several files are compared as they are.
    """
    from ..analysis.compare import case_of
    from ..report.text.compare import compare_text, compared_dict

    into = Into(out, replace, quiet, open_it)
    asked = _asked(files, changes)
    title = asked[0][1].title
    into.check(files[0], title)
    with working_on("solving each", quiet=quiet):
        cases = tuple(case_of(name, scenario) for name, scenario in asked)
    if into.folder is not None:
        from dataclasses import replace as with_fields

        from ..analysis.complete import complete
        from ..report.figures.compare import compare_figures

        with working_on("drawing", quiet=quiet):
            cases = tuple(
                with_fields(one, answer=one.answer and complete(one.answer, ("section",)))
                for one in cases
            )
            text, figures = compare_text(cases), compare_figures(cases)
            written = as_files("compare", compared_dict(cases), text, figures)
        into.put(written, files[0], title)
    show(
        lambda: compared_dict(cases),
        lambda terminal: compare_text(cases, terminal=terminal),
        as_json=as_json,
    )
    if any(case.answer is None or case.answer.stopped for case in cases):
        finish(STOPPED)


def _asked(files: list[str], changes: list[str] | None) -> "list[tuple[str, Scenario]]":
    """Each case's name and scenario."""
    from ..scenario import variant

    if len(files) > 1:
        found = [(Path(file).stem, scenario_of(file, changes)) for file in files]
    else:
        whole = scenario_of(files[0], changes)
        if not whole.variants:
            raise UsageError(
                f"{files[0]}: no variants to compare; add a [[variant]], or name several files"
            )
        found = [(AS_IT_IS, whole)]
        found += [(one.name, variant(whole, one.name)) for one in whole.variants]
    if len(found) > MOST_CASES:
        raise UsageError(f"{len(found)} cases to compare; at most {MOST_CASES} on one page")
    return found
