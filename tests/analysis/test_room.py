"""A real room from file to answer: shadow, reflections, sightlines, clearance, the front row."""

import math
import re
from pathlib import Path

import numpy as np
import pytest
from command_line import run
from held_scenes import codes, told
from paths import TESTS

import aiming
from aiming.analysis.clearances import CROWN_M, runs_through
from aiming.field.diffraction import screening_loss_db
from aiming.results.answer import Answer

C_20 = 343.2
BOX = "cabinet.outline = [[-0.4, -0.3], [0.0, -0.3], [0.0, 0.3], [-0.4, 0.3]]"
PLACE = "x = 0.0\nheight = 6.0\ntilt = -15"
FLAT = """
[[seating]]
name = "stalls"
line = [[4.0, 0.0], [22.0, 0.0]]
row_spacing = 1.0
"""
BALCONY = """
[[seating]]
name = "balcony"
line = [[14.0, 4.0], [34.0, 4.0]]
row_spacing = 1.0
"""


def solved(
    *parts: str, place: str = PLACE, speaker: str = "", seating: str = FLAT, aim: str = ""
) -> Answer:
    text = "\n".join(
        [
            f"[aim]\naxis_on_audience = false\n{aim}",
            seating,
            *parts,
            f'[[speaker]]\nname = "main"\npattern.coverage = 60\n{speaker}',
            f"[speaker.placement]\n{place}",
        ]
    )
    return aiming.solve(aiming.load("-", stdin_text=text))


def surface(name: str, line: str, more: str = "") -> str:
    return f'[[surface]]\nname = "{name}"\nline = {line}\n{more}\n'


# Shadow


def test_a_balcony_hides_rows_where_the_ruler_says_so() -> None:
    """From (0, 8) past the balcony's front edge (14, 4) the ray comes down to 1.2 m at x = 23.8: no
    row is hidden; from (0, 5) at x = 53.2.  From (0, 10): z = 10 − 6·x/14 is 1.2 at x = 20.53."""
    high = solved(BALCONY, place="x = 0.0\nheight = 10.0\ntilt = -15")
    shadow = high.rows.by_speaker["main"].shadow_db
    x, stalls = high.rows.x_m, np.array(high.rows.seating) == "stalls"
    edge = 14.0 * 8.8 / 6.0
    assert edge == pytest.approx(20.533, abs=1e-3)
    hidden = stalls & (x > edge)
    assert (shadow[:, hidden] > 5.0).all()
    assert (shadow[:, stalls & ~hidden] < 5.0).all()
    assert (shadow[:, ~stalls] == 0.0).all()
    found = told(high, "rows-in-shadow")
    assert "rows 17 to 19 of stalls" in found.text
    assert found.value == pytest.approx(float(shadow.mean(axis=0).max()))
    assert "rows-in-shadow" not in codes(solved(BALCONY, place="x = 0.0\nheight = 5.0\ntilt = -15"))


def test_the_loss_is_that_of_the_way_round_the_edge() -> None:
    answer = solved(BALCONY, place="x = 0.0\nheight = 10.0\ntilt = -15")
    row = int(np.flatnonzero((answer.rows.x_m == 22.0) & (answer.rows.z_m == 1.2))[0])
    round_edge = math.hypot(14.0, 6.0) + math.hypot(8.0, 2.8)
    extra = round_edge - math.hypot(22.0, 8.8)
    hz = np.array([1000.0, 1995.262, 3981.072, 7943.282])
    expected = screening_loss_db(np.array([extra]), hz, c_m_s=C_20)[:, 0]
    found = answer.rows.by_speaker["main"].shadow_db[:, row]
    np.testing.assert_allclose(found, expected, atol=0.01)
    assert found.min() > 6.0 and found.max() > 10.0


def test_shadowed_rows_count_unless_another_serves_them() -> None:
    place = "x = 0.0\nheight = 10.0\ntilt = -35"
    split = FLAT.replace("22.0", "18.0") + FLAT.replace("stalls", "rear").replace("4.0", "19.0")
    both, front = (
        solved(BALCONY, seating=split, place=place, speaker=f"serves = {serves}")
        for serves in ('["stalls", "rear"]', '["stalls"]')
    )
    assert "of rear" in told(both, "rows-in-shadow").text
    assert "rows-in-shadow" not in codes(front)
    counted, spared = both.speakers[0].spread_db, front.speakers[0].spread_db
    assert counted is not None and spared is not None
    assert counted > spared + 5.0


