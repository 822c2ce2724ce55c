"""`aiming what-if`: a sweep over any keys of a scenario, to a table and its trade-offs."""

from typing import TYPE_CHECKING, Annotated

from . import options as opt
from .common import (
    STOPPED,
    Into,
    UsageError,
    as_files,
    finish,
    progress_bar,
    scenario_of,
    show,
    working_on,
)
from .common import tell as say
from .options import option

if TYPE_CHECKING:
    from ..scenario.scenario import Scenario
    from ..sweep.table import Table


def what_if(
    file: opt.File,
    over: Annotated[
        list[str],
        option(
            "--over KEY=LOW:HIGH:STEP",
            "A key to vary, HIGH included; or KEY=a,b,c. Repeatable; the last varies fastest.",
        ),
    ],
    figures: Annotated[
        str | None,
        option(
            "--figures NAMES",
            "Columns, separated by commas, such as spread_db,spread_db_1000,cautions.",
        ),
    ] = None,
    table: Annotated[
        str | None, option("--table T.csv", "Write every candidate there; or T.parquet.")
    ] = None,
    resume: Annotated[bool, option("--resume", "Go on with an unfinished table.")] = False,
    by: Annotated[str | None, option("--by COLUMN", "Rank by this column.")] = None,
    best: Annotated[int, option("--best", "How many of the best to show.", min=1)] = 5,
    changes: opt.Changes = None,
    variant: opt.Variant = None,
    out: opt.Out = None,
    replace: Annotated[
        bool,
        option(
            "--replace", "Write over T.csv, and into the --out folder even if it holds other files."
        ),
    ] = False,
    open_it: opt.Open = False,
    as_json: opt.AsJson = False,
    quiet: opt.Quiet = False,
) -> None:
    """Try every combination of some keys' values.

    A candidate with ranges left is solved, one without is evaluated. Prints the best and the
    trade-offs; --table keeps every candidate, and --resume goes on after an interruption.
    """
    from ..report.text.what_if import what_if_dict, what_if_text
    from ..sweep.axes import parse_over
    from ..sweep.run import is_solved
    from ..sweep.tradeoffs import overview

    if resume and table is None:
        raise UsageError("--resume: goes with --table, the table to go on with")
    into = Into(out, replace, quiet, open_it)
    scenario = scenario_of(file, changes, variant)
    title = scenario.title
    into.check(scenario.file, title)
    found = _swept(scenario, over, figures, table, resume=resume, replace=replace, quiet=quiet)
    try:
        seen = overview(found, by=by, count=best, scenario=scenario)
    except KeyError:
        raise UsageError(f"--by: {by}; must be one of {', '.join(found.columns)}") from None
    solved = is_solved(scenario, parse_over(over, unit=scenario.units))
    if table is not None and not quiet:
        say(f"written to {table}: {len(found):,} candidates")
    if into.folder is not None:
        from ..report.figures.what_if import what_if_figures

        with working_on("drawing", quiet=quiet):
            drawn = what_if_figures(found, seen, title=title)
        text = what_if_text(found, seen, title=title, solved=solved)
        files = as_files("what-if", what_if_dict(found, seen), text, drawn)
        into.put(files, scenario.file, title)
    show(
        lambda: what_if_dict(found, seen),
        lambda terminal: what_if_text(found, seen, title=title, solved=solved, terminal=terminal),
        as_json=as_json,
    )
    if seen.by is not None and not seen.best:
        finish(STOPPED)


def _swept(
    scenario: "Scenario",
    over: list[str],
    figures: str | None,
    table: str | None,
    *,
    resume: bool,
    replace: bool,
    quiet: bool,
) -> "Table":
    """The sweep, with a bar; where it is interrupted, what is kept is said."""
    from ..sweep.axes import parse_over
    from ..sweep.run import figures_for, what_if

    asked = parse_over(over, unit=scenario.units)
    names = figures_for(scenario, asked)
    if figures is not None:
        names = tuple(name.strip() for name in figures.split(",") if name.strip())
    last = [0, 0]
    try:
        with progress_bar("candidates", quiet=quiet) as bar:

            def told(done: int, every: int) -> None:
                last[:] = [done, every]
                bar(done, every)

            return what_if(
                scenario, asked, figures=names, table=table,
                resume=resume, replace=replace, progress=told,
            )  # fmt: skip
    except KeyboardInterrupt:
        if table is not None and last[0]:
            say(
                f"stopped: {last[0]:,} of {last[1]:,} candidates are kept in {table}.partial; "
                "--resume goes on with them"
            )
        raise
