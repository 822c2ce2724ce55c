"""The page that the rigger takes up the ladder: one loudspeaker, one sheet, black and white."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from ...base.units import G_M_S2, Unit, tilt_text
from ...results.answer import SpeakerAnswer
from ...results.hang_sheet import HangSheet
from ...rigging.ground_stack import Stability
from ...rigging.lines import HangLine, Hook
from ..figures import style as look
from ..text.words import RULES
from . import words as say
from .hang_drawing import LABELS_IN, draw_hang
from .hang_table import (
    LINE,
    SCALES,
    HangTable,
    Sizes,
    bar_name,
    laser_lines,
    point_table,
    write_laser,
)
from .sheet_page import (
    MARGIN_IN,
    POINT_IN,
    Paper,
    SheetPage,
    fitting_size,
    new_page,
    printable,
    width_in,
    wrapped,
)

LABEL_IN = 2.0
FIGURES_IN = 2.75
STOPPED_IN = 0.62
LEAST_DRAWING_IN = 2.5
FOOT_IN = 0.16
STOP_WORDS = {True: "NOT FOR HANGING", False: "NOT FOR SETTING UP"}
_MARK = {"stop": "STOP", "caution": "!"}


def hang_sheet_files(
    sheets: tuple[HangSheet, ...],
    unit: Unit,
    *,
    paper: Paper = "a4",
    date: str = "",
    formats: tuple[look.Format, ...] = look.FORMATS,
) -> dict[str, bytes]:
    """Every loudspeaker's page in every format, by file name.

    date: as the person gives it, "" for a blank to fill in
    """
    files: dict[str, bytes] = {}
    with look.style():
        for sheet in sheets:
            figure = hang_sheet(sheet, unit, paper=paper, date=date).figure
            for form in formats:
                files[f"{_stem(sheet)}.{form}"] = look.figure_bytes(figure, form)
    return files


def _stem(sheet: HangSheet) -> str:
    """ "hang_sheet", with the loudspeaker's number and name where there are several."""
    if sheet.count == 1:
        return "hang_sheet"
    plain = "".join(c if c.isascii() and c.isalnum() else "_" for c in sheet.speaker.name)
    return f"hang_sheet_{sheet.number}_{plain[:40]}"


@dataclass(frozen=True)
class _Content:
    """Everything below the drawing, at one size."""

    sizes: Sizes
    table: HangTable | None
    notes: list[str]
    laser: list[str]
    told: list[tuple[str, str]]
    order: list[tuple[list[str], bool]]

    def height_in(self, *, stopped: bool) -> float:
        """What it needs."""
        sizes = self.sizes
        rows = 0 if self.table is None else 1.2 + sum(row.lines for row in self.table.rows)
        needs = rows * sizes.row_in + 0.1
        needs += len(self.notes) * LINE * sizes.text * POINT_IN + 0.06
        needs += 0.14 + LINE * sizes.text * len(self.laser) * POINT_IN
        needs += 0.14 + LINE * sizes.caution * len(self.told) * POINT_IN
        if stopped:
            return needs + STOPPED_IN
        return needs + 0.55 + sum(_order_in(lines, sizes) for lines, _ in self.order)


def hang_sheet(sheet: HangSheet, unit: Unit, *, paper: Paper = "a4", date: str = "") -> SheetPage:
    """One page; to be called inside style.style()."""
    page = new_page(paper)
    labels = labels_of(sheet, unit)
    header_in = _header(page, sheet, date)
    least_in = max(LEAST_DRAWING_IN, _figures_in(sheet, unit))
    bottom = page.bottom_in - FOOT_IN
    content = _content(page, sheet, unit, labels, Sizes(SCALES[-1]))
    for scale in SCALES:
        content = _content(page, sheet, unit, labels, Sizes(scale))
        drawing_in = bottom - header_in - content.height_in(stopped=sheet.stopped)
        if drawing_in >= least_in:
            break
    y = header_in
    drawing_in = max(drawing_in, 0.6 * LEAST_DRAWING_IN)
    wide = page.across_in
    ax = page.axes(page.left_in, y, wide - FIGURES_IN, drawing_in)
    draw_hang(ax, sheet, width_in=wide - FIGURES_IN, height_in=drawing_in, unit=unit, labels=labels)
    _figures(page, sheet, unit, page.right_in - FIGURES_IN + 0.15, y + 0.08)
    y = _write_table(page, content, y + drawing_in)
    for line in content.notes:
        y += LINE * content.sizes.text * POINT_IN
        page.write(page.left_in, y, line, content.sizes.text)
    y += 0.06
    write_laser(page, content.laser, y, content.sizes)
    y += 0.14 + LINE * content.sizes.text * len(content.laser) * POINT_IN
    _write_cautions(page, content, y)
    if sheet.stopped:
        _write_stopped(page, sheet, bottom)
        _across(page, STOP_WORDS[sheet.held.flown])
    else:
        _write_order(page, content, bottom)
    _foot(page, sheet, date)
    return page