def test_raising_a_balcony_front_never_brightens_a_row_behind_it() -> None:
    before = None
    for top in np.arange(4.0, 6.6, 0.2):
        front = (
            surface("front", f"[[14.0, 4.0], [13.8, 4.0], [13.8, {top:.2f}]]") if top > 4.0 else ""
        )
        answer = solved(BALCONY, front, place="x = 0.0\nheight = 6.0\ntilt = -5")
        behind = np.array(answer.rows.seating) == "balcony"
        level = answer.rows.levels_db[:, behind]
        if before is not None:
            assert (level <= before + 1e-9).all()
        before = level
    assert before is not None
    assert level.min() < solved(BALCONY).rows.levels_db.min() - 5.0


def test_a_surface_that_touches_no_ray_changes_nothing() -> None:
    place = "x = 0.0\nheight = [5.0, 7.0]\ntilt = [-40, 10]"
    bare = solved(place=place)
    far = solved(surface("shed", "[[-9.0, 0.0], [-9.0, 2.0]]", "absorption = 1.0"), place=place)
    assert bare.speakers[0].placement == far.speakers[0].placement
    np.testing.assert_array_equal(bare.rows.levels_db, far.rows.levels_db)
    assert [one.code for one in bare.cautions] == [one.code for one in far.cautions]


def test_splitting_a_seating_in_two_changes_no_level() -> None:
    whole = solved()
    halves = FLAT.replace("22.0", "13.0") + FLAT.replace("stalls", "rear").replace("4.0", "14.0")
    split = solved(seating=halves)
    assert len(split.rows) == len(whole.rows) == 19
    np.testing.assert_allclose(split.rows.levels_db, whole.rows.levels_db, atol=1e-9)


# Sound that misses

BACK = surface("back wall", "[[30.0, 0.0], [30.0, 9.0]]", "absorption = 0.5")


def test_back_wall_at_row_and_stage_by_image_source() -> None:
    """Mirrored in x = 30 the loudspeaker stands at (60, 6)."""
    point = '[[point]]\nname = "mic"\nat = [2.0, 1.6]\nkind = "stage microphone"\n'
    answer = solved(BACK, point)
    reflections = answer.to_dict()["speakers"][0]["reflections"]
    row = next(one for one in reflections if one["row"] == 0)
    way, direct = math.hypot(56.0, 4.8), math.hypot(4.0, 4.8)
    assert row["surface"] == "back wall" and row["point"] is None
    assert row["distance_m"] == pytest.approx(way, abs=1e-9)
    assert row["delay_ms"] == pytest.approx(1e3 * (way - direct) / C_20, abs=1e-6)
    assert row["at"] == pytest.approx([30.0, 6.0 - 4.8 * 30.0 / 56.0], abs=1e-9)
    mic = next(one for one in reflections if one["point"] == "mic")
    assert mic["delay_ms"] == pytest.approx(
        1e3 * (math.hypot(58.0, 4.4) - math.hypot(2.0, 4.4)) / C_20, abs=1e-6
    )
    # −15° ± 30° is half amplitude: the quadratic lobe, distance, half the energy.
    to_wall = math.degrees(math.atan2(-4.4, 58.0)) + 15.0
    to_mic = math.degrees(math.atan2(-4.4, 2.0)) + 15.0
    lobe = [max(-24.0, -20.0 * math.log10(2.0) * (a / 30.0) ** 2) for a in (to_wall, to_mic)]
    way, direct = math.hypot(58.0, 4.4), math.hypot(2.0, 4.4)
    level = lobe[0] - lobe[1] - 20.0 * math.log10(way / direct) - 10.0 * math.log10(2.0)
    air = {one["point"]: one["level_db"] for one in reflections}["mic"]["1000"]
    assert air == pytest.approx(level - 0.0047 * (way - direct), abs=0.05)


