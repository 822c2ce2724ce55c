"""`aiming bridle`: a bridle by itself, or under one point of a scenario's hang sheet."""

from typing import TYPE_CHECKING, Annotated

import typer

from . import options as opt
from .common import (
    STOPPED,
    UsageError,
    finish,
    length_m,
    print_json,
    print_text,
    scenario_of,
    tell,
    unit_of,
)
from .options import option

if TYPE_CHECKING:
    from ..rigging.bridle import Bridle, Place
    from ..rigging.lines import HangLine
    from ..rigging.steps import Step
    from ..scenario.scenario import Scenario

PLUMB_DEG = 0.05
PLUMB_M = 0.005
"""A line that leans, or an apex beside its hook, by less than a tape or an eye can tell."""


def bridle(
    file: Annotated[
        str | None,
        typer.Argument(
            metavar="[FILE]", help="Scenario whose hang sheet gives the load of --point."
        ),
    ] = None,
    load: Annotated[
        str | None, option("--load W", 'Load, as "50 kg", "110 lb", "490 N" or "1.2 kN".')
    ] = None,
    drops: Annotated[
        tuple[str, str] | None, option("--drops V1 V2", "Height of each point above the apex.")
    ] = None,
    reaches: Annotated[
        tuple[str, str] | None,
        option("--reaches H1 H2", "Level distance of each from the apex, on opposite sides."),
    ] = None,
    to: Annotated[
        list[str] | None,
        option(
            "--to X,Y,Z",
            "Instead of drops and reaches: a point of the steel, from the datum; y to the left "
            "as one looks at the audience. Two or three of them.",
        ),
    ] = None,
    apex: Annotated[
        str | None,
        option(
            "--apex X,Y,Z",
            "With --to: where the legs meet; with --point its Z alone, plumb over the hook.",
        ),
    ] = None,
    take_up: Annotated[
        list[str] | None,
        option(
            "--take-up LENGTH",
            "What shackles, rings and clamps take up of a leg: once for all legs, or for each.",
        ),
    ] = None,
    point: Annotated[
        str | None, option("--point NAME", "With FILE: the point whose line is bridled.")
    ] = None,
    speaker: Annotated[str | None, option("--speaker NAME", "With FILE: the loudspeaker.")] = None,
    changes: opt.Changes = None,
    variant: opt.Variant = None,
    units: opt.Units = "m",
    working: opt.Steps = False,
    as_json: opt.AsJson = False,
) -> None:
    """Work out the tensions and angles of a bridle."""
    from ..cautions.bridle import bridle_cautions
    from ..report.text.closed_forms import bridle_dict, bridle_text

    hook: HangLine | None = None
    load_of, factor = "", 1.0
    stops: tuple[str, ...] = ()
    if file is not None and load is None:
        scenario = scenario_of(file, changes, variant)
        hook, factor, stops = _line_of(scenario, speaker, point)
        units, load_n = scenario.units, hook.structure_vertical_n
        load_of = f"the line of {hook.name}, everything counted, times its dynamic factor"
    elif load is not None and (file, point, speaker) == (None, None, None):
        load_n = _load_n(load)
    else:
        raise UsageError("--load: give it, or FILE and the --point of its sheet, not both")
    if bool(to) == (drops is not None or reaches is not None):
        raise UsageError("--drops: give them with --reaches, or two or three --to, not both")
    used = [_not_negative_m("--take-up", one, units) for one in take_up or ()]
    if to:
        found, steps = _to_points(load_n, hook, apex, to, used, units, working=working)
    else:
        found, steps = _two_legs(load_n, drops, reaches, used, units, working=working)
    cautions = bridle_cautions(found, dynamic_factor=factor)
    if as_json:
        print_json(bridle_dict(found, cautions, steps))
    else:
        print_text(bridle_text(found, cautions, steps, unit=unit_of(units), load_of=load_of))
    for text in stops:
        tell(f"stop on the hang sheet: {text}")
    if stops or any(one.severity == "stop" for one in cautions):
        finish(STOPPED)


def _load_n(load: str) -> float:
    from ..base.units import parse_load_n

    try:
        return parse_load_n(load)
    except ValueError as error:
        raise UsageError(f"--load: {error}") from None


