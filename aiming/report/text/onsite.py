"""What was found on site, as text 80 columns wide: the one thing to do, what rows hear, then
why."""

from ...base.bands import band_label
from ...base.units import (
    G_M_S2,
    INCH_M,
    Unit,
    length_text,
    mass_text,
    signed_text,
    tilt_text,
    x_text,
)
from ...rigging.centre_of_gravity import Known
from ...scenario.scenario import Scenario
from ...site.ground_found import GroundFound
from ...site.model import Found, Interval, PositionFound, ReadingFound, RowFound
from ...site.weighing import Weighed
from ...site.words import WITHIN_DB
from ...speaker.speaker import Range
from .terminal import ON_PAPER, WIDTH, Terminal, cut, hanging, labelled, printable

_NAME = 24
_BANDS_AT_ONCE = 5
"""With the verdict beside them."""
_MOST_ROWS = 24
_ALWAYS = (
    "in the section only: nothing is claimed beside it. This is no rigging design; local rules, "
    "the maker's data and a competent person come first."
)


def onsite_text(
    scenario: Scenario, found: Found, *, full: bool = False, terminal: Terminal = ON_PAPER
) -> str:
    """The instruction first, what it rests on after it; ends in a line break.

    full: every row, reading and note too; without it one screen
    """
    lines = _headline(found.headline, terminal, alarm=found.stopped)
    lines += hanging(f"{found.outcome}.")
    for text in found.reasons:
        lines += hanging(f"{printable(text).rstrip('.')}.")
    if found.before is not None:
        before, now = _db(found.before.now.spread_db), _db(found.now.spread_db)
        lines += hanging(f"Set before: spread {before}, now {now}; the figure has both.")
    if found.positions:
        lines += ["", *_positions(found.positions, found.bands_hz)]
    lines.append("")
    if found.hangs:
        lines += labelled("hangs", f"{printable(found.hangs)}.")
    if found.weighed is not None:
        lines += _weighed(found.weighed, scenario.units)
    if found.rows_found:
        lines += labelled("rows", _how_sure(found))
    lines += _floor(found)
    for note in found.notes:
        lines += labelled("note", printable(f"{note}."))
    if full:
        lines += _everything(scenario, found, terminal)
    else:
        lines += labelled("more", MORE)
    lines += labelled("limits", _ALWAYS)
    return terminal.shown("\n".join(lines) + "\n")


MORE = "--full shows every row with its interval, the readings, what the intervals rest on."


def _everything(scenario: Scenario, found: Found, shown: Terminal) -> list[str]:
    """What does not go on one screen."""
    unit = scenario.units
    lines = labelled("planned", _planned(found, unit))
    lines += _quantities(found)
    lines += _readings(found.readings, unit)
    if found.positions:
        lines += labelled("rests on", RESTS_ON)
    if found.rows_found:
        title = f"{printable(found.title)}: {printable(found.speaker)} on site"
        lines += ["", shown.bold(title[:WIDTH]), *_rows(found), ""]
    return lines


def _how_sure(found: Found) -> str:
    """How well the level of the rows is known."""
    told = [(one.now_db.half, one.name) for one in found.rows_found if one.now_db is not None]
    if not told:
        return "levels not known."
    most, worst = max(told)
    mean = sum(half for half, _ in told) / len(told)
    return (
        f"level of each about the mean of all ±{mean:.1f} dB on average, ±{most:.1f} dB at "
        f"{printable(worst)} (90 %)."
    )


RESTS_ON = (
    "the 90 % intervals allow for a pattern that is about a tenth off its data, and 1.2 dB off at "
    "its edge, a floor that sends back anything from none to all, a room or none, places that are "
    "0.7 dB and bands that are 1 dB off (half or twice that), and one slip. Every band has its own "
    "unknown gain: only differences between positions count."
)


def ground_found_text(found: GroundFound, *, terminal: Terminal = ON_PAPER) -> str:
    """A trial's result; ends in a line break."""
    lines = _headline(found.headline, terminal)
    for one in found.verdicts:
        mark = "holds" if one.holds else "does not hold"
        lines += hanging(f"{one.text}: {mark}.")
    if found.turned_deg is not None:
        turned = found.turned_deg
        side = "top" if turned.value > 0.0 else "bottom"
        where = f"{abs(turned.value):.1f}° off the line of the microphones, towards its {side}"
        if abs(turned.value) < 0.05:
            where = "along the line of the microphones"
        lines += hanging(
            f"The box pointed {where} ({signed_text(turned.low, '°')} to "
            f"{signed_text(turned.high, '°')}); both edges together take that out."
        )
    for out in found.stands_out:
        what = "all bands" if out.band_hz is None else band_label(out.band_hz)
        lines += hanging(
            f"{printable(out.position)}, {what}: {abs(out.left_db):.0f} dB "
            f"{'louder' if out.left_db > 0.0 else 'softer'} than fits the rest."
        )
    lines += ["", *_positions(found.positions, found.trial.bands_hz)]
    if found.line_spread_db and found.edge_spread_db:
        lines += ["", *_line_table(found)]
    for note in found.trial.notes:
        lines += labelled("note", printable(f"{note}."))
    return terminal.shown("\n".join(lines) + "\n")