def test_behind_a_screen_the_reflection_gains_what_the_direct_sound_loses() -> None:
    screen = surface("screen", "[[10.0, 0.0], [10.0, 4.0]]", "absorption = 1.0")

    def off_the_back(answer: Answer, row: int) -> float:
        [found] = [
            one["level_db"]["1000"]
            for one in answer.to_dict()["speakers"][0]["reflections"]
            if one["row"] == row and one["surface"] == "back wall"
        ]
        return float(found)

    bare, hidden = solved(BACK), solved(BACK, screen)
    row = int(np.flatnonzero(bare.rows.x_m == 14.0)[0])
    lost = float(hidden.rows.by_speaker["main"].shadow_db[0, row])
    assert lost > 5.0
    assert off_the_back(hidden, row) == pytest.approx(off_the_back(bare, row) + lost, abs=1e-9)


def test_late_reflection_is_told_where_late_and_strong() -> None:
    point = '[[point]]\nname = "mic"\nat = [2.0, 1.6]\nkind = "stage microphone"\n'
    late = solved(BACK, point, "[cautions]\nlate_db = -12\n")
    row, mic = (one for one in late.cautions if one.code == "late-reflection")
    assert "back wall" in row.text and "3 more" in row.text
    assert "back wall" in mic.text and "mic (stage microphone)" in mic.text
    assert mic.limit == -12.0 and mic.value is not None and -12.0 < mic.value < -8.0
    assert "late-reflection" not in codes(
        solved(BACK, point, "[cautions]\nlate_ms = 400\n", seating=FLAT)
    )
    assert "late-reflection" not in codes(solved(BACK, point, "[cautions]\nlate_db = 20\n"))
    soft = BACK.replace("0.5", "1.0")
    assert "late-reflection" not in codes(solved(soft, point))


def test_where_the_sound_lands_adds_up() -> None:
    lands = solved(BACK).to_dict()["speakers"][0]["lands_percent"]
    parts = [*lands["seating"].values(), *lands["surface"].values()]
    assert sum(parts) + lands["beneath_floors"] + lands["nowhere"] == pytest.approx(100.0, abs=1e-9)
    assert lands["seating"]["stalls"] > 40.0
    assert lands["surface"]["back wall"] > 5.0


# Sightlines and clearance


def test_who_loses_sight_of_what_by_the_ruler() -> None:
    """The box is 0.6 m high about (2, 2): from eyes at 1.2 m the line to (−4, 2.0) passes x = 2 at
    1.2 + 0.8·(x − 2)/(x + 4): it meets the front face from 1.7 m up, beyond x = 12."""
    place = "x = 2.0\nheight = 2.0\ntilt = 0"
    answer = solved("[focus]\nat = [-4.0, 2.0]\n", place=place, speaker=BOX)
    room = answer.speakers[0].room
    assert room is not None and room.hides_focus_from is not None
    x = answer.rows.x_m
    at_back = 1.2 + 0.8 * (x - 1.6) / (x + 4.0)
    at_face = 1.2 + 0.8 * (x - 2.0) / (x + 4.0)
    crosses = np.flatnonzero((at_face > 1.7) | (at_back > 1.7))
    assert room.hides_focus_from == tuple(crosses)
    assert 0 < len(crosses) < len(x)
    found = told(answer, "in-sightline")
    assert found.value == len(crosses) and "focus" in found.text
    low = (
        solved("[focus]\nat = [-4.0, 2.0]\neyes_above_ears = -1.0\n", place=place, speaker=BOX)
        .speakers[0]
        .room
    )
    assert low is not None and low.hides_focus_from is not None
    at_back, at_face = (0.2 + 1.8 * (x - of) / (x + 4.0) for of in (1.6, 2.0))
    through = ((at_face > 1.7) | (at_back > 1.7)) & (np.minimum(at_face, at_back) < 2.3)
    assert low.hides_focus_from == tuple(np.flatnonzero(through))
    assert low.hides_focus_from != tuple(crosses)


def test_what_the_house_hides_already_is_not_laid_at_the_cabinets_door() -> None:
    place = "x = 2.0\nheight = 2.0\ntilt = 0"
    screen = surface("screen", "[[-1.0, 0.0], [-1.0, 9.0]]", "absorption = 1.0")
    room = solved("[focus]\nat = [-4.0, 2.0]\n", screen, place=place, speaker=BOX).speakers[0].room
    assert room is not None and room.hides_focus_from is not None
    assert len(room.hides_focus_from) == 0