def labels_of(sheet: HangSheet, unit: Unit) -> dict[str, str]:
    """What the paper writes for a name: where on its bar a line is, or a letter for a pick.

    Letters stand for all names where one of them is long, or the paper's font lacks its letters.
    """
    held = sheet.held
    points = () if held.loads is None else held.loads.points
    bar = {}
    if held.loads is not None and held.on_bar:
        bar = {line.name: bar_name(held, unit) for line in held.loads.lines}
    names = [*(one.name for one in points), *(one.name for one in held.hooks)]
    picks = [name for name in dict.fromkeys(names) if name not in bar]
    if all(printable(name) == name and width_in(name, 11.0) <= LABELS_IN for name in picks):
        return bar
    return bar | {name: chr(ord("A") + k) for k, name in enumerate(picks)}


def _content(
    page: SheetPage, sheet: HangSheet, unit: Unit, labels: dict[str, str], sizes: Sizes
) -> _Content:
    wide = page.across_in
    texts = [*_legend(sheet, labels), *_whole_texts(sheet, unit, labels)]
    if sheet.held.stack is not None:
        texts += _stack_texts(sheet, sheet.held.stack, unit)
    return _Content(
        sizes=sizes,
        table=point_table(sheet.held, unit, labels),
        notes=[line for text in texts for line in wrapped(text, wide - 0.1, sizes.text)],
        laser=laser_lines(page, sheet, unit, sizes),
        told=_caution_lines(sheet, wide, sizes, labels),
        order=[
            (wrapped(text, wide - 0.25 - (1.45 if blank else 0.0), sizes.text), blank)
            for text, blank in _order(sheet, unit, labels)
        ],
    )


def _header(page: SheetPage, sheet: HangSheet, date: str) -> float:
    """Title, whose sheet, where from, when; y where the drawing begins."""
    wide = page.across_in
    y = MARGIN_IN + 0.2
    name = "HANG SHEET" if sheet.held.flown else "STAND SHEET"
    page.write(page.left_in, y, name, 18, weight="bold")
    x = page.left_in + width_in(name, 18, weight="bold") + 0.2
    stopped = STOP_WORDS[sheet.held.flown] if sheet.stopped else ""
    for words in filter(None, (stopped, _not_checked(sheet))):
        page.write(x, y, words, 12, weight="bold")
        x += width_in(words, 12, weight="bold") + 0.2
    page.write(page.right_in, y, f"Date  {date or '_' * 12}", 10, ha="right")
    y += 0.26
    name = sheet.speaker.name
    if printable(name) != name:
        name = f"loudspeaker {sheet.number} of the file"
    name += f": {sheet.title}"
    size = max(8.0, fitting_size(name, wide - 1.1, 12.5, weight="bold"))
    for line in wrapped(name, wide - 1.1, size, weight="bold")[:3]:
        page.write(page.left_in, y, line, size, weight="bold")
        y += 1.25 * size * POINT_IN
    page.write(page.right_in, MARGIN_IN + 0.46, f"sheet {sheet.number} of {sheet.count}", 8.5,
               ha="right")  # fmt: skip
    y = page.paragraph(
        page.left_in, y + 0.01, wide,
        f"Datum: {sheet.datum}. All heights are above it; all distances from it run along the "
        f"loudspeaker's own section{_pan_text(sheet)}.", 8.8,
    )  # fmt: skip
    page.rule(page.left_in, y - 0.05, wide, thick=1.6)
    return y - 0.03


