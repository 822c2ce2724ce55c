"""`aiming onsite`: what was measured and read on site, held against the plan."""

from typing import TYPE_CHECKING, Annotated

import typer

from .beforehand import give_checks, give_ground, may_put, put_beside, write_new
from .common import (
    STOPPED,
    AsJson,
    Changes,
    Date,
    File,
    Out,
    Quiet,
    Replace,
    UsageError,
    Variant,
    finish,
    print_json,
    print_text,
    scenario_of,
    tell,
)

if TYPE_CHECKING:
    from ..scenario.scenario import Scenario
    from ..site.model import Found
    from ..site.traces import Magnitude


LARGEST_RECORD = 4_000_000
"""Bytes."""

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
        "--places", metavar="FILE", help="CSV with position, x, z for positions that are no rows."
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
    typer.Option("--speaker", metavar="NAME", help="The loudspeaker measured, the others off."),
]
Mic = Annotated[
    str,
    typer.Option(
        "--mic-height",
        metavar="ears|floor|LENGTH",
        help="Where the microphones were over the floor, all of them alike.",
    ),
]
Magnitudes = Annotated[
    str | None,
    typer.Option("--magnitude", metavar="db|linear", help="What the magnitudes are."),
]
Ground = Annotated[
    bool,
    typer.Option("--ground", help="A trial on the ground before the show: its layout, its result."),
]
Distance = Annotated[
    str | None,
    typer.Option("--distance", metavar="LENGTH", help="d of the trial on the ground."),
]
Write = Annotated[
    str | None,
    typer.Option(
        "--write",
        metavar="FILE",
        help="Where a move is advised: write the scenario with the placement moved (with --ground: "
        "the coarse pattern) to a new file.",
    ),
]
WriteHung = Annotated[
    str | None,
    typer.Option(
        "--write-hung", metavar="FILE", help="Write the scenario as it hangs to a new file."
    ),
]
WriteWeighed = Annotated[
    str | None,
    typer.Option(
        "--write-weighed",
        metavar="FILE",
        help="Write the scenario with the mass and centre of gravity that were weighed.",
    ),
]
MoveIf = Annotated[
    float,
    typer.Option(
        "--move-if-gains",
        metavar="DB",
        help="Advise a move from this much less spread on.",
    ),
]
Before = Annotated[
    str | None,
    typer.Option("--before", metavar="FILE", help="The levels of an earlier set, to set beside."),
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
        help="Add what was found and decided to this file, and compare with its last entry.",
    ),
]
By = Annotated[str, typer.Option("--by", metavar="NAME", help="Who measured, for --record.")]
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
    ground: Ground = False,
    distance: Distance = None,
    template: Template = None,
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
    as_json: AsJson = False,
    quiet: Quiet = False,
) -> None:
    """Say whether to move it, and where to.

    From levels measured at a few positions and from what was read on site.
    """
    if not 0.0 <= move_if_gains <= 20.0:
        raise UsageError(f"--move-if-gains: {move_if_gains:g}; 0 to 20 dB")
    if smooth is not None and not 0.3 <= smooth <= 96.0:
        raise UsageError(f"--smooth: {smooth:g}; 0.3 to 96, for 1/N octave")
    scenario = scenario_of(file, changes, variant)
    may_put(scenario, (write, write_hung, write_weighed, template), out, replace=replace)
    traces = dict(_named(text) for text in at or ())
    mic_height_m = _mic_height_m(mic_height, scenario)
    if ground:
        give_ground(
            scenario,
            measured,
            traces,
            _magnitude(magnitude),
            speaker,
            distance,
            write,
            out,
            template,
            replace=replace,
            as_json=as_json,
            quiet=quiet,
        )
        return
    if measured is None and not traces and readings is None:
        give_checks(
            scenario,
            speaker,
            mic_height_m,
            out,
            template,
            replace=replace,
            as_json=as_json,
            quiet=quiet,
        )
        return
    kept = _kept_record(record)
    from ..analysis.solve import solve
    from ..site.run import onsite as compared

    answer = solve(scenario, choices=False)

    def of(levels: str | None, files: dict[str, str]) -> "Found":
        return compared(
            scenario,
            levels,
            at=files,
            places=places,
            readings=readings if levels == measured else None,
            speaker=speaker,
            mic_height_m=mic_height_m,
            magnitude=_magnitude(magnitude),
            move_if_gains_db=move_if_gains,
            answer=answer,
        )

    found = of(measured, traces)
    if before is not None:
        from dataclasses import replace as with_

        found = with_(found, before=of(before, {}))
    _write_scenarios(scenario, found, write, write_hung, quiet)
    if write_weighed is not None:
        from ..site.rewrite import weighed_text

        write_new(write_weighed, weighed_text(scenario, found), quiet=quiet)
    if record is not None:
        sets = " ".join([one for one in (measured, *traces.values(), readings) if one])
        _add_to_record(scenario, found, record, kept, by, date, sets, quiet)
    if out is not None:
        _write_folder(scenario, found, out, smooth, replace, quiet)
    if as_json:
        print_json(found.to_dict())
    elif quiet:
        print_text(f"{found.headline}\n")
    else:
        from ..report.text.onsite import onsite_text
        from ..report.text.terminal import stdout_terminal

        print_text(onsite_text(scenario, found, terminal=stdout_terminal()))
    if found.stopped:
        finish(STOPPED)


