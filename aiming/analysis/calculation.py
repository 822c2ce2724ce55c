"""The calculation sheet of one loudspeaker, in the order that a checker follows.

What was given, where things are, what hangs or stands, what bears it, where the laser's dot falls.
Every step has its formula, the numbers put in, the result and the source, so that a competent
person can work it by hand.  SymPy is imported only when a sheet is asked for.
"""

import numpy as np

from ..results.answer import Answer
from ..results.hang_sheet import Below, Calculation, HangSheet, LaserMarks, Part
from ..results.support import Support
from ..rigging.body import NotChecked, RiggingError
from ..rigging.calculation import stack_working, wind_working, working
from ..rigging.derivation import TURNED, symbol
from ..rigging.limits import ALL
from ..rigging.steps import Sheet
from ..scenario.scenario import Scenario
from ..scenario.thresholds import threshold
from ..speaker.rigging import Rigging
from .hang_geometry import hang_sheets

BEAM = "a straight beam along the axis"
LEVEL_DEG = 1e-6


def calculations(answer: Answer) -> tuple[Calculation, ...]:
    """One per loudspeaker, in the scenario's order."""
    scenario = answer.scenario
    sources = tuple(
        f"{limit.text}: {threshold(scenario, limit):g} {limit.unit} ({limit.basis})"
        for limit in ALL
    )
    return tuple(
        Calculation(sheet, _parts(scenario, sheet), sources) for sheet in hang_sheets(answer)
    )


def _parts(scenario: Scenario, sheet: HangSheet) -> tuple[Part, ...]:
    held = sheet.held
    parts = [Part("Given", _given(scenario, held), ()), _places(sheet)]
    parts.append(_hanging(sheet) if held.flown else _standing(held))
    if sheet.laser is not None:
        parts.append(_laser(sheet, sheet.laser))
    return tuple(parts)


def _given(scenario: Scenario, held: Support) -> tuple[str, ...]:
    """Every figure that goes in, as the scenario states it, in SI units."""
    cabinet, rigging = held.speaker.cabinet, held.rigging
    turn = "flipped (w of the cabinet's points changes its sign)" if held.flipped else "upright"
    said = [
        f"scenario {scenario.file}, datum {scenario.datum}",
        f"{turn}; tilt τ = {held.tilt_deg:.4f}°, positive up; acoustic centre A "
        f"{held.at_m[0]:.4f} m from the datum, {held.at_m[1]:.4f} m above it",
        "body axes: u forward along the axis, w up, from the acoustic centre",
    ]
    if cabinet is not None:
        mass = "not given" if cabinet.mass_kg is None else f"{cabinet.mass_kg:g} kg"
        centre = cabinet.centre_of_gravity_m
        where = "not given" if centre is None else f"({centre[0]:g}, {centre[1]:g}) m as built"
        said.append(f"cabinet: mass {mass}, centre of gravity {where}")
        if cabinet.assumed:
            said.append(f"assumed, until a drawing is at hand: {', '.join(cabinet.assumed)}")
        for pick in cabinet.picks:
            limit = "not given" if pick.wll_n is None else f"{pick.wll_n:.1f} N"
            u, w = pick.at_m
            said.append(f"point {pick.name}: ({u:g}, {w:g}) m as built, marked limit {limit}")
    if rigging is not None:
        said.append(
            f"rigging: {rigging.method}, points {', '.join(rigging.picks)}; extra mass "
            f"{rigging.extra_mass_kg:g} kg; dynamic factor k = {rigging.dynamic_factor:.2f}; "
            f"share of a marked limit that may be used s = {rigging.wll_share:g}"
        )
        said += _above_the_box(rigging)
    return tuple(said)


def _above_the_box(rigging: Rigging) -> list[str]:
    """What is stated of hoists, cable, lines and steel."""
    stated = (
        ("hoist {:g} kg each", rigging.hoist_mass_kg),
        ("cable {:g} kg in all", rigging.cable_mass_kg),
        ("steel {:g} m above the datum", rigging.steel_height_m),
        ("the structure may carry {:g} N at each point", rigging.structure_capacity_n),
    )
    texts = [text.format(value) for text, value in stated if value is not None]
    said = [f"above the box: {', '.join(texts)}"] if texts else []
    for line in rigging.lines:
        parts = "; ".join(
            f"{part.name} {part.mass_kg:g} kg, takes up {part.length_m:g} m, marked limit "
            + ("not given" if part.wll_n is None else f"{part.wll_n:.1f} N")
            for part in line.parts
        )
        said.append(f"line of {', '.join(line.picks) or 'every point'}, from the top: {parts}")
    return said


def _sheet_at(held: Support) -> Sheet:
    sheet = Sheet()
    sheet.known |= {"tau": float(np.radians(held.tilt_deg)), "x_A": held.at_m[0]}
    sheet.known["z_A"] = held.at_m[1]
    return sheet


