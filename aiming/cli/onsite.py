"""`aiming onsite`: what was measured and read on site, held against the plan."""

from typing import TYPE_CHECKING, Annotated

import typer

from . import options as opt
from .afterwards import (
    add_to_record,
    found_on_site,
    give_found,
    give_handover,
    kept_record,
    write_scenarios,
)
from .beforehand import Job, give_checks, give_ground, trial_of, with_typed
from .common import STOPPED, Into, UsageError, finish, length_m, one_of_or_none, scenario_of
from .options import option

if TYPE_CHECKING:
    from ..scenario.scenario import Scenario
    from ..site.traces import Files


def onsite(
    file: opt.File,
    measured: Annotated[
        str | None,
        typer.Argument(
            metavar="[MEASURED]",
            help="CSV with position, frequency_hz, level_db[, coherence]. Without it, and without "
            "--at and --readings, the check positions are listed.",
        ),
    ] = None,
    at: Annotated[
        list[str] | None,
        option(
            "--at NAME=FILE",
            "A text file of one position: frequency, magnitude[, phase][, coherence]. Repeatable.",
        ),
    ] = None,
    places: Annotated[
        str | None,
        option("--places FILE", "CSV with position, x, z for positions that are not rows."),
    ] = None,
    readings: Annotated[
        str | None,
        option(
            "--readings FILE",
            "CSV with reading, at, value[, plus_minus][, tilt]: inclinometer, laser, load, "
            "height, x.",
        ),
    ] = None,
    speaker: Annotated[
        str | None, option("--speaker NAME", "The loudspeaker measured, with the others off.")
    ] = None,
    mic_height: Annotated[
        str, option("--mic-height ears|floor|LENGTH", "Height of all microphones over the floor.")
    ] = "ears",
    magnitude: Annotated[
        str | None, option("--magnitude db|linear", "Whether magnitudes are in dB or linear.")
    ] = None,
    move_if_gains: Annotated[
        float, option("--move-if-gains DB", "Advise a move only if it gains this much spread.")
    ] = 0.5,
    before: Annotated[
        str | None, option("--before FILE", "Levels measured earlier, to compare with.")
    ] = None,
    smooth: Annotated[
        float | None, option("--smooth N", "Smooth the drawn traces over 1/N octave; 3 for thirds.")
    ] = None,
    handover: Annotated[
        bool,
        option(
            "--handover",
            "Hold a fill against its main at their handover row: --at NAME=FILE for each, alone.",
        ),
    ] = False,
    ground: Annotated[
        bool,
        option("--ground", "Lay out a trial on the ground before the show; with levels, judge it."),
    ] = False,
    distance: Annotated[
        str | None, option("--distance LENGTH", "Distance d in the trial on the ground.")
    ] = None,
    template: Annotated[
        str | None,
        option(
            "--template FILE",
            "Write an empty table of the check positions to fill in, to a new file.",
        ),
    ] = None,
    type_in: Annotated[
        str | None,
        option(
            "--type FILE", "Type the levels in, position by position; they are kept in a new file."
        ),
    ] = None,
    record: Annotated[
        str | None,
        option(
            "--record FILE",
            "Add what was found and decided to this file; compare with its last entry.",
        ),
    ] = None,
    by: Annotated[str, option("--by NAME", "Who measured, for --record.")] = "",
    date: opt.Date = "",
    write: Annotated[
        str | None,
        option(
            "--write FILE",
            "If a move is advised, write the scenario with the placement moved (with --ground: "
            "the coarse pattern) to a new file.",
        ),
    ] = None,
    write_hung: Annotated[
        str | None,
        option("--write-hung FILE", "Write the scenario as it really hangs to a new file."),
    ] = None,
    write_weighed: Annotated[
        str | None,
        option(
            "--write-weighed FILE",
            "Write the scenario with the weighed mass and centre of gravity.",
        ),
    ] = None,
    changes: opt.Changes = None,
    variant: opt.Variant = None,
    out: opt.Out = None,
    replace: opt.Replace = False,
    full: opt.Full = False,
    as_json: opt.AsJson = False,
    quiet: opt.Quiet = False,
) -> None:
    """Say whether to move it, and where to.

    It judges by levels measured at a few positions and by readings on site.
    """
    if not 0.0 <= move_if_gains <= 20.0:
        raise UsageError(f"--move-if-gains: {move_if_gains:g}; 0 to 20 dB")
    if smooth is not None and not 0.3 <= smooth <= 96.0:
        raise UsageError(f"--smooth: {smooth:g}; 0.3 to 96, for 1/N octave")
    scenario = scenario_of(file, changes, variant)
    job = Job(
        scenario=scenario,
        measured=measured,
        at=_files(at),
        speaker=speaker,
        mic_height_m=_mic_height_m(mic_height, scenario),
        magnitude=one_of_or_none("--magnitude", magnitude, "db", "linear"),
        into=Into(out, replace, quiet),
        as_json=as_json,
    )
    job.may_put(write, write_hung, write_weighed, template, type_in)
    if ground:
        trial = trial_of(job, distance)
        if type_in is not None:
            names = tuple(point.name for point in trial.points)
            job = with_typed(job, type_in, names, trial.bands_hz)
        give_ground(job, trial, template, write)
        return
    kept = kept_record(record)
    from ..analysis.solve import solve
    from ..site.check_plan import check_plan

    answer = solve(scenario, choices=False)
    if handover:
        give_handover(job, answer)
        return
    if type_in is not None or (not job.any_levels and readings is None):
        plan = check_plan(answer, speaker=speaker, mic_height_m=job.mic_height_m)
        if type_in is None:
            give_checks(job, plan, template)
            return
        job = with_typed(job, type_in, plan.names, plan.bands_hz)
    found = found_on_site(job, answer, places, readings, move_if_gains, before)
    write_scenarios(job, found, write, write_hung, write_weighed)
    if record is not None:
        paths = [one.partition("=")[2] for one in at or ()]
        sets = " ".join(one for one in (job.measured, *paths, readings) if one)
        add_to_record(job, found, record, kept, by, date, sets)
    give_found(job, found, smooth, full)
    if found.stopped:
        finish(STOPPED)


def _files(at: list[str] | None) -> "dict[str, Files]":
    """Files by the name of their position; several of one position are takes."""
    paths: dict[str, list[str]] = {}
    for text in at or ():
        name, equals, path = text.partition("=")
        name = " ".join(name.split())
        if not equals or not name or not path:
            raise UsageError(f'--at: "{text}"; NAME=FILE, as "row 3=row3.txt"')
        paths.setdefault(name, []).append(path)
    return dict(paths)


def _mic_height_m(text: str, scenario: "Scenario") -> float | None:
    """None for the ears, 0 for the floor."""
    if text == "ears":
        return None
    if text == "floor":
        return 0.0
    height = length_m("--mic-height", text, scenario.units)
    if not 0.0 <= height <= 10.0:
        raise UsageError(f'--mic-height: "{text}"; must be "ears", "floor", or 0 to 10 m')
    return height