def interval_text(one: Interval, unit: str, *, decimals: int = 1) -> str:
    """ "−1.8° (−3.2° to −0.4°)"."""
    value, low, high = (
        ("+" if round(of, decimals) > 0.0 else "") + signed_text(of, unit, decimals=decimals)
        for of in (one.value, one.low, one.high)
    )
    return f"{value} ({low} to {high})"


def _headline(text: str, shown: Terminal, *, alarm: bool = False) -> list[str]:
    lines = hanging(printable(text))
    return [shown.alarm(one) if alarm else shown.bold(one) for one in lines]


def _planned(found: Found, unit: Unit) -> str:
    plan = found.plan
    return (
        f"{tilt_text(plan.tilt_deg)}, height {length_text(plan.height_m, unit)}, "
        f"{x_text(plan.x_m, unit)} ({printable(found.datum)}); spread "
        f"{_db(found.planned_coverage.spread_db)}."
    )


def _quantities(found: Found) -> list[str]:
    lines = []
    levels = found.levels_tilt_error_deg
    if levels is not None and any(one.tilt_deg is not None for one in found.readings):
        text = interval_text(levels, "°")
        lines += labelled("levels", f"of the tilt by themselves {text}, hung minus planned.")
    for label, one in (("height", found.height_error_m), ("x", found.x_error_m)):
        if one is not None:
            text = interval_text(one, " m", decimals=2)
            lines += labelled(label, f"hung minus planned {text}, if its reading is right.")
    if found.pattern_scale is not None:
        scale = found.pattern_scale
        text = f"{scale.value:.2f} ({scale.low:.2f} to {scale.high:.2f}) times as wide"
        lines += labelled("pattern", f"{text} as its data.")
    return lines


def _readings(readings: tuple[ReadingFound, ...], unit: Unit) -> list[str]:
    lines = []
    for one in readings:
        if one.tilt_deg is not None:
            says = f"{tilt_text(one.tilt_deg.value)} ±{one.tilt_deg.half:.1f}°"
        elif one.height_m is not None:
            height = length_text(one.height_m.value, unit)
            says = f"acoustic centre at {height} ±{length_text(one.height_m.half, unit)}"
        elif one.x_m is not None:
            x, half = length_text(one.x_m.value, unit), length_text(one.x_m.half, unit)
            says = f"acoustic centre at x {x} ±{half}"
        else:
            says = "tells neither tilt nor place"
        state = "" if one.state == "right" else f"; taken as a slip ({one.state})"
        lines += labelled("reading", f"{printable(one.text)}: {says}{state}.")
    return lines


def _weighed(one: Weighed, unit: Unit) -> list[str]:
    """Where the centre of gravity was found, what to write, and what each cell is to read."""
    whole = one.whole
    where = f"u {_place_text(whole.u_m, unit)}"
    if whole.w_m is not None:
        where += f", w {_place_text(whole.w_m, unit)}"
    doubt = f"±{_hangs_text(whole.weight_n.doubt, unit)}"
    if one.mass_kg is None:
        doubt = "by the file"
    weight = f"{_hangs_text(whole.weight_n.value, unit)} {doubt}"
    lines = labelled(
        "weighed", f"all that hangs {weight}; its centre of gravity {where}, body axes as hung."
    )
    values = one.for_file(unit)
    if one.centre_m is not None:
        told = "; ".join(f"{key} = {value}" for key, value in values.items())
        lines += labelled("write", f"{told} (the cabinet alone, as built; --write-weighed FILE).")
    for line in () if one.loads is None else one.loads.lines:
        level = "not held by its lines"
        if line.level_reading_n is not None:
            level = _cell_text(line.level_reading_n, line.level_accept_n, unit)
        tilted = _cell_text(line.reading_n, line.accept_n, unit)
        told = f"level {level}; at the planned tilt {tilted}"
        if line.stop_over_n is not None:
            told += f"; STOP over {_hangs_text(line.stop_over_n, unit)}"
        lines += labelled("cell", f"{printable(line.name)}: {told}.")
    return lines


def _place_text(one: Known, unit: Unit) -> str:
    """A place on the cabinet, where a millimetre counts."""
    if unit == "ft":
        value, doubt = one.value / INCH_M, one.doubt / INCH_M
        return f"{value:.2f} ±{doubt:.2f} in".replace("-", "−")
    return f"{1000.0 * one.value:.0f} ±{1000.0 * one.doubt:.0f} mm".replace("-", "−")


