"""The fixed words held sentence by sentence, from outside: scenario files in, answers out.

Here rows, places, angles and patterns.
"""

import json
import math

import pytest
from asked import FINE_DB, Plain, evaluated, mains, only, scene
from outside import (
    Point,
    air_db,
    lowest_corner,
    midband_hz,
    piston,
    quadratic,
    rows,
    seen,
    wrapped,
)

import aiming

# Rows


@pytest.mark.parametrize(
    ("line", "spacing"),
    [
        (((4.0, 0.0), (18.0, 1.4)), 0.9),
        (((2.0, 0.0), (2.3, 0.1)), 0.9),
        (((0.0, 0.0), (2.25, 0.0)), 0.9),  # 2.5 intervals
        (((1.0, 0.0), (5.0, 0.0), (5.0, 0.4), (9.0, 0.4)), 1.0),
        (((1.0, 0.0), (4.0, -1.0), (11.0, 3.0)), 0.75),
        (((-3.0, 0.5), (6.0, 0.5), (6.0, 1.5)), 1.5),
    ],
)
def test_rows_stand_evenly_in_x_and_on_the_later_point_of_a_riser(
    line: tuple[Point, ...], spacing: float
) -> None:
    points = ", ".join(f"[{x}, {z}]" for x, z in line)
    text = f'[[seating]]\nname = "t"\nline = [{points}]\nrow_spacing = {spacing}\n'
    got = [(row["x_m"], row["z_m"]) for row in evaluated(scene(seating=text))["rows"]]
    want = rows(line, spacing=spacing)
    assert len(got) == len(want)
    for (x, z), (own_x, own_z) in zip(got, want, strict=True):
        assert x == pytest.approx(own_x, abs=1e-9)
        assert z == pytest.approx(own_z, abs=1e-9)


@pytest.mark.parametrize(("spacing", "moved"), [(0.9, True), (1.0, False), (0.99, False)])
def test_a_note_tells_where_rows_had_to_move_by_more_than_two_percent(
    spacing: float, moved: bool
) -> None:
    # 14 m: 0.9 m becomes 0.875 m, 2.8 % off; 0.99 m becomes 1 m, 1.0 % off.
    text = f'[[seating]]\nname = "t"\nline = [[4, 0], [18, 0]]\nrow_spacing = {spacing}\n'
    answer = evaluated(scene(seating=text))
    notes = [one for one in answer["cautions"] if "rows stand" in one["text"]]
    assert bool(notes) == moved
    assert all(one["severity"] == "note" for one in notes)


def test_rows_may_be_counted_and_named() -> None:
    text = (
        '[[seating]]\nname = "t"\nline = [[4, 0], [18, 1.4]]\nrows = 5\n'
        'row_names = ["A", "B", "C", "D", "E"]\nears = "standing"\n'
    )
    answer = evaluated(scene(seating=text))
    assert [row["name"] for row in answer["rows"]] == ["A", "B", "C", "D", "E"]
    assert [row["x_m"] for row in answer["rows"]] == pytest.approx([4, 7.5, 11, 14.5, 18])
    assert [row["z_m"] for row in answer["rows"]] == pytest.approx([1.6, 1.95, 2.3, 2.65, 3.0])


def test_a_line_that_goes_back_is_refused() -> None:
    text = '[[seating]]\nname = "t"\nline = [[4, 0], [3.9, 1.4], [8, 2]]\n'
    with pytest.raises(aiming.ScenarioError):
        aiming.load("-", stdin_text=scene(seating=text))


# Trim and off-axis angle

OUTLINE = ((-0.38, -0.20), (0.02, -0.20), (0.02, 0.44), (-0.38, 0.44))
CABINET = f"[speaker.cabinet]\noutline = {json.dumps(OUTLINE)}\n"


@pytest.mark.parametrize("flipped", [False, True])
@pytest.mark.parametrize("tilt", [-90.0, -37.0, 0.0, 22.0, 90.0])
def test_trim_is_the_lowest_corner_after_flipping_then_tilting(tilt: float, flipped: bool) -> None:
    way = "flipped" if flipped else "upright"
    place = f'height = 6.0\ntilt = {tilt}\norientation = "{way}"'
    one = only(evaluated(scene(placement=place) + CABINET))
    assert one["trim_m"] == pytest.approx(6.0 + lowest_corner(OUTLINE, tilt, flipped=flipped))
    place = f'trim = {one["trim_m"]}\ntilt = {tilt}\norientation = "{way}"'
    assert only(evaluated(scene(placement=place) + CABINET))["height_m"] == pytest.approx(6.0)
    place = f'mount = "stacked"\nbase = 1.25\ntilt = {tilt}\norientation = "{way}"'
    stacked = only(evaluated(scene(placement=place) + CABINET))
    assert stacked["trim_m"] == pytest.approx(1.25)
    assert stacked["mount"] == "stacked"


