"""`aiming new`: a starter file, and questions on a terminal that end in a solved aim."""

import os
import pty
import re
import signal
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from command_line import Ended, run

from aiming.cli.typed import (
    a_length,
    an_angle,
    ears_or_length,
    metres_or_feet,
    one_of,
    some_text,
)
from aiming.report.starter import FEET, METRES, Starter, starter_text
from aiming.scenario import check, load


def on_a_terminal(typed: str, *arguments: str) -> Ended:
    """The command with a terminal as its standard input, on which this is typed."""
    keyboard, terminal = pty.openpty()
    try:
        os.write(keyboard, typed.encode() + b"\x04")
        ended = subprocess.run(
            [sys.executable, "-m", "aiming", "new", *arguments],
            stdin=terminal,
            capture_output=True,
            text=True,
            encoding="utf-8",
            check=False,
            timeout=120,
        )
    finally:
        os.close(keyboard)
        os.close(terminal)
    return Ended(ended.returncode, ended.stdout, ended.stderr)


@pytest.mark.parametrize("start", [METRES, FEET], ids=lambda start: start.units)
def test_starter_file_has_no_faults_and_solves(start: Starter) -> None:
    text = starter_text(start)
    assert check("-", stdin_text=text) == ()
    assert max(map(len, text.splitlines())) <= 100
    assert run("solve", "-", "--quiet", stdin=text).code == 0


@pytest.mark.parametrize("start", [METRES, FEET], ids=lambda start: start.units)
def test_what_the_file_offers_is_valid_once_its_signs_are_taken_away(start: Starter) -> None:
    head, below = starter_text(start).split("schema = 1", 1)
    keys = re.compile(r"^# ?( {9}\{|\[|(tilt|mass|picks|method|secondary_suspension|name|line) =)")
    lines = [re.sub(r"^# ?", "", one) if keys.match(one) else one for one in below.splitlines()]
    whole = f"{head}schema = 1{chr(10).join(lines)}"
    assert check("-", stdin_text=whole) == ()
    scenario = load("-", stdin_text=whole)
    body = scenario.speakers[0].cabinet
    assert body is not None and body.mass_kg == 26.0 and len(body.picks) == 2
    assert scenario.surfaces and scenario.rigging["main"]


def test_a_title_with_quotes_and_markup_stays_a_title() -> None:
    title = 'The "Old\\Barn" <b>& Friends</b> 劇場'
    scenario = load("-", stdin_text=starter_text(replace(METRES, title=title, datum="a 'b'")))
    assert (scenario.title, scenario.datum) == (title, "a 'b'")


def test_without_a_terminal_it_writes_the_starter_file(tmp_path: Path) -> None:
    assert run("new").out == run("new", "--plain").out == starter_text(METRES)
    assert run("new", "--plain", "--feet").out == starter_text(FEET)
    target = tmp_path / "hall.toml"
    ended = run("new", target)
    assert (ended.code, ended.out) == (0, "")
    assert target.read_text("utf-8") == starter_text(METRES)
    target.write_text("mine")
    again = run("new", target)
    assert (again.code, again.out) == (2, "")
    assert "exists already" in again.err
    assert target.read_text() == "mine"


def test_enter_all_the_way_ends_in_a_solved_aim(tmp_path: Path) -> None:
    target = tmp_path / "hall.toml"
    ended = on_a_terminal("\n" * 30, str(target))
    assert ended.code == 0, ended.err
    assert ended.out.startswith("A hall of my own") and "nose down" in ended.out
    assert target.read_text("utf-8") == starter_text(METRES)
    assert "Enter takes what stands in brackets" in ended.err


