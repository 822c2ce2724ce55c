"""`aiming onsite` as a person uses it: typed levels, takes, sets before, records, smoothing."""

import json
import re
import tomllib
from pathlib import Path

import numpy as np
import pytest
from command_line import Ended, run
from onsite_scenes import BANDS_HZ, SCENARIO, levels_at, long_csv

import aiming
from aiming.site.traces import Trace

AT = ("1", "4", "9", "13", "17")


@pytest.fixture
def file(tmp_path: Path) -> Path:
    (tmp_path / "s.toml").write_text(SCENARIO, encoding="utf-8")
    return tmp_path / "s.toml"


def table(file: Path, name: str, tilt_deg: float) -> Path:
    """Levels at AT of a box at this tilt, without errors."""
    rows = aiming.load(file).rows
    at = [rows.names.index(one) for one in AT]
    level = levels_at(rows.x_m[at], rows.z_m[at], tilt_deg=tilt_deg)
    return long_csv(file.parent / name, [f"row {one}" for one in AT], BANDS_HZ, level)


def typed(file: Path, text: str, *more: str) -> tuple[Ended, str]:
    """What typing this comes to, and the table that was kept."""
    kept = file.parent / "typed.csv"
    ended = run("onsite", file, "--type", kept, *more, stdin=text)
    return ended, kept.read_text(encoding="utf-8") if kept.exists() else ""


# Typed in.


def positions(file: Path) -> list[str]:
    data = json.loads(run("onsite", file, "--json").out)
    return [one["name"] for one in data["check_positions"]]


def test_levels_are_typed_by_position_with_a_step_back(file: Path) -> None:
    names = positions(file)
    ended, kept = typed(
        file,
        "-20 -21 -22 -23\n"
        "-30 -30 -30\n"  # one too few: asked again
        "-29 -29 -29 -29\n"
        "back\n"
        "-19,5 −20,5 - -22,5\n"  # with decimal commas, one band left out
        "\n"  # a position left out
        "-25,-26,-27,-28\n",
    )
    assert ended.code == 0
    assert kept.splitlines()[:5] == [
        "position,1000,2000,4000,8000",
        f"{names[0]},-20,-21,-22,-23",
        f"{names[1]},-19.5,-20.5,,-22.5",
        f"{names[2]},,,,",
        f"{names[3]},-25,-26,-27,-28",
    ]
    assert len(kept.splitlines()) == 1 + len(names)
    assert "3 levels; 4" in ended.err
    assert names[3] in ended.out
    assert ended.out == run("onsite", file, file.parent / "typed.csv").out


@pytest.mark.parametrize("wrong", ["soft 1 2 3", "1e9 1 2 3", "1 2 3 4 5"])
def test_what_is_no_level_is_asked_again(file: Path, wrong: str) -> None:
    ended, kept = typed(file, f"{wrong}\n-1 -2 -3 -4\n-2 -3 -4 -5\n")
    assert ended.code == 0
    assert kept.splitlines()[1].endswith(",-1,-2,-3,-4")


def test_nothing_typed_is_nothing_written(file: Path) -> None:
    ended, kept = typed(file, "\n\n")
    assert ended.code == 2
    assert not kept
    ended, kept = typed(file, "1 2 3 4\n", str(table(file, "m.csv", -15.0)))
    assert ended.code == 2
    assert not kept


def test_the_trial_on_the_ground_is_typed_too(file: Path) -> None:
    bands = len(aiming.load(file).speakers[0].pattern.band_hz)
    line = " ".join(["-20"] * bands)
    ended, kept = typed(file, f"{line}\n{line.replace('0', '6')}\n", "--ground")
    assert ended.code == 0
    assert kept.splitlines()[1].startswith("axis at d,-20")
    assert "twice the distance" in ended.out


# One screen, or everything.


def test_one_screen_by_itself_and_every_row_with_full(file: Path) -> None:
    measured = table(file, "m.csv", -15.0)
    short, full = (run("onsite", file, measured, *more).out for more in ((), ("--full",)))
    assert len(short.splitlines()) <= 26
    rows = aiming.load(file).rows.names
    assert all(f"\nrow {name} " in full for name in rows)
    assert not all(f"\nrow {name} " in short for name in rows)
    for text in (short, full):
        assert max(map(len, text.splitlines())) <= 80
        assert all(f"\nrow {name} " in text for name in AT)