def test_without_an_outline_trim_is_height() -> None:
    one = only(evaluated(scene()))
    assert one["trim_m"] == one["height_m"] == 6.0


@pytest.mark.parametrize("tilt", [-90.0, -60.0, 0.0, 45.0, 90.0])
@pytest.mark.parametrize("x", [0.0, 11.0, 25.0])
def test_off_axis_is_elevation_minus_tilt_wrapped(tilt: float, x: float) -> None:
    answer = evaluated(scene(placement=f"x = {x}\nheight = 6.0\ntilt = {tilt}"))
    for row, heard in zip(answer["rows"], mains(answer), strict=True):
        r, elevation = seen((row["x_m"], row["z_m"]), (x, 6.0))
        assert heard["distance_m"] == pytest.approx(r, rel=1e-12)
        assert abs(wrapped(heard["off_axis_deg"] - (elevation - tilt))) < 1e-9
        assert -180.0 <= heard["off_axis_deg"] <= 180.0


# Patterns


def lobes(
    answer: Plain, tilt: float, hz: float, *, octaves: float = 1.0
) -> list[tuple[float, float]]:
    """Off-axis angle and pattern at every row, from the answer's levels."""
    return [
        (
            heard["off_axis_deg"],
            heard["levels_db"][f"{hz:g}"]
            + 20.0 * math.log10(heard["distance_m"])
            + air_db(hz, heard["distance_m"], octaves=octaves),
        )
        for heard in mains(answer)
    ]


@pytest.mark.parametrize("tilt", [-70.0, -20.0, 15.0, 88.0])
def test_a_quadratic_lobe_is_six_db_down_at_its_half_angles_and_never_below_its_lowest(
    tilt: float,
) -> None:
    for extra, lowest in (("", -24.0), ("\nlowest_db = -11.5", -11.5)):
        shape = "coverage = { above = 20, below = 40 }" + extra
        answer = evaluated(scene(pattern=shape, placement=f"height = 6.0\ntilt = {tilt}"))
        for phi, db in lobes(answer, tilt, 2000):
            own = quadratic(phi, above=20, below=40, lowest=lowest)
            assert db == pytest.approx(own, abs=FINE_DB)
        place = f'height = 6.0\ntilt = {tilt}\norientation = "flipped"'
        for phi, db in lobes(evaluated(scene(pattern=shape, placement=place)), tilt, 2000):
            own = quadratic(phi, above=40, below=20, lowest=lowest)
            assert db == pytest.approx(own, abs=FINE_DB)


@pytest.mark.parametrize(("coverage", "tilt"), [(60, -20.0), (40, -75.0), (100, 30.0), (40, 90.0)])
def test_a_piston_lobe_is_bessels_and_held_beyond_ninety_degrees(
    coverage: int, tilt: float
) -> None:
    for extra, lowest in (("", -24.0), ("\nlowest_db = -60", -60.0)):
        shape = f'coverage = {coverage}\nlobe = "piston"{extra}'
        answer = evaluated(scene(pattern=shape, placement=f"height = 6.0\ntilt = {tilt}"))
        for phi, db in lobes(answer, tilt, 4000):
            assert db == pytest.approx(piston(phi, half=coverage / 2, lowest=lowest), abs=FINE_DB)


def test_below_its_control_both_half_angles_grow() -> None:
    shape = "coverage = { above = 20, below = 40 }\ncontrol_from_hz = 1800"
    more = "[aim]\nbands = [500, 1000, 1600, 2000]"
    answer = evaluated(scene(pattern=shape, more=more))
    for hz in (500, 1000, 1600, 2000):
        grown = max(1.0, 1800 / midband_hz(hz))
        for phi, db in lobes(answer, -20.0, hz, octaves=1 / 3):
            own = quadratic(phi, above=20 * grown, below=40 * grown)
            assert db == pytest.approx(own, abs=FINE_DB)


def test_half_a_piston_reaches_ninety_degrees_at_most() -> None:
    shape = 'coverage = 120\nlobe = "piston"\ncontrol_from_hz = 4000'
    for phi, db in lobes(evaluated(scene(pattern=shape)), -20.0, 1000):
        assert db == pytest.approx(piston(phi, half=90.0), abs=FINE_DB)
