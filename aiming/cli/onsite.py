"""`aiming onsite`: what was measured and read on site, held against the plan."""

from typing import TYPE_CHECKING, Annotated

import typer

from .afterwards import (
    add_to_record,
    found_on_site,
    give_found,
    give_handover,
    kept_record,
    write_scenarios,
)
from .beforehand import Job, give_checks, give_ground, plan_of_checks, trial_of, with_typed
from .common import (
    STOPPED,
    AsJson,
    Changes,
    Date,
    File,
    Full,
    Out,
    Quiet,
    Replace,
    UsageError,
    Variant,
    finish,
    scenario_of,
)

if TYPE_CHECKING:
    from ..scenario.scenario import Scenario
    from ..site.traces import Files, Magnitude


Measured = Annotated[
    str | None,
    typer.Argument(
        metavar="[MEASURED]",
        help="CSV with position, frequency_hz, level_db[, coherence]. Without it, and without "
        "--at and --readings, the check positions are listed.",
    ),
]
At = Annotated[
    list[str] | None,
    typer.Option(
        "--at",
        metavar="NAME=FILE",
        help="A text file of one position: frequency, magnitude[, phase][, coherence]. Repeatable.",
    ),
]
Places = Annotated[
    str | None,
    typer.Option(
        "--places", metavar="FILE", help="CSV with position, x, z for positions that are not rows."
    ),
]
Readings = Annotated[
    str | None,
    typer.Option(
        "--readings",
        metavar="FILE",
        help="CSV with reading, at, value[, plus_minus][, tilt]: inclinometer, laser, load, "
        "height, x.",
    ),
]
OneSpeaker = Annotated[
    str | None,
    typer.Option(
        "--speaker", metavar="NAME", help="The loudspeaker measured, with the others off."
    ),
]
Mic = Annotated[
    str,
    typer.Option(
        "--mic-height",
        metavar="ears|floor|LENGTH",
        help="Height of all microphones over the floor.",
    ),
]
Magnitudes = Annotated[
    str | None,
    typer.Option(
        "--magnitude", metavar="db|linear", help="Whether magnitudes are in dB or linear."
    ),
]
Ground = Annotated[
    bool,
    typer.Option(
        "--ground", help="Lay out a trial on the ground before the show; with levels, judge it."
    ),
]
Distance = Annotated[
    str | None,
    typer.Option("--distance", metavar="LENGTH", help="Distance d in the trial on the ground."),
]
Write = Annotated[
    str | None,
    typer.Option(
        "--write",
        metavar="FILE",
        help="If a move is advised, write the scenario with the placement moved (with --ground: "
        "the coarse pattern) to a new file.",
    ),
]
WriteHung = Annotated[
    str | None,
    typer.Option(
        "--write-hung", metavar="FILE", help="Write the scenario as it really hangs to a new file."
    ),
]
WriteWeighed = Annotated[
    str | None,
    typer.Option(
        "--write-weighed",
        metavar="FILE",
        help="Write the scenario with the weighed mass and centre of gravity.",
    ),
]
MoveIf = Annotated[
    float,
    typer.Option(
        "--move-if-gains",
        metavar="DB",
        help="Advise a move only if it gains this much spread.",
    ),
]
Before = Annotated[
    str | None,
    typer.Option("--before", metavar="FILE", help="Levels measured earlier, to compare with."),
]
Smooth = Annotated[
    float | None,
    typer.Option(
        "--smooth", metavar="N", help="Smooth the drawn traces over 1/N octave; 3 for thirds."
    ),
]
Record = Annotated[
    str | None,
    typer.Option(
        "--record",
        metavar="FILE",
        help="Add what was found and decided to this file; compare with its last entry.",
    ),
]
By = Annotated[str, typer.Option("--by", metavar="NAME", help="Who measured, for --record.")]
Type = Annotated[
    str | None,
    typer.Option(
        "--type",
        metavar="FILE",
        help="Type the levels in, position by position; they are kept in a new file.",
    ),
]
Handover = Annotated[
    bool,
    typer.Option(
        "--handover",
        help="Hold a fill against its main at their handover row: --at NAME=FILE for each, alone.",
    ),
]
Template = Annotated[
    str | None,
    typer.Option(
        "--template",
        metavar="FILE",
        help="Write an empty table of the check positions to fill in, to a new file.",
    ),
]


def onsite(
    file: File,
    measured: Measured = None,
    at: At = None,
    places: Places = None,
    readings: Readings = None,
    speaker: OneSpeaker = None,
    mic_height: Mic = "ears",
    magnitude: Magnitudes = None,
    move_if_gains: MoveIf = 0.5,
    before: Before = None,
    smooth: Smooth = None,
    handover: Handover = False,
    ground: Ground = False,
    distance: Distance = None,
    template: Template = None,
    type_in: Type = None,
    record: Record = None,
    by: By = "",
    date: Date = "",
    write: Write = None,
    write_hung: WriteHung = None,
    write_weighed: WriteWeighed = None,
    changes: Changes = None,
    variant: Variant = None,
    out: Out = None,
    replace: Replace = False,
    full: Full = False,
    as_json: AsJson = False,
    quiet: Quiet = False,
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
        magnitude=_magnitude(magnitude),
        out=out,
        replace=replace,
        as_json=as_json,
        quiet=quiet,
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

    answer = solve(scenario, choices=False)
    if handover:
        give_handover(job, answer)
        return
    if type_in is not None:
        plan = plan_of_checks(job, answer)
        job = with_typed(job, type_in, plan.names, plan.bands_hz)
    if not job.any_levels and readings is None:
        give_checks(job, answer, template)
        return
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


def _magnitude(text: str | None) -> "Magnitude | None":
    known: dict[str | None, Magnitude | None] = {None: None, "db": "db", "linear": "linear"}
    if text not in known:
        raise UsageError(f'--magnitude: "{text}"; must be "db" or "linear"')
    return known[text]


def _mic_height_m(text: str, scenario: "Scenario") -> float | None:
    """None for the ears, 0 for the floor."""
    if text == "ears":
        return None
    if text == "floor":
        return 0.0
    from .common import length_m

    height = length_m("--mic-height", text, scenario.units)
    if not 0.0 <= height <= 10.0:
        raise UsageError(f'--mic-height: "{text}"; must be "ears", "floor", or 0 to 10 m')
    return height
