"""`aiming bridle`: a two-leg bridle by itself."""

from typing import Annotated

import typer

from .common import AsJson, Units, UsageError, length_m, print_json, print_text, unit_of

Load = Annotated[
    str, typer.Option("--load", metavar="W", help='Load as "50 kg", "110 lb", "490 N", "1.2 kN".')
]
Drops = Annotated[
    tuple[str, str],
    typer.Option("--drops", metavar="V1 V2", help="Height of both points above the apex."),
]
Reaches = Annotated[
    tuple[str, str],
    typer.Option("--reaches", metavar="H1 H2", help="Distance of both, to opposite sides."),
]
Working = Annotated[bool, typer.Option("--working", help="Formula, numbers and result of a step.")]


def bridle(
    load: Load,
    drops: Drops,
    reaches: Reaches,
    units: Units = "m",
    working: Working = False,
    as_json: AsJson = False,
) -> None:
    """Work out the tensions and angles of a two-leg bridle."""
    from ..base.units import parse_load_n
    from ..report.text.closed_forms import bridle_dict, bridle_text
    from ..rigging.bridle import bridle as solved
    from ..rigging.calculation import bridle_working

    try:
        load_n = parse_load_n(load)
    except ValueError as error:
        raise UsageError(f"--load: {error}") from None
    first, second = (length_m("--drops", one, units) for one in drops)
    left, right = (length_m("--reaches", one, units) for one in reaches)
    found = solved(load_n=load_n, drops_m=(first, second), reaches_m=(left, right))
    steps = bridle_working(found) if working else ()
    if as_json:
        print_json(bridle_dict(found, steps))
    else:
        print_text(bridle_text(found, steps, unit=unit_of(units)))