def test_clearances_by_hand() -> None:
    place = "x = 6.0\nheight = 4.0\ntilt = 0"
    wall = surface("truss", "[[3.0, 4.9], [9.0, 4.9]]")
    room = solved(wall, place=place, speaker=BOX).speakers[0].room
    assert room is not None
    assert room.over_heads_m == pytest.approx(3.7 - 1.2 - CROWN_M, abs=1e-9)
    assert room.nearest_surface is not None and room.nearest_surface.name == "truss"
    assert room.nearest_surface.distance_m == pytest.approx(0.6)
    assert room.nearest_listener.distance_m == pytest.approx(2.5, abs=1e-9)
    assert room.front_elevation_deg == pytest.approx(math.degrees(math.atan2(2.8, 2.0)), abs=1e-9)
    assert room.collides == ()


def test_collision_stops() -> None:
    ceiling = surface("ceiling", "[[-2.0, 6.2], [9.0, 6.2]]")
    answer = solved(ceiling, speaker=BOX)
    assert answer.stopped
    assert "ceiling" in told(answer, "collision").text
    # Level, the box reaches 6.3 m; a ceiling that it only touches is none.
    level = PLACE.replace("-15", "0")
    touching = ceiling.replace("6.2", "6.295")
    assert "collision" not in codes(solved(touching, speaker=BOX, place=level))
    assert "collision" in codes(solved(ceiling, speaker=BOX, place=level))


def test_a_line_within_an_outline_is_a_collision_too() -> None:
    box = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])
    assert runs_through(box, np.array([[0.4, 0.4], [0.6, 0.5]]))
    assert not runs_through(box, np.array([[1.0, -1.0], [1.0, 2.0]]))
    assert not runs_through(box, np.array([[2.0, 0.0], [3.0, 1.0]]))


def test_front_elevation_limits_the_search_and_warns_where_given() -> None:
    """Ears at (4, 1.2): at 30° the acoustic centre hangs at most 1.2 + 4·tan 30° high."""
    free = solved(place="height = [3.0, 9.0]\ntilt = [-60, 0]", aim="lower_if_within_db = 0")
    held = solved(
        place="height = [3.0, 9.0]\ntilt = [-60, 0]",
        aim="lower_if_within_db = 0\ngap_db = 0.002\nmax_front_elevation_deg = 30",
    )
    top = 1.2 + 4.0 * math.tan(math.radians(30.0))
    assert free.speakers[0].height_m > top + 1.0
    assert held.speakers[0].height_m == pytest.approx(top, abs=0.05)
    assert held.speakers[0].height_m <= top + 1e-6
    assert "max_front_elevation_deg" in held.speakers[0].limited_by
    assert "front-elevation" not in codes(held)
    given = told(solved(aim="max_front_elevation_deg = 30"), "front-elevation")
    assert given.value == pytest.approx(math.degrees(math.atan2(4.8, 4.0)), abs=1e-9)


def test_the_focus_says_which_row_is_the_front() -> None:
    """A stage in the middle: the nearest row to it looks up, not the one with the least x."""
    answer = solved("[focus]\nat = [20.0, 2.0]\n", place="x = 21.0\nheight = 5.0\ntilt = -80")
    room = answer.speakers[0].room
    assert room is not None
    assert room.front_elevation_deg == pytest.approx(math.degrees(math.atan2(3.8, 1.0)), abs=1e-9)


def test_summary_names_what_comes_back_and_who_sees(tmp_path: Path) -> None:
    source = TESTS / "data" / "scenarios" / "valid" / "room.toml"
    ended = run("solve", source, "--full")
    assert ended.code == 0
    text = " ".join(ended.out.split())
    assert re.search(r"points back wall sends sound to lectern \d+ ms", text)
    assert "no first reflection in the section reaches house opposite" in text
    assert re.search(r"view the front row sees it \d+°", text)
    assert run("solve", source, "--out", tmp_path / "out", "--quiet").code == 0
    assert (tmp_path / "out" / "checks.pdf").read_bytes().startswith(b"%PDF")