def _pan_text(sheet: HangSheet) -> str:
    """ ", that is along its pan, 12.0° to the left of the centre line"."""
    pan = sheet.pan
    if pan is None:
        return " (along its pan)"
    texts = []
    if pan.pan_deg is not None:
        side = "left" if pan.pan_deg > 0.0 else "right"
        texts.append(f"panned {abs(pan.pan_deg):.1f}° to the {side} of the centre line")
    if pan.off_centre_m is not None:
        side = "left" if pan.off_centre_m > 0.0 else "right"
        texts.append(f"{abs(pan.off_centre_m):.2f} m {side} of the centre line")
    return f" (along its pan: {', '.join(texts)}, seen towards the audience)"


def _not_checked(sheet: HangSheet) -> str:
    if sheet.carried_by is not None:
        return ""
    if sheet.held.flown:
        return "" if sheet.held.loads is not None else "LOADS NOT CHECKED"
    return "" if sheet.held.stack is not None else "TIPPING NOT CHECKED"


def _figure_lines(small: list[str]) -> list[str]:
    return [line for text in small for line in wrapped(text, FIGURES_IN - 0.15, 9.0)]


def _figures_in(sheet: HangSheet, unit: Unit) -> float:
    """What the figures that are set need."""
    lines = [_figure_lines(small) for _, _, small in _set_figures(sheet, unit)]
    return 0.1 + sum(0.53 + LINE * 9.0 * POINT_IN * len(one) for one in lines)


def _figures(page: SheetPage, sheet: HangSheet, unit: Unit, x: float, y: float) -> None:
    """The figures that are set, large."""
    for label, big, small in _set_figures(sheet, unit):
        size = fitting_size(big, page.right_in - x, 17, weight="bold")
        page.write(x, y + 0.08, label, 8)
        page.write(x, y + 0.32, big, size, weight="bold")
        y += 0.49
        for line in _figure_lines(small):
            page.write(x, y, line, 9.0)
            y += LINE * 9.0 * POINT_IN
        y += 0.04


def _set_figures(sheet: HangSheet, unit: Unit) -> Iterator[tuple[str, str, list[str]]]:
    one, held = sheet.speaker, sheet.held
    if sheet.below is not None:
        splay = f"{sheet.below.splay_deg:.1f}°"
        yield "FIRST, ON THE GROUND: SPLAY", splay, [f"{sheet.below.name} fixed under this one"]
    elif sheet.carried_by is not None:
        above, splay_deg = sheet.carried_by
        yield "FIRST, ON THE GROUND: SPLAY", f"{splay_deg:.1f}°", [f"fixed under {above}"]
    window = sheet.inclinometer_window_deg
    small = [f"inclinometer {say.slope_text(sheet.inclinometer_deg)}"]
    if window is not None:
        small[0] += f", set within {say.inside_slopes_text(window, sheet.window_cut)}"
        small[0] += _ruled_text(one)
    face = "on a face along the axis"
    if sheet.reference_face_deg:
        face = f"on the face that is {say.slope_text(sheet.reference_face_deg)} from the axis"
    turn = "hung" if held.flown else "standing"
    small.append(f"{face}; {turn} {one.orientation.upper()}")
    yield "TILT", tilt_text(held.tilt_deg), small
    hooks = _difference(sheet, unit)
    if hooks is not None:
        yield "HOOKS", *hooks
    label = "TRIM (lowest point)" if held.flown else "LOWEST POINT"
    if sheet.below is not None:
        label = "TRIM (lowest point of both together)"
    if sheet.trim_m is None:
        yield label, "not known", ["an outline is not given"]
    else:
        trim, other_trim = say.lengths_text(sheet.trim_m, unit)
        yield label, trim, [other_trim]
    height, other = say.lengths_text(one.height_m, unit)
    yield "ACOUSTIC CENTRE", height, [f"{other}; {say.side_text(one.x_m, unit)}"]


