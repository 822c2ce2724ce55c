"""Questions on a terminal, one after the other, each explained and with a sensible default."""

import sys
from collections.abc import Callable
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, NoReturn

import typer

from .asking import Back, Check, Stopped, ask
from .common import UsageError, print_text, tell
from .drawn import drawn_start
from .options import option
from .typed import (
    a_length,
    a_load,
    a_mass,
    an_angle,
    ears_or_length,
    metres_or_feet,
    one_of,
    some_text,
)

if TYPE_CHECKING:
    from ..base.units import Unit
    from ..report.starter import Starter

Answers = dict[str, str]


@dataclass(frozen=True)
class Question:
    """One question; its field in Starter, and when it is asked.

    check: made from the answers before and the unit
    """

    field: str
    text: str
    explanation: str
    check: Callable[[Answers, "Unit"], Check]
    when: Callable[[Answers], bool] = lambda _: True


def _plain(check: Check) -> Callable[[Answers, "Unit"], Check]:
    return lambda _, __: check


def _length(*, above: str = "", or_equal: bool = False) -> Callable[[Answers, "Unit"], Check]:
    """A length, above the answer to another question, or above a number."""
    return lambda given, unit: a_length(
        unit, above=given.get(above, above) or None, or_equal=or_equal
    )


def _flown(given: Answers) -> bool:
    return given["mount"] == "flown"


def _pointed(given: Answers) -> bool:
    return _flown(given) and given["points"] == "2"


def _with_balcony(given: Answers) -> bool:
    return given["balcony"] == "yes"


def questions() -> tuple[Question, ...]:
    """All of them, in order; the unit is asked before."""
    return (
        Question("title", "Title?", "What this section is; it heads every page.",
                 _plain(some_text)),
        Question("datum", "Datum?",
                 "Name the point that every height and distance is counted from: something that "
                 "can be found again on site.", _plain(some_text)),
        Question("first_row", "First row?",
                 "Its level distance from the datum.", _length()),
        Question("last_row", "Last row?", "Its level distance from the datum.",
                 _length(above="first_row")),
        Question("first_floor", "Floor under the first row?",
                 "Its height over the datum; negative below it.", _length()),
        Question("last_floor", "Floor under the last row?",
                 "Its height over the datum: a rake rises evenly from first to last. Bends and "
                 "steps can be put into the file afterwards.", _length()),
        Question("ears", "Seated or standing?",
                 "Ears are 1.2 m over the floor seated and 1.6 m standing; a length of your own "
                 "works too.", lambda _, unit: ears_or_length(unit)),
        Question("row_spacing", "Row spacing?", "Distance from row to row.", _length(above="0")),
        Question("balcony", "A balcony (yes, no)?", "A second block of rows above the floor.",
                 _plain(one_of("yes", "no"))),
        Question("balcony_first_row", "Balcony: first row?", "Distance from the datum.",
                 _length(), _with_balcony),
        Question("balcony_last_row", "Balcony: last row?", "Distance from the datum.",
                 _length(above="balcony_first_row"), _with_balcony),
        Question("balcony_first_floor", "Balcony: floor under its first row?",
                 "Its height over the datum.", _length(), _with_balcony),
        Question("balcony_last_floor", "Balcony: floor under its last row?",
                 "Its height over the datum.", _length(), _with_balcony),
        Question("coverage_deg", "Vertical coverage angle, degrees?",
                 "From the loudspeaker's data sheet: the whole angle between the two directions "
                 "where it is 6 dB down; of 90 x 60 the second. A measured pattern can replace it "
                 "later.", _plain(an_angle)),
        Question("box_height", "Height of the box?", "From its data sheet, as it hangs or stands.",
                 _length(above="0")),
        Question("box_depth", "Depth of the box?",
                 "From front to back. The acoustic centre is then assumed in the middle of the "
                 "front, and every paper says so, until a drawing is at hand.", _length(above="0")),
        Question("mass", "Weight of the box?",
                 "With its unit, as 26 kg or 57 lb; unknown where you have no data: then no loads "
                 "are computed.", _plain(a_mass)),
        Question("mount", "Flown or stacked?",
                 "Flown hangs from above; stacked stands on a stage, riser or stack.",
                 _plain(one_of("flown", "stacked"))),
        Question("points", "Two rigging points on its top (2), or not known (0)?",
                 "One near the front and one near the rear, each on a line that runs straight up.",
                 _plain(one_of("2", "0")), _flown),
        Question("front_point", "Front point?", "Its distance behind the front of the box.",
                 _length(), _pointed),
        Question("rear_point", "Rear point?", "Its distance behind the front of the box.",
                 _length(above="front_point"), _pointed),
        Question("wll", "Marked working load limit of a point?",
                 "With its unit, as 130 kg, 330 lb or 1.2 kN; unknown where none is marked.",
                 _plain(a_load), _pointed),
        Question("x", "Distance of the loudspeaker from the datum?",
                 "Of the middle of its front, positive towards the audience, negative behind the "
                 "datum.", _length()),
        Question("base", "Height of what it stands on?", "Over the datum.", _length(),
                 lambda given: not _flown(given)),
        Question("lowest", "Lowest that it may hang?",
                 "Trim: height of the lowest point of the box over the datum. Think of sightlines "
                 "and of people's reach.", _length(), _flown),
        Question("highest", "Highest that it may hang?",
                 "Trim again. What lies between is chosen; the same as the lowest fixes it.",
                 _length(above="lowest", or_equal=True), _flown),
    )  # fmt: skip