def test_without_a_read_tilt_a_move_gives_no_figure_to_set(file: Path) -> None:
    text = SCENARIO.replace("tilt = -15.0", "tilt = [-40.0, 10.0]")
    file.write_text(text.replace("height = 6.0", "height = 8.0"), encoding="utf-8")
    rows = aiming.load(file).rows
    plan = aiming.solve(aiming.load(file)).speakers[0].tilt_deg
    level = levels_at(rows.x_m, rows.z_m, tilt_deg=plan + 9.0, height_m=8.0)
    names = [rows.label(n) for n in range(len(rows.names))]
    measured = long_csv(file.parent / "m.csv", names, BANDS_HZ, level)
    first = run("onsite", file, measured).out.splitlines()[0]
    assert "LOWER THE NOSE" in first
    assert "FROM WHERE IT HANGS" in first
    (file.parent / "r.csv").write_text(f"reading,at,value\ninclinometer,axis,{plan + 9.0}\n")
    first = run("onsite", file, measured, "--readings", file.parent / "r.csv").out.splitlines()[0]
    assert "FROM WHERE IT HANGS" not in first
    assert "inclinometer −" in first


# Several files of one position, a set before, smoothing.


def test_several_files_of_one_position_are_takes(file: Path) -> None:
    folder = file.parent
    for name, off in (("a", 0.0), ("b", -6.0), ("c", -9.0)):
        lines = [f"{band:g} {-20.0 + off:g}" for band in BANDS_HZ]
        (folder / f"{name}.txt").write_text("\n".join(lines) + "\n")
    more = ["--at", f"row 2={folder}/a.txt", "--at", f"row 2={folder}/b.txt"]
    ended = run("onsite", file, *more, "--at", f"row 9={folder}/c.txt", "--json")
    told = json.loads(ended.out)
    levels = {one["name"]: one["measured_db"] for one in told["positions"]}
    assert [("row 2" in one, "6.0 dB" in one) for one in told["notes"]] == [(True, True)]
    energy = 10.0 * np.log10(0.5 * (10.0**-2.0 + 10.0**-2.6))
    assert levels["row 2"]["1000"] == pytest.approx(energy, abs=1e-6)
    assert levels["row 9"]["1000"] == pytest.approx(-29.0)


def test_a_set_before_is_drawn_and_told_beside(file: Path) -> None:
    was, now = table(file, "was.csv", -24.0), table(file, "now.csv", -15.0)
    out = file.parent / "out"
    ended = run("onsite", file, now, "--before", was, "--out", out)
    alone = run("onsite", file, was, "--json")
    spread = json.loads(alone.out)["spread_now_db"]
    assert f"Set before: spread {spread:.1f} dB" in ended.out
    assert "set before" in (out / "onsite.svg").read_text(encoding="utf-8")


def test_smoothing_is_for_the_drawing_alone(file: Path) -> None:
    folder = file.parent
    f = np.geomspace(200.0, 12_000.0, 300)
    at = []
    for n, name in enumerate(AT[:3]):
        level = -20.0 - n + 2.0 * np.sin(40.0 * np.log(f))
        np.savetxt(folder / f"{n}.txt", np.stack([f, level], axis=1))
        at += ["--at", f"row {name}={folder}/{n}.txt"]
    plain, smooth = folder / "plain", folder / "smooth"
    run("onsite", file, *at, "--out", plain)
    run("onsite", file, *at, "--out", smooth, "--smooth", "3")
    assert (plain / "onsite.json").read_bytes() == (smooth / "onsite.json").read_bytes()
    assert (plain / "onsite.svg").read_bytes() != (smooth / "onsite.svg").read_bytes()
    assert run("onsite", file, *at, "--smooth", "0").code == 2


def test_a_trace_is_smoothed_by_energy_over_a_window_of_its_own_width() -> None:
    f = np.geomspace(100.0, 10_000.0, 481)
    wave = 6.0 * np.sin(2.0 * np.pi * np.log2(f) * 3.0)
    found = Trace("a", f, wave, np.ones(481), "f", 1).smoothed(1.0 / 3.0).level_db
    # A third of an octave is one whole period: within the trace nothing of it is left but energy's
    # own mean over a period.
    energy = 10.0 ** (0.6 * np.sin(np.linspace(0.0, 2.0 * np.pi, 1000, endpoint=False)))
    inside = (f > 130.0) & (f < 7500.0)
    assert found[inside] == pytest.approx(10.0 * np.log10(energy.mean()), abs=0.35)
    flat = Trace("a", f, np.full(481, -3.0), np.ones(481), "f", 1).smoothed(1.0)
    assert flat.level_db == pytest.approx(-3.0, abs=1e-9)


# The record.


def entries(record: Path) -> list[dict[str, object]]:
    found: list[dict[str, object]] = tomllib.loads(record.read_text(encoding="utf-8"))["run"]
    return found