def _ruled_text(one: SpeakerAnswer) -> str:
    """ " (beyond, the axis leaves the audience)", where a rule of the file ends the tolerance."""
    rules = () if one.window is None else one.window.tilt_rules
    told = dict.fromkeys(RULES.get(rule, f"`{rule}` ends it") for rule in rules if rule is not None)
    return f" (beyond, {' or '.join(told)})" if told else ""


def _hooks(sheet: HangSheet) -> list[tuple[str, float, float]]:
    """Name, x and height of each of two hooks, front then rear; empty where there are not two."""
    held = sheet.held
    hooks: Sequence[Hook | HangLine] = held.hooks
    if held.loads is not None:
        hooks = held.loads.lines
    if len(hooks) != 2:
        return []
    front_first = sorted(hooks, key=lambda one: -one.x_m)
    return [(one.name, one.x_m, one.height_m) for one in front_first]


def _difference(sheet: HangSheet, unit: Unit) -> tuple[str, list[str]] | None:
    """ "front 42 mm lower": what two hooks are set to, and how far apart they are."""
    hooks = _hooks(sheet)
    if not hooks:
        return None
    labels = labels_of(sheet, unit)
    (front, x_front, z_front), (_, x_rear, z_rear) = hooks
    name = labels.get(front, front)
    down = z_rear - z_front
    way = "lower" if down >= 0.0 else "higher"
    first, second = say.small_text(abs(down), unit).split(" (")
    big = f"{name} {first} {way}"
    apart = f"{second.rstrip(')')}; {say.small_text(x_front - x_rear, unit)} apart along the floor"
    return big, [apart]


def _write_table(page: SheetPage, content: _Content, y: float) -> float:
    """What each point bears; y under it."""
    wide, table, sizes = page.across_in, content.table, content.sizes
    if table is None and not content.notes:
        return y
    page.rule(page.left_in, y, wide)
    if table is None:
        return y + 0.1
    column = (wide - LABEL_IN) / len(table.heads)
    y += sizes.row_in
    for k, head in enumerate(table.heads):
        size = fitting_size(head, 0.95 * column, 1.1 * sizes.figure, weight="bold")
        page.write(page.left_in + LABEL_IN + k * column, y, head, size, weight="bold")
    y += 0.2 * sizes.row_in
    for row in table.rows:
        weight = "bold" if row.bold else "normal"
        for n, line in enumerate(row.label.split("\n")):
            size = fitting_size(line, LABEL_IN - 0.1, sizes.text)
            page.write(page.left_in, y + (n + 1) * sizes.row_in, line, size)
        for k, cell in enumerate(row.cells):
            for n, line in enumerate(cell.split("\n")):
                size = fitting_size(line, 0.92 * column, sizes.figure, weight=weight)
                x = page.left_in + LABEL_IN + k * column
                page.write(x, y + (n + 1) * sizes.row_in, line, size, weight=weight)
        y += sizes.row_in * row.lines
    return y + 0.1


def _legend(sheet: HangSheet, labels: dict[str, str]) -> Iterator[str]:
    rigging = sheet.held.rigging
    order = () if rigging is None else rigging.picks
    picks = [(place, name) for place, name in enumerate(order, start=1) if name in labels]
    if any(printable(name) != name for _, name in picks):
        where = (f"{labels[name]} is pick {place} of the file's list" for place, name in picks)
        yield f"! Names in the file have letters that this paper's font lacks: {', '.join(where)}."
    elif picks:
        yield "; ".join(f"{labels[name]} is {name}" for _, name in picks) + "."


def _whole_texts(sheet: HangSheet, unit: Unit, labels: dict[str, str]) -> Iterator[str]:
    held = sheet.held
    cabinet, loads = held.speaker.cabinet, held.loads
    if not held.flown:
        return
    if loads is None:
        if cabinet is not None and cabinet.mass_kg is not None:
            yield f"cabinet alone {say.masses_text(cabinet.mass_kg * G_M_S2, unit)}"
        return
    weight = say.masses_text(loads.weight_n, unit)
    yield f"Box and hardware weigh {weight}. {_beside_text(sheet, unit, labels)}"
    if loads.dynamic_factor > 1.0:
        yield (
            f"What the structure bears and what is used of a limit hold {loads.dynamic_factor:g} "
            "times the resting load (dynamic factor); a cell shows the resting load."
        )
    if loads.method == "pull-back":
        yield (
            "Pull-back: what the lines pull does not add up to the weight; together their "
            "vertical parts carry it, and their level parts pull against each other."
        )