def _write_scenarios(
    scenario: "Scenario", found: "Found", write: str | None, hung: str | None, quiet: bool
) -> None:
    from ..site.rewrite import corrected_text

    if write is not None and found.corrected is None:
        tell(f"{write}: not written, since no move is advised")
    elif write is not None:
        write_new(write, corrected_text(scenario, found), quiet=quiet)
    if hung is not None:
        write_new(hung, corrected_text(scenario, found, which="hung"), quiet=quiet)


def _kept_record(record: str | None) -> str:
    """What the record holds so far; "" for a new one."""
    from pathlib import Path

    from ..base.regular_file import open_ordinary
    from ..report.output_folder import check_file

    if record is None:
        return ""
    check_file(record, replace=True)
    if not Path(record).exists():
        return ""
    with open_ordinary(Path(record)) as stream:
        return str(stream.read(LARGEST_RECORD).decode("utf-8", errors="replace"))


def _add_to_record(
    scenario: "Scenario",
    found: "Found",
    record: str,
    kept: str,
    by: str,
    date: str,
    sets: str,
    quiet: bool,
) -> None:
    from ..report.output_folder import write_file
    from ..site.record import HEADER, compared_text, entry_text, last_entry

    last = last_entry(kept, record, found.speaker) if kept else None
    entry = entry_text(found, by=by, date=date, air=scenario.air, measured=sets)
    write_file(record, ((kept or HEADER) + entry).encode(), replace=True)
    if last is not None and not quiet:
        tell(compared_text(last, found))


def _write_folder(
    scenario: "Scenario",
    found: "Found",
    out: str,
    smooth: float | None,
    replace: bool,
    quiet: bool,
) -> None:
    from ..report.figures.onsite import onsite_figures
    from ..report.json_text import json_text
    from ..report.text.onsite import onsite_text

    files = {
        **onsite_figures(scenario, found, smooth_octaves=None if smooth is None else 1.0 / smooth),
        "onsite.txt": onsite_text(scenario, found).encode(),
        "onsite.json": json_text(found.to_dict()).encode(),
    }
    put_beside(scenario, files, out, replace=replace, quiet=quiet)


def _named(text: str) -> tuple[str, str]:
    name, equals, path = text.partition("=")
    name = " ".join(name.split())
    if not equals or not name or not path:
        raise UsageError(f'--at: "{text}"; NAME=FILE, as "row 3=row3.txt"')
    return name, path


def _magnitude(text: str | None) -> "Magnitude | None":
    known: dict[str | None, Magnitude | None] = {None: None, "db": "db", "linear": "linear"}
    if text not in known:
        raise UsageError(f'--magnitude: "{text}"; "db" or "linear"')
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
        raise UsageError(f'--mic-height: "{text}"; "ears", "floor", or 0 to 10 m')
    return height