def test_the_record_keeps_what_was_found_and_compares_with_its_last_entry(file: Path) -> None:
    record = file.parent / "day.txt"
    readings = file.parent / "r.csv"
    readings.write_text("reading,at,value\ninclinometer,axis,-19.0\n")
    first = run("onsite", file, table(file, "a.csv", -19.0), "--readings", readings,
                "--record", record, "--by", 'Ann "A" O', "--date", "2026-11-28")  # fmt: skip
    assert first.code == 0
    assert "before:" not in first.err
    readings.write_text("reading,at,value\ninclinometer,axis,-15.1\n")
    second = run("onsite", file, table(file, "b.csv", -15.0), "--readings", readings,
                 "--record", record)  # fmt: skip
    one, two = entries(record)
    assert (one["by"], one["date"]) == ('Ann "A" O', "2026-11-28")
    assert (two["by"], two["date"]) == ("", "")
    assert "20 °C, 50 %" in str(one["air"])
    assert one["positions"] == [f"row {name}" for name in AT]
    assert len(one["readings"]) == 1
    assert "a.csv" in str(one["set"])
    assert "r.csv" in str(one["set"])
    tilt = one["tilt_error_deg"]
    assert isinstance(tilt, list)
    low, value, high = tilt
    assert low < value < high
    assert value == pytest.approx(-4.0, abs=0.2)
    assert str(one["decision"]) in second.err
    assert re.search(r"−4\.0° then, −0\.[012]° now", second.err)
    assert f"{one['spread_now_db']:.1f} dB then, {two['spread_now_db']:.1f} dB now" in second.err


def test_another_loudspeakers_entry_is_not_compared_with(file: Path) -> None:
    record = file.parent / "day.txt"
    measured = table(file, "a.csv", -15.0)
    run("onsite", file, measured, "--record", record)
    text = record.read_text(encoding="utf-8").replace('speaker = "main"', 'speaker = "other"')
    record.write_text(text, encoding="utf-8")
    assert "before:" not in run("onsite", file, measured, "--record", record).err
    assert len(entries(record)) == 2


@pytest.mark.parametrize("text", ["# a shopping list\n", "[[run]]\nby = 1\n", "run = 3\n", "eggs"])
def test_what_is_no_record_is_refused_and_left(file: Path, text: str) -> None:
    record = file.parent / "day.txt"
    record.write_text(text)
    ended = run("onsite", file, table(file, "a.csv", -15.0), "--record", record)
    assert ended.code == 2
    assert "no record" in ended.err
    assert record.read_text() == text


# By the phase.


def phased(file: Path, way_of: dict[str, str]) -> list[str]:
    """Traces with phase of a box as planned; way_of: whose place a microphone really stood at."""
    scenario = aiming.load(file)
    rows, f = scenario.rows, np.geomspace(150.0, 12_000.0, 300)
    at = []
    for name in AT:
        n = rows.names.index(way_of.get(name, name))
        way = float(np.hypot(rows.x_m[n], rows.z_m[n] - 6.0))
        level = levels_at(rows.x_m[[n]], rows.z_m[[n]])[:, 0] - np.array([3.0, -40.0, 12.0, 0.5])
        db = np.interp(np.log(f), np.log(BANDS_HZ), level)
        phase = np.degrees(np.angle(np.exp(-2j * np.pi * f * way / 343.2)))
        path = file.parent / f"{name}.txt"
        np.savetxt(path, np.stack([f, db, phase], axis=1))
        at += ["--at", f"row {name}={path}"]
    return at


def test_arrivals_tell_two_files_that_were_swapped(file: Path) -> None:
    found = json.loads(run("onsite", file, *phased(file, {"4": "13", "13": "4"}), "--json").out)
    assert found["swapped"] == ["row 4", "row 13"]
    assert found["headline"].startswith("LEAVE IT: row 4 and row 13")
    assert found["explained"] is False
    assert found["move"] is False


def test_arrivals_tell_a_row_counted_wrong(file: Path) -> None:
    found = json.loads(run("onsite", file, *phased(file, {"13": "14"}), "--json").out)
    assert found["headline"].startswith("LEAVE IT: look where row 13")
    (wrong,) = [one for one in found["arrivals"] if abs(one["farther_m"]) > 0.3]
    rows = aiming.load(file).rows
    way = np.hypot(rows.x_m, rows.z_m - 6.0)
    assert wrong["farther_m"] == pytest.approx(way[13] - way[12], abs=0.05)
    right = json.loads(run("onsite", file, *phased(file, {}), "--json").out)
    assert right["headline"] == "LEAVE IT"
    assert max(abs(one["farther_m"]) for one in right["arrivals"]) < 0.02