def _beside_text(sheet: HangSheet, unit: Unit, labels: dict[str, str]) -> str:
    """What the structure bears beside the box, or what of it is not known."""
    loads, rigging = sheet.held.loads, sheet.held.rigging
    assert loads is not None and rigging is not None
    texts = []
    if loads.total_n > loads.weight_n:
        texts.append(f"With hoists, lines and cable it is {say.masses_text(loads.total_n, unit)}.")
    if loads.not_counted:
        texts.append(f"Not given, so in no figure here: {' and '.join(loads.not_counted)}.")
    if rigging.cable_mass_kg:
        carried = labels.get(rigging.cable_pick, rigging.cable_pick)
        texts.append(f"The line at {carried} carries the cable." if carried else
                     "The lines share the cable evenly.")  # fmt: skip
    return " ".join(texts)


def _stack_texts(sheet: HangSheet, stack: Stability, unit: Unit) -> list[str]:
    lines = [
        f"BESIDE IT: {other.name}, {say.masses_text(other.mass_kg * G_M_S2, unit)}, its middle "
        f"{say.side_text(other.at_m[0], unit)}, {say.lengths_text(other.at_m[1], unit)[0]} high."
        for other in sheet.beside
    ] + [
        f"Whole weight {say.masses_text(stack.mass_kg * G_M_S2, unit)}; tips by itself on a slope "
        f"of {stack.front.tip_deg:.1f}° forward, {stack.rear.tip_deg:.1f}° backward, over edges "
        f"{_from_centre_text(stack.front_x_m, unit)} and {_from_centre_text(stack.rear_x_m, unit)}"
        " the acoustic centre."
    ]
    box = stack.box
    if stack.tied:
        lines.append("The box is to be TIED to what it stands on, as the file says.")
    elif box is not None:
        if box.raised:
            lines.append(
                f"WEDGE: raise the {box.raised} end by {say.small_text(box.wedge_height_m, unit)} "
                f"over a face of {say.small_text(box.face_m, unit)} ({box.wedge_deg:.1f}°)"
                + ("." if box.slides_deg is None else f"; it slides from {box.slides_deg:.1f}°.")
            )
        if abs(box.front.tip_deg - stack.front.tip_deg) > 0.05 or (
            abs(box.rear.tip_deg - stack.rear.tip_deg) > 0.05
        ):
            lines.append(
                f"The box alone, not tied: tips on {box.front.tip_deg:.1f}° forward, "
                f"{box.rear.tip_deg:.1f}° backward."
            )
    if stack.wind_n <= 0.0:
        return [*lines, "No wind was put on it."]
    sides = (("forward", stack.front.safety), ("backward", stack.rear.safety),
             ("sliding", stack.sliding_safety))  # fmt: skip
    held = ", ".join(f"{name} {'unknown' if of is None else f'{of:.2f}'}" for name, of in sides)
    lines.append(f"Wind {stack.gust_speed_m_s:g} m/s: {say.forces_text(stack.wind_n, unit)}.")
    lines.append(f"What holds over what upsets: {held}; asked {stack.asked:g}.")
    least = "none where it is meant to go is enough"
    if stack.ballast_kg is not None:
        least = say.masses_text(stack.ballast_kg * G_M_S2, unit)
        if stack.ballast_kg > 0.0:
            least += (
                f", its middle {_from_centre_text(stack.ballast_x_m, unit)} the acoustic centre"
            )
    more = " beside what stands there" if sheet.beside else ""
    return [*lines, f"Least ballast for that{more}: {least}."]


def _from_centre_text(x_m: float, unit: Unit) -> str:
    """ "280 mm (11 in) behind"."""
    return f"{say.small_text(abs(x_m), unit)} {'behind' if x_m < 0.0 else 'in front of'}"