def asked_start() -> "tuple[Starter, Stopped | None]":
    """Everything that a starter file says, asked for; what stopped it where something did.

    Answers that were given are kept whatever happens; raises Stopped before the first.
    """
    from ..report.starter import FEET, METRES, Starter

    usual = METRES
    given: Answers = {}
    todo = questions()
    at = -1
    try:
        while at < len(todo):
            try:
                if at < 0:
                    usual = _usual(usual)
                    given = {**asdict(METRES if usual.units == "m" else FEET), **_kept(given)}
                else:
                    _answer(todo[at], given, usual.units)
                at += 1
                while 0 <= at < len(todo) and not todo[at].when(given):
                    at += 1
            except Back:
                at = max(at - 1, -1)
                while at >= 0 and not todo[at].when(given):
                    at -= 1
    except Stopped as stopped:
        if at < 0:
            raise
        return Starter(units=usual.units, **_texts(given)), stopped
    return Starter(units=usual.units, **_texts(given)), None


def _usual(before: "Starter") -> "Starter":
    from ..report.starter import FEET, METRES

    units = ask(
        "Metres or feet (m, ft)?",
        "What a bare number means. Lengths with a unit, such as 3.8 m or 12 ft 6 in, always work. "
        'At any question "back" goes back one.',
        before.units,
        metres_or_feet,
    )
    return METRES if units == "m" else FEET


def _answer(question: Question, given: Answers, unit: "Unit") -> None:
    default, check = given[question.field], question.check(given, unit)
    try:
        check(default)
    except ValueError:  # the usual one does not fit what was answered before
        default = given["lowest"] if question.field == "highest" else default
    given[question.field] = ask(question.text, question.explanation, default, check)
    given[_ANSWERED] = f"{given.get(_ANSWERED, '')} {question.field}"


_ANSWERED = "answered"


def _kept(given: Answers) -> Answers:
    """Answers in words; lengths are asked again where the unit may have changed."""
    answered = given.get(_ANSWERED, "").split()
    words = ("title", "datum", "ears", "balcony", "coverage_deg", "mass", "mount", "points", "wll")
    return {field: given[field] for field in answered if field in words}


def _texts(given: Answers) -> Answers:
    return {field: text for field, text in given.items() if field not in ("units", _ANSWERED)}


# `aiming new`: a scenario file of one's own, asked for question by question.


def new(
    file: Annotated[
        str | None,
        typer.Argument(metavar="[FILE]", help="File to write; without it the text is printed."),
    ] = None,
    plain: Annotated[bool, option("--plain", "Write the starter file without asking.")] = False,
    feet: Annotated[bool, option("--feet", "Write the starter file in feet.")] = False,
    drawing: Annotated[
        str | None, option("--from DXF", "Take seating and surfaces from a drawing's layers.")
    ] = None,
    drawing_units: Annotated[
        str | None, option("--drawing-units UNIT", "Unit of the drawing: mm, cm, m, ft or in.")
    ] = None,
) -> None:
    """Make a scenario file, question by question, and solve it.

    Without a terminal, or with --plain, it writes a commented starter file.  With --from it lists
    a drawing's layers and takes seating and surfaces from them.  A file that exists is never
    overwritten.
    """
    from ..report.starter import FEET, METRES, starter_text

    if drawing is not None:
        _from(drawing, file, plain=plain, drawing_units=drawing_units)
        return
    if drawing_units is not None:
        raise UsageError("--drawing-units: goes with --from")
    if plain or not sys.stdin.isatty():
        _give(file, starter_text(FEET if feet else METRES))
        return
    _must_be_new(file)
    tell("A few questions about the section. Enter takes what stands in brackets.")
    try:
        start, stopped = asked_start()
    except Stopped as at_once:
        if at_once.by is not None:
            raise at_once.by from None
        raise UsageError("no question was answered; nothing was written") from None
    text = starter_text(start)
    tell("")
    if stopped is not None:
        _keep_unfinished(text, file, stopped)
    # First of all the answers are kept; whatever comes of them can be changed in the file.
    if file is not None:
        _give(file, text)
    _solve(text)
    if file is None:
        tell("\nNothing was kept; to keep it, name a file: aiming new hall.toml")


def _keep_unfinished(text: str, file: str | None, stopped: Stopped) -> NoReturn:
    """What was answered is not lost: the rest of the file says what is usual."""
    tell("stopped: what was answered is kept, and the rest is what stood in brackets")
    _give(file, text)
    if stopped.by is not None:
        raise stopped.by
    raise UsageError("the questions were not answered to their end")


def _from(drawing: str, file: str | None, *, plain: bool, drawing_units: str | None) -> None:
    """A scenario file from a drawing's layers."""
    from ..report.starter import drawn_text

    _must_be_new(file)
    asking = sys.stdin.isatty() and not plain
    start = drawn_start(drawing, into=file, drawing_units=drawing_units, asking=asking)
    _give(file, drawn_text(start))


def _solve(text: str) -> None:
    """Print the first screen of what the answers come to."""
    from ..analysis.solve import solve
    from ..report.text.summary import first_screen_text
    from ..report.text.terminal import stdout_terminal
    from ..scenario import load

    scenario = load("-", stdin_text=text)
    answer = solve(scenario)
    print_text(first_screen_text(answer, terminal=stdout_terminal()))


def _must_be_new(file: str | None) -> None:
    """Before anything is asked: raises OutputError where the file exists."""
    from ..report.output_folder import check_file

    if file is not None:
        check_file(file)


def _give(file: str | None, text: str) -> None:
    """Into the file, with what comes next; or on the screen."""
    from ..report.output_folder import write_file

    if file is None:
        print_text(text)
        return
    write_file(file, text.encode())
    tell(f"written to {file}; next: aiming solve {file}")
    path = Path(file)
    folder = path.with_suffix("") if path.suffix else "out"
    tell(f"with the hang sheet: aiming solve {file} --out {folder}")