def _line_of(
    scenario: "Scenario", speaker: str | None, point: str | None
) -> "tuple[HangLine, float, tuple[str, ...]]":
    """The line of a point of the hang sheet, the factor in its load, and what stops that sheet.

    Raises UsageError.
    """
    from ..analysis.solve import solve

    answer = solve(scenario, choices=False)
    names = [one.name for one in answer.speakers]
    if speaker not in names and (speaker is not None or len(names) > 1):
        said = "" if speaker is None else f'"{speaker}"; '
        raise UsageError(f"--speaker: {said}one of {', '.join(names)}")
    one = next(one for one in answer.speakers if speaker in (None, one.name))
    if one.loads is None:
        raise UsageError(f"{one.name}: its loads are not known, so no bridle is worked out")
    lines = one.loads.lines
    known = ", ".join(line.name for line in lines)
    found = [line for line in lines if line.name == point or (point is None and len(lines) == 1)]
    if not found:
        raise UsageError(f"--point: {'' if point is None else point + '; '}one of {known}")
    if abs(found[0].lean_deg) > PLUMB_DEG:
        raise UsageError(
            f"--point: the line of {found[0].name} leans {abs(found[0].lean_deg):.1f}°; a bridle "
            "is worked out for a plumb load"
        )
    mine = (None, one.name)
    stops = [said for said in answer.cautions if said.severity == "stop" and said.speaker in mine]
    return found[0], one.loads.dynamic_factor, tuple(said.text for said in stops)


def _two_legs(
    load_n: float,
    drops: tuple[str, str] | None,
    reaches: tuple[str, str] | None,
    take_up_m: list[float],
    units: str,
    *,
    working: bool,
) -> "tuple[Bridle, tuple[Step, ...]]":
    from ..rigging.bridle import bridle as solved
    from ..rigging.calculation import bridle_working

    if drops is None or reaches is None:
        raise UsageError("--drops: give --drops and --reaches, both")
    first, second = (length_m("--drops", one, units) for one in drops)
    left, right = (length_m("--reaches", one, units) for one in reaches)
    taken = _each(take_up_m, 2)
    found = solved(
        load_n=load_n,
        drops_m=(first, second),
        reaches_m=(left, right),
        take_up_m=(taken[0], taken[1]),
    )
    return found, bridle_working(found) if working else ()


def _to_points(
    load_n: float,
    hook: "HangLine | None",
    apex: str | None,
    to: list[str],
    take_up_m: list[float],
    units: str,
    *,
    working: bool,
) -> "tuple[Bridle, tuple[Step, ...]]":
    from ..rigging.bridle import bridle_to_points
    from ..rigging.calculation import bridle_in_plan_working

    if apex is None:
        raise UsageError("--to: give --apex too, where the legs meet")
    if hook is not None and "," not in apex:
        at = (hook.x_m, 0.0, length_m("--apex", apex, units))
    else:
        at = _place("--apex", apex, units)
    if hook is not None and (abs(at[0] - hook.x_m) > PLUMB_M or at[2] <= hook.height_m):
        raise UsageError(
            f"--apex: it must be plumb over the hook of {hook.name}, at x = {hook.x_m:.3f} m and "
            f"above z = {hook.height_m:.3f} m; its z alone is enough"
        )
    points = tuple(_place("--to", one, units) for one in to)
    taken = _each(take_up_m, len(points))
    found = bridle_to_points(load_n=load_n, apex_m=at, points_m=points, take_up_m=taken)
    return found, bridle_in_plan_working(load_n, at, points) if working else ()


def _each(take_up_m: list[float], legs: int) -> tuple[float, ...]:
    """One take-up for every leg, or one a leg."""
    if len(take_up_m) not in (0, 1, legs):
        raise UsageError(
            f"--take-up: {len(take_up_m)} of them; give one, or one for each of {legs} legs"
        )
    return tuple(take_up_m) if len(take_up_m) == legs else tuple(take_up_m or [0.0]) * legs


def _place(option: str, text: str, units: str) -> "Place":
    parts = text.split(",")
    if len(parts) != 3:
        raise UsageError(f'{option}: "{text}"; X,Y,Z, three lengths parted by commas')
    x, y, z = (length_m(option, part.strip(), units) for part in parts)
    return x, y, z


def _not_negative_m(option: str, text: str, units: str) -> float:
    found = length_m(option, text, units)
    if found < 0.0:
        raise UsageError(f'{option}: "{text}"; 0 or more')
    return found