def _caution_lines(
    sheet: HangSheet, wide: float, sizes: Sizes, labels: dict[str, str]
) -> list[tuple[str, str]]:
    """(weight, line) of what stops and of the cautions, wrapped; notes are in the summary."""
    lines: list[tuple[str, str]] = []
    for one in sheet.cautions:
        if one.severity == "note":
            continue
        weight = "bold" if one.severity == "stop" else "normal"
        whose = ""
        if one.speaker not in (None, sheet.speaker.name):
            whose = f"{one.speaker}, which carries this: "
        said = f"{whose}{one.text}" if whose else f"{one.text[:1].upper()}{one.text[1:]}"
        for name, label in labels.items():
            said = said.replace(name, label)
        text = f"{_MARK[one.severity]} {said}"
        found = wrapped(text, wide - 0.2, sizes.caution, weight=weight)
        lines += [(weight, line if k == 0 else f"   {line}") for k, line in enumerate(found)]
    if sheet.about_sound:
        text = f"About the sound, in full in the summary: {', '.join(sheet.about_sound)}"
        lines += [("normal", line) for line in wrapped(text, wide - 0.2, sizes.caution)]
    return lines


def _write_cautions(page: SheetPage, content: _Content, y: float) -> None:
    """All of them, under a rule."""
    page.rule(page.left_in, y + 0.02, page.across_in)
    y += 0.05
    for weight, line in content.told:
        y += LINE * content.sizes.caution * POINT_IN
        page.write(page.left_in, y, line, content.sizes.caution, weight=weight)


def _order(sheet: HangSheet, unit: Unit, labels: dict[str, str]) -> Iterator[tuple[str, bool]]:
    """The order of work, each step with what it must show; True where something is read."""
    loads = sheet.held.loads
    if not sheet.held.flown:
        yield from _standing_order(sheet, unit)
        return
    if sheet.carried_by is not None:
        above, splay_deg = sheet.carried_by
        yield f"on the ground: fixed under {above}, splay {splay_deg:.1f}°", True
        yield f"HOLD until {above}'s own sheet is signed", False
        yield f"once it hangs: inclinometer {_inclinometer_text(sheet)}", True
        return
    if sheet.below is not None:
        below = sheet.below
        yield f"on the ground: {below.name} fixed under, splay {below.splay_deg:.1f}°", True
    if loads is not None:
        whole = say.masses_text(loads.weight_n, unit)
        if all(line.level_reading_n is not None for line in loads.lines):
            cells = "; ".join(_cells(sheet, unit, labels, level=True))
            yield f"just off the ground, box level: cells {cells}; together {whole}", True
        else:
            yield f"just off the ground: weigh it, {whole}; its lines do not hold it level", True
        yield "HOLD: secondary suspension fitted, every line taut, nobody underneath", False
        cells = "; ".join(_cells(sheet, unit, labels, level=False))
        yield f"at tilt: cells {cells}", True
    else:
        yield "just off the ground, box level: weigh it; what cells should read is not known", True
        yield "HOLD: secondary suspension fitted, every line taut, nobody underneath", False
    yield f"inclinometer {_inclinometer_text(sheet)}", True
    if sheet.trim_m is None:
        up = f"acoustic centre at {say.lengths_text(sheet.speaker.height_m, unit)[0]}"
    else:
        up = f"at trim {say.lengths_text(sheet.trim_m, unit)[0]}"
    yield f"{up}: tilt read again, no line slack, cable free", True
    yield from _laser_step(sheet)


def _standing_order(sheet: HangSheet, unit: Unit) -> Iterator[tuple[str, bool]]:
    stack = sheet.held.stack
    if stack is not None and stack.box is not None and stack.box.raised:
        wedge = say.small_text(stack.box.wedge_height_m, unit)
        yield f"wedge of {wedge} under the {stack.box.raised} end, so that it cannot slide", False
    yield "HOLD: ballast and ties as asked for, before it is let go", False
    yield f"inclinometer {_inclinometer_text(sheet)}", True
    yield from _laser_step(sheet)