def test_answers_are_taken_and_wrong_ones_asked_again(tmp_path: Path) -> None:
    target = tmp_path / "barn.toml"
    typed = [
        "yards", "feet", "Barn", "barn door", "15,5", "12 ft 6 in", "10", "70", "", "4", "standing",
        "0", "3", "no", "ninety", "50", "24 in", "14 in", "heavy", "57 lb", "flown", "2", "2 in",
        "12 in", "330 lb", "-2", "14", "12", "20",
    ]  # fmt: skip
    ended = on_a_terminal("\n".join(typed) + "\n", str(target))
    assert ended.code == 0, ended.err
    for said in (
        "m or ft",
        "a decimal point",
        "more than 12 ft 6 in",
        "at least 14",
        "more than 0",
        "a mass such as",
    ):
        assert said in ended.err
    scenario = load(target)
    hang = scenario.speakers[0].hang
    assert (scenario.title, scenario.units, scenario.datum) == ("Barn", "ft", "barn door")
    assert scenario.seatings[0].floor_m[0, 0] == pytest.approx(12.5 * 0.3048)
    assert scenario.seatings[0].ear_height_m == 1.6
    assert hang.x_m == pytest.approx((-2 * 0.3048,) * 2)
    assert hang.vertical == "trim"
    assert hang.vertical_m == pytest.approx((14 * 0.3048, 20 * 0.3048))
    body = scenario.speakers[0].cabinet
    assert body is not None and body.mass_kg == pytest.approx(57 * 0.45359237)
    assert body.height_m == pytest.approx(24 * 0.0254)
    assert [pick.at_m[0] for pick in body.picks] == pytest.approx([-0.0508, -0.3048], abs=1e-4)
    assert '"-2.00 in"' in target.read_text()  # in the file's own unit
    assert scenario.rigging["main"]["upright"].picks == ("front", "rear")


def test_stacked_asks_for_what_it_stands_on(tmp_path: Path) -> None:
    target = tmp_path / "club.toml"
    ended = on_a_terminal("\n" * 14 + "stacked\n\n0.9\n", str(target))
    assert ended.code == 0, ended.err
    scenario = load(target)
    assert scenario.speakers[0].hang.mount == "stacked"
    assert scenario.base_m == {"main": 0.9}


def test_a_balcony_and_one_step_back(tmp_path: Path) -> None:
    target = tmp_path / "hall.toml"
    typed = ["m", "Hal", "back", "Hall", *[""] * 7, "yes", "13", "back", "14", *[""] * 20]
    ended = on_a_terminal("\n".join(typed) + "\n", str(target))
    assert ended.code == 0, ended.err
    scenario = load(target)
    assert scenario.title == "Hall"
    assert [seating.name for seating in scenario.seatings] == ["floor", "balcony"]
    assert scenario.seatings[1].floor_m[0, 0] == 14.0


def test_ended_early_keeps_what_was_answered(tmp_path: Path) -> None:
    target = tmp_path / "hall.toml"
    ended = on_a_terminal("\nMy hall\n", str(target))
    assert (ended.code, ended.out) == (2, "")
    assert load(target).title == "My hall"
    again = on_a_terminal("", str(target))
    assert again.code == 2 and "Metres or feet" not in again.err
    printed = on_a_terminal("ft\nBarn\n")
    assert printed.code == 2
    assert load("-", stdin_text=printed.out).title == "Barn"
    nothing = tmp_path / "none.toml"
    assert on_a_terminal("", str(nothing)).code == 2
    assert not nothing.exists()


def test_ctrl_c_keeps_what_was_answered(tmp_path: Path) -> None:
    target = tmp_path / "hall.toml"
    keyboard, terminal = pty.openpty()
    start = (
        "import signal; signal.signal(signal.SIGINT, signal.default_int_handler); "
        "from aiming.__main__ import main; main()"
    )
    with subprocess.Popen(
        [sys.executable, "-c", start, "new", str(target)],
        stdin=terminal,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    ) as asking:
        os.write(keyboard, b"m\nMy hall\n")
        assert asking.stderr is not None
        told = ""
        while "Datum?" not in told:
            told += asking.stderr.read(1)
        asking.send_signal(signal.SIGINT)
        asking.communicate(timeout=60)
    os.close(keyboard)
    os.close(terminal)
    assert asking.returncode == 130
    assert load(target).title == "My hall"


def test_checks_of_answers() -> None:
    assert metres_or_feet("Feet") == "ft"
    assert one_of("flown", "stacked")("st") == "stacked"
    assert an_angle("60°") == "60"
    assert ears_or_length("m")("Seated") == "seated"
    assert a_length("m", above="4", or_equal=True)("4") == "4"
    for check_of, wrong in (
        (one_of("flown", "stacked"), "hung"),
        (an_angle, "0"),
        (an_angle, "nan"),
        (an_angle, "90 x 60"),
        (ears_or_length("m"), "-1"),
        (a_length("m", above="4"), "4"),
        (a_length("m"), "3 miles"),
        (some_text, "a\x1b[2Jb"),
    ):
        with pytest.raises(ValueError, match=r";|only"):
            check_of(wrong)
