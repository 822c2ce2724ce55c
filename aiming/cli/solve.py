"""`aiming solve` and `aiming evaluate`: the main job."""

import sys
from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING

from . import options as opt
from .common import (
    STOPPED,
    Into,
    finish,
    one_of,
    one_stream,
    print_json,
    print_text,
    scenario_of,
    tell,
    working_on,
)

if TYPE_CHECKING:
    from ..report.sheets.sheet_page import Paper as PaperName
    from ..results.answer import Answer
    from ..scenario.scenario import Scenario


def solve(
    file: opt.File,
    changes: opt.Changes = None,
    variant: opt.Variant = None,
    out: opt.OutSheets = None,
    replace: opt.Replace = False,
    open_it: opt.Open = False,
    paper: opt.Paper = "a4",
    date: opt.Date = "",
    working: opt.Working = False,
    full: opt.Full = False,
    as_json: opt.AsJson = False,
    quiet: opt.Quiet = False,
    prove: opt.Prove = None,
) -> None:
    """Find the best aim of every loudspeaker, prove it, explain it.

    What the placement leaves as a range is chosen: tilt, height or trim, x, upright or flipped.
    With no ranges left it evaluates the one placement.
    """
    from ..analysis.solve import solve as solved

    _give(
        partial(solved, prove_s=prove), "solving", file, changes, variant,
        Into(out, replace, quiet, open_it), paper=paper, date=date,
        working=working, full=full, as_json=as_json,
    )  # fmt: skip


def evaluate(
    file: opt.File,
    changes: opt.Changes = None,
    variant: opt.Variant = None,
    out: opt.OutSheets = None,
    replace: opt.Replace = False,
    open_it: opt.Open = False,
    paper: opt.Paper = "a4",
    date: opt.Date = "",
    working: opt.Working = False,
    full: opt.Full = False,
    as_json: opt.AsJson = False,
    quiet: opt.Quiet = False,
) -> None:
    """Give the same answer for one given placement.

    A range left in the file, or "either", is a fault.
    """
    from ..analysis.solve import evaluate as evaluated

    _give(
        evaluated, "evaluating", file, changes, variant,
        Into(out, replace, quiet, open_it), paper=paper, date=date,
        working=working, full=full, as_json=as_json,
    )  # fmt: skip


def _give(
    answered: "Callable[[Scenario], Answer]",
    doing: str,
    file: str,
    changes: list[str] | None,
    variant: str | None,
    into: Into,
    *,
    paper: str,
    date: str,
    working: bool,
    full: bool,
    as_json: bool,
) -> None:
    """Work out, print and write the answer; end with 3 where a caution of severity stop stands."""
    from ..analysis.solve import NoPlacementError

    size: PaperName = one_of("--paper", paper, "a4", "letter")
    quiet, scenario = into.quiet, scenario_of(file, changes, variant)
    into.check(scenario.file, scenario.title)
    try:
        with working_on(doing, quiet=quiet):
            answer = answered(scenario)
    except NoPlacementError as none:
        if as_json:
            print_json(none.to_dict(title=scenario.title))
        raise
    _tell_cautions(answer, as_json=as_json, quiet=quiet)
    if full and not (as_json or quiet):
        from ..analysis.complete import complete

        with working_on("trying other aims", quiet=quiet):
            answer = complete(answer)
    if working:
        from ..analysis.calculation import calculations
        from ..report.text.calculation import calculation_list, calculation_text

        steps = calculations(answer)
    if as_json:
        print_json(answer.to_dict() | ({"working": calculation_list(steps)} if working else {}))
    else:
        print_text(_answer_text(answer, full=full, quiet=quiet))
        if working:
            print_text("\n" + calculation_text(steps))
    if into.folder is not None:
        from ..faces import documents

        sys.stdout.flush()
        with working_on("drawing and writing", quiet=quiet):
            files = documents(answer, paper=size, date=date)
        into.put(files, scenario.file, scenario.title)
    if answer.stopped:
        finish(STOPPED)


def _answer_text(answer: "Answer", *, full: bool, quiet: bool) -> str:
    """A line each, the first screen, or everything."""
    from ..report.text.summary import first_screen_text, short_text, summary_text
    from ..report.text.terminal import stdout_terminal

    if quiet:
        return short_text(answer)
    text = summary_text if full else first_screen_text
    return text(answer, terminal=stdout_terminal())


def _tell_cautions(answer: "Answer", *, as_json: bool, quiet: bool) -> None:
    """On standard error, where that is another stream: the text on standard output has them too."""
    from ..report.text.cautions import caution_line

    if not (as_json or quiet) and one_stream():
        return
    wanted = {"stop"}
    if not quiet:
        wanted |= {"caution", "note"} if as_json else {"caution"}
    for one in answer.cautions:
        if one.severity in wanted:
            tell(caution_line(one))