def _cell_text(reading_n: float | None, accept_n: Range | None, unit: Unit) -> str:
    if reading_n is None:
        return "slack"
    text = _hangs_text(reading_n, unit)
    if accept_n is not None:
        text += f" (accept {_hangs_text(accept_n[0], unit)} to {_hangs_text(accept_n[1], unit)})"
    return text


def _hangs_text(force_n: float, unit: Unit) -> str:
    """A load as a cell shows it."""
    return mass_text(force_n / G_M_S2, unit)


def _floor(found: Found) -> list[str]:
    """Where the ripple of a trace is the floor."""
    if not found.ripples:
        return []
    names = ", ".join(printable(one.position) for one in found.ripples)
    shares = [one.share for one in found.ripples]
    notches = [one.first_notch_hz for one in found.ripples]
    return labelled(
        "floor",
        f"this ripple is the floor: {names}; {_range(shares, '.2f')} of the sound comes back, "
        f"first notch at {_range(notches, '.0f')} Hz as the way over the floor has it; taken out.",
    )


def _range(values: list[float], form: str) -> str:
    low, high = format(min(values), form), format(max(values), form)
    return low if low == high else f"{low} to {high}"


def _positions(positions: tuple[PositionFound, ...], bands_hz: tuple[float, ...]) -> list[str]:
    """Measured minus planned, band by band, with a mark and a verdict each."""
    lines = ["measured minus planned, dB, each band about its own gain"]
    bands_hz = tuple(
        b for b in bands_hz if any(one.measured_db[b] is not None for one in positions)
    )
    for start in range(0, len(bands_hz), _BANDS_AT_ONCE):
        bands = bands_hz[start : start + _BANDS_AT_ONCE]
        lines.append(f"{'position':<{_NAME}}" + "".join(f"{band_label(band):>8}" for band in bands))
        for one in positions:
            name = cut(printable(one.name), _NAME - 1)
            cells = "".join(_cell(one, band) for band in bands)
            lines.append(f"{name:<{_NAME}}{cells}  {_verdict(one, bands)}".rstrip())
    return lines


def _verdict(one: PositionFound, bands: tuple[float, ...]) -> str:
    """What a position comes to."""
    if any(band in one.stands_out for band in bands):
        return "! does not fit"
    if one.off_db is None:
        return ""
    if abs(one.off_db) <= WITHIN_DB:
        return "as planned"
    return f"{abs(one.off_db):.1f} dB {'louder' if one.off_db > 0.0 else 'softer'}"


def _cell(one: PositionFound, band: float) -> str:
    measured, planned = one.measured_db[band], one.predicted_db[band]
    if measured is None or planned is None:
        return f"{'-' if measured is None else '?':>7} "
    mark = "!" if band in one.stands_out else " "
    # Adding 0 takes the sign from a rounded −0.
    return f"{round(measured - planned, 1) + 0.0:+.1f}".replace("-", "−").rjust(7) + mark


def _rows(found: Found) -> list[str]:
    """The rows in their own order, thinned where there are many."""
    rows = found.rows_found
    step = max(1, -(-len(rows) // _MOST_ROWS))
    moved = any(one.after_db is not None for one in rows)
    lines = ["design level of each row about the mean of all, dB"]
    lines.append(
        f"{'row':<{_NAME}}{'planned':>8}{'now':>8}{'90 %':>16}" + ("   after" if moved else "")
    )
    shown = [*rows[::step], *([rows[-1]] if (len(rows) - 1) % step else [])]
    return [*lines, *(_row(one, moved=moved) for one in shown)]


def _row(one: RowFound, *, moved: bool) -> str:
    name = cut(printable(one.name), _NAME - 1)
    text = f"{name:<{_NAME}}{_signed(one.planned_db):>8}"
    if one.now_db is not None:
        span = f"{_signed(one.now_db.low)} to {_signed(one.now_db.high)}"
        text += f"{_signed(one.now_db.value):>8}{span:>16}"
    return text + (f"{_signed(one.after_db):>8}" if moved else "")


def _line_table(found: GroundFound) -> list[str]:
    bands = [b for b, v in found.line_spread_db.items() if v is not None][-_BANDS_AT_ONCE:]
    lines = ["loudest minus softest, dB" + "".join(f"{band_label(b):>8}" for b in bands)]
    for label, of in (
        ("axis to edge at d", found.edge_spread_db),
        ("along the line", found.line_spread_db),
    ):
        cells = "".join(_signed(of.get(band)).removeprefix("+").rjust(8) for band in bands)
        lines.append(f"{label:<25}{cells}")
    return lines


def _signed(value: float | None) -> str:
    if value is None:
        return "?"
    return f"{round(value, 1) + 0.0:+.1f}".replace("-", "−")


def _db(value_db: float | None) -> str:
    return "not known" if value_db is None else f"{value_db:.1f} dB"