def _laser_step(sheet: HangSheet) -> Iterator[tuple[str, bool]]:
    if sheet.laser is not None and sheet.laser.markable:
        yield f"laser: dot on the mark in {sheet.row_label}", False


def _inclinometer_text(sheet: HangSheet) -> str:
    text = say.slope_text(sheet.inclinometer_deg)
    if sheet.inclinometer_window_deg is not None:
        text += (
            f", accept {say.inside_slopes_text(sheet.inclinometer_window_deg, sheet.window_cut)}"
        )
    return text


def _cells(sheet: HangSheet, unit: Unit, labels: dict[str, str], *, level: bool) -> Iterator[str]:
    assert sheet.held.loads is not None
    for line in sorted(sheet.held.loads.lines, key=lambda one: one.x_m):
        load = line.level_reading_n if level else line.reading_n
        accept = line.level_accept_n if level else line.accept_n
        text = "slack" if load is None else say.masses_text(load, unit)
        if accept is not None:
            text += f" ({say.mass_range_text(accept, unit)})"
        yield f"{labels.get(line.name, line.name)} {text}"


def _order_in(lines: list[str], sizes: Sizes) -> float:
    return 0.06 + LINE * sizes.text * POINT_IN * len(lines)


def _write_order(page: SheetPage, content: _Content, bottom: float) -> None:
    """What is done and checked in which order, and who signs for it."""
    sizes = content.sizes
    y = bottom - 0.42 - sum(_order_in(lines, sizes) for lines, _ in content.order)
    page.rule(page.left_in, y, page.across_in, thick=1.6)
    y += 0.04
    for number, (lines, blank) in enumerate(content.order, start=1):
        first = y + LINE * sizes.text * POINT_IN
        page.box(page.left_in, first - 0.115, 0.13, 0.13)
        for k, line in enumerate(lines):
            weight = "bold" if lines[0].startswith("HOLD") else "normal"
            text = f"{number}  {line}" if k == 0 else f"    {line}"
            at = first + k * LINE * sizes.text * POINT_IN
            page.write(page.left_in + 0.2, at, text, sizes.text, weight=weight)
        if blank:
            page.write(page.right_in, first, f"read {'_' * 13}", sizes.text, ha="right")
        y += _order_in(lines, sizes)
    page.write(page.left_in, bottom - 0.02,
               f"Name {'_' * 26}   Signed {'_' * 26}   On {'_' * 14}", 9.0)  # fmt: skip


def _write_stopped(page: SheetPage, sheet: HangSheet, bottom: float) -> None:
    """In place of the boxes: that there are none, and how many things stop."""
    stops = sum(one.severity == "stop" for one in sheet.cautions)
    things = "one caution stops" if stops == 1 else f"{stops} cautions stop"
    y = bottom - 0.45
    page.rule(page.left_in, y, page.across_in, thick=1.6)
    text = (
        f"{things} this sheet: nothing to tick, nothing to sign. Change the plan and print again."
    )
    page.write(page.left_in, y + 0.25, text, 9, weight="bold")


def _foot(page: SheetPage, sheet: HangSheet, date: str) -> None:
    """What tells two prints apart."""
    text = (
        f"{sheet.file}   {sheet.mark}   aiming {sheet.version}   "
        f"printed for {date or '_' * 12}   no rigging design"
    )
    page.write(page.left_in, page.bottom_in + 0.1, text,
               fitting_size(text, page.across_in, 7.5))  # fmt: skip


def _across(page: SheetPage, words: str) -> None:
    """Large outlined letters across everything, that leave the rest readable."""
    from matplotlib.patheffects import Stroke

    for fill, effects in (
        ((0.0, 0.0, 0.0, 0.10), []),
        ((0.0, 0.0, 0.0, 0.0), [Stroke(linewidth=1.4, foreground=look.INK)]),
    ):
        # Outlined letters are shapes; the filled ones below them stay text that can be found.
        page.figure.text(
            0.5, 0.53, words, fontsize=56, weight="bold", color=fill, rotation=48, ha="center",
            va="center", rotation_mode="anchor", zorder=50, path_effects=effects,
        )  # fmt: skip
