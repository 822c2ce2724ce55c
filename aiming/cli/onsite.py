"""`aiming onsite`: what was measured and read on site, held against the plan."""

from typing import TYPE_CHECKING, Annotated

import typer

from .beforehand import give_checks, give_ground, may_put, put_beside, write_new
from .common import (
    AsJson,
    Changes,
    File,
    Out,
    Quiet,
    Replace,
    UsageError,
    Variant,
    print_json,
    print_text,
    scenario_of,
)

if TYPE_CHECKING:
    from ..scenario.scenario import Scenario
    from ..site.model import Found
    from ..site.traces import Magnitude


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
        help="CSV with reading, at, value[, plus_minus]: inclinometer, laser, load, height.",
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
        help="Write the scenario with the corrected placement (with --ground: the coarse pattern) "
        "to a new file.",
    ),
]
WriteHung = Annotated[
    str | None,
    typer.Option(
        "--write-hung", metavar="FILE", help="Write the scenario as it hangs to a new file."
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
    ground: Ground = False,
    distance: Distance = None,
    write: Write = None,
    write_hung: WriteHung = None,
    changes: Changes = None,
    variant: Variant = None,
    out: Out = None,
    replace: Replace = False,
    as_json: AsJson = False,
    quiet: Quiet = False,
) -> None:
    """Say what really hangs, and what to change.

    From levels measured at a few positions and from what was read on site.
    """
    scenario = scenario_of(file, changes, variant)
    may_put(scenario, (write, write_hung), out, replace=replace)
    traces = dict(_named(text) for text in at or ())
    if ground:
        give_ground(
            scenario,
            measured,
            traces,
            _magnitude(magnitude),
            speaker,
            distance,
            write,
            as_json=as_json,
            quiet=quiet,
        )
        return
    mic_height_m = _mic_height_m(mic_height, scenario)
    if measured is None and not traces and readings is None:
        give_checks(
            scenario, speaker, mic_height_m, out, replace=replace, as_json=as_json, quiet=quiet
        )
        return
    from ..site.run import onsite as compared

    found = compared(
        scenario,
        measured,
        at=traces,
        places=places,
        readings=readings,
        speaker=speaker,
        mic_height_m=mic_height_m,
        magnitude=_magnitude(magnitude),
    )
    _write_scenarios(scenario, found, write, write_hung, quiet)
    if out is not None:
        _write_folder(scenario, found, out, replace, quiet)
    if as_json:
        print_json(found.to_dict())
    elif quiet:
        print_text(f"{found.advice}\n")
    else:
        from ..report.text.onsite import onsite_text
        from ..report.text.terminal import stdout_terminal

        print_text(onsite_text(scenario, found, terminal=stdout_terminal()))


def _write_scenarios(
    scenario: "Scenario", found: "Found", write: str | None, hung: str | None, quiet: bool
) -> None:
    from ..site.rewrite import corrected_text

    if write is not None:
        write_new(write, corrected_text(scenario, found), quiet=quiet)
    if hung is not None:
        write_new(hung, corrected_text(scenario, found, which="hung"), quiet=quiet)


def _write_folder(
    scenario: "Scenario", found: "Found", out: str, replace: bool, quiet: bool
) -> None:
    from ..report.figures.onsite import onsite_figures
    from ..report.json_text import json_text
    from ..report.text.onsite import onsite_text

    files = {
        **onsite_figures(scenario, found),
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