def _places(sheet: HangSheet) -> Part:
    """Trim, and what the inclinometer shows."""
    from sympy import cos, sin

    held, work = sheet.held, _sheet_at(sheet.held)
    said = []
    if sheet.outline_m is not None and held.speaker.cabinet is not None:
        lowest = int(np.argmin(sheet.outline_m[:, 1]))
        assert held.speaker.cabinet.outline_m is not None
        u, w = (float(of) for of in held.speaker.cabinet.outline_m[lowest])
        work.known |= {"u_L": u, "w_L": -w if held.flipped else w}
        fall = symbol("u_L") * sin(symbol("tau")) + symbol("w_L") * cos(symbol("tau"))
        if sheet.below is None:
            name, at = "trim: height of the lowest corner L", "Z_trim"
        else:
            name, at = "height of the lowest corner L of this box alone", "Z_L"
            said.append(_lowest_of_all(sheet, sheet.below))
        work.add(name, at, symbol("z_A") + fall, "m", TURNED)
    else:
        said.append("the outline is not given: the trim is not known")
    work.known["ρ"] = float(np.radians(sheet.reference_face_deg))
    work.add("inclinometer on the reference face, which lies ρ from the axis as hung", "reading",
             symbol("tau") + symbol("ρ"), "deg", "sum of angles")  # fmt: skip
    return Part("Places", tuple(said), tuple(work.steps))


def _lowest_of_all(sheet: HangSheet, below: Below) -> str:
    """Whose corner the trim of the hang sheet is, where a second box is fixed under this one."""
    if sheet.trim_m is None:
        return f"the outline of {below.name}, fixed under it, is not given: the trim is not known"
    return (
        f"trim of the hang sheet: {sheet.trim_m:.4f} m, the lowest corner of this box and of "
        f"{below.name}, fixed under it; that one's own corner is worked on its own page"
    )


def _hanging(sheet: HangSheet) -> Part:
    heading, held = "What hangs, and what bears it", sheet.held
    if held.rigging is None and sheet.carried_by is not None:
        above, splay_deg = sheet.carried_by
        said = f"fixed under {above} at a splay of {splay_deg:.1f}°; what bears it is worked there"
        return Part(heading, (said,), ())
    if held.rigging is None:
        return Part(heading, (f"not checked: {held.not_checked}",), ())
    try:
        steps = working(
            held.speaker.cabinet,
            held.rigging,
            flipped=held.flipped,
            tilt_deg=held.tilt_deg,
            at_m=held.at_m,
        )
    except RiggingError as error:
        return Part(heading, (str(error),), ())
    if isinstance(steps, NotChecked):
        return Part(heading, (f"not checked: {held.not_checked}",), ())
    wind = None if held.loads is None else held.loads.wind
    if wind is not None and held.loads is not None:
        steps += wind_working(wind, held.loads.weight_n)
    return Part(heading, (), steps)


def _standing(held: Support) -> Part:
    heading = "What stands"
    if held.stack is None:
        return Part(heading, (f"not checked: {held.refused or held.not_checked}",), ())
    said: tuple[str, ...] = ()
    if not held.stack.wind_checked:
        said = ("wind not checked: the stack's wind area is not given",)
    return Part(heading, said, stack_working(held.stack))


def _laser(sheet: HangSheet, marks: LaserMarks) -> Part:
    """From the laser's own place along the axis: the mark in a row, and the dot on the floor."""
    from sympy import cos, sin, tan

    held, work = sheet.held, _sheet_at(sheet.held)
    cabinet = held.speaker.cabinet
    assert cabinet is not None
    assert cabinet.laser_at_m is not None
    u, w = cabinet.laser_at_m
    work.known |= {"u_l": u, "w_l": -w if held.flipped else w}
    tau, across, up = symbol("tau"), symbol("u_l"), symbol("w_l")
    x = symbol("x_A") + across * cos(tau) - up * sin(tau)
    z = symbol("z_A") + across * sin(tau) + up * cos(tau)
    work.add("laser, from the datum", "x_l", x, "m", TURNED)
    work.add("laser, height", "z_l", z, "m", TURNED)

    def beam(name: str, at: str, result: str) -> None:
        height = symbol("z_l") + (symbol(at) - symbol("x_l")) * tan(tau)
        work.add(name, result, height, "m", BEAM)

    work.known |= {"x_N": marks.row_x_m, "z_floor": marks.floor_z_m}
    beam(f"height of the dot in {sheet.row_label}", "x_N", "z_N")
    above = symbol("z_N") - symbol("z_floor")
    work.add("the same above that row's floor", "mark", above, "m", BEAM)
    for found, name, letter in (
        (marks.ear_m, "where the beam is at ear height, from the datum", "ear"),
        (marks.floor_m, "dot on the bare floor, from the datum", "dot"),
    ):
        if found is not None and abs(held.tilt_deg) > LEVEL_DEG:
            work.known[f"z_{letter}"] = found[1]
            out = (symbol(f"z_{letter}") - symbol("z_l")) / tan(tau)
            work.add(name, f"x_{letter}", symbol("x_l") + out, "m", BEAM)
    if marks.floor_m is None and marks.wall_m is not None:
        work.known["x_wall"] = marks.wall_m[0]
        beam(f"height of the dot on {marks.wall}", "x_wall", "z_wall")
    return Part("Laser", (), tuple(work.steps))
