"""`aiming solve` and `aiming evaluate`: the main job."""

import sys
from typing import TYPE_CHECKING, Any

from .common import (
    STOPPED,
    AsJson,
    Changes,
    Date,
    File,
    OutSheets,
    Paper,
    Quiet,
    Replace,
    Variant,
    Working,
    finish,
    may_write,
    paper_of,
    print_json,
    print_text,
    put_folder,
    scenario_of,
    tell,
)

if TYPE_CHECKING:
    from ..report.sheets.sheet_page import Paper as PaperName
    from ..results.answer import Answer


def solve(
    file: File,
    changes: Changes = None,
    variant: Variant = None,
    out: OutSheets = None,
    replace: Replace = False,
    paper: Paper = "a4",
    date: Date = "",
    working: Working = False,
    as_json: AsJson = False,
    quiet: Quiet = False,
) -> None:
    """Find the best aim of every loudspeaker, prove it, explain it.

    What the placement leaves as a range is chosen: tilt, height or trim, x, upright or flipped.
    With no ranges left it evaluates the one placement.
    """
    from ..analysis.solve import NoPlacementError
    from ..analysis.solve import solve as solved

    size = paper_of(paper)
    scenario = scenario_of(file, changes, variant)
    may_write(out, scenario=scenario.file, title=scenario.title, replace=replace)
    try:
        answer = solved(scenario)
    except NoPlacementError as none:
        if as_json:
            print_json(none.to_dict(title=scenario.title))
        raise
    _give(
        answer, out=out, replace=replace, paper=size, date=date,
        working=working, as_json=as_json, quiet=quiet,
    )  # fmt: skip


def evaluate(
    file: File,
    changes: Changes = None,
    variant: Variant = None,
    out: OutSheets = None,
    replace: Replace = False,
    paper: Paper = "a4",
    date: Date = "",
    working: Working = False,
    as_json: AsJson = False,
    quiet: Quiet = False,
) -> None:
    """Give the same answer for one given placement.

    A range that is left, or "either", is a fault that names its key.
    """
    from ..analysis.solve import evaluate as evaluated

    size = paper_of(paper)
    scenario = scenario_of(file, changes, variant)
    may_write(out, scenario=scenario.file, title=scenario.title, replace=replace)
    _give(
        evaluated(scenario), out=out, replace=replace, paper=size, date=date,
        working=working, as_json=as_json, quiet=quiet,
    )  # fmt: skip


def _give(
    answer: "Answer",
    *,
    out: str | None,
    replace: bool,
    paper: "PaperName",
    date: str,
    working: bool,
    as_json: bool,
    quiet: bool,
) -> None:
    """Write and print the answer; end with 3 where a caution of severity stop stands."""
    _tell_cautions(answer, as_json=as_json, quiet=quiet)
    if out is not None or not (as_json or quiet):
        from ..analysis.complete import complete

        answer = complete(answer, ("explanation",))
    if out is not None:
        from .documents import documents

        files = documents(answer, paper=paper, date=date)
        scenario = answer.scenario
        put_folder(
            out, files, scenario=scenario.file, title=scenario.title, replace=replace, quiet=quiet
        )
    if as_json:
        print_json(answer.to_dict() | _worked(answer, wanted=working))
    elif quiet:
        from ..report.text.summary import short_text

        print_text(short_text(answer))
    else:
        from ..report.text.summary import summary_text
        from ..report.text.terminal import stdout_terminal

        print_text(summary_text(answer, terminal=stdout_terminal()))
    if working and not as_json:
        from ..analysis.calculation import calculations
        from ..report.text.calculation import calculation_text

        print_text("\n" + calculation_text(calculations(answer)))
    if answer.stopped:
        finish(STOPPED)


def _worked(answer: "Answer", *, wanted: bool) -> dict[str, Any]:
    """The calculation sheet as data, under its own key; nothing where it is not wanted."""
    if not wanted:
        return {}
    from ..analysis.calculation import calculations
    from ..report.text.calculation import calculation_list

    return {"working": calculation_list(calculations(answer))}


def _tell_cautions(answer: "Answer", *, as_json: bool, quiet: bool) -> None:
    """On standard error; on a terminal the summary shows them, and twice would hide them."""
    from ..report.text.cautions import caution_line

    wanted = {"stop"}
    if not quiet:
        if not as_json and sys.stdout.isatty():
            return
        wanted |= {"caution", "note"} if as_json else {"caution"}
    for one in answer.cautions:
        if one.severity in wanted:
            tell(caution_line(one))
