"""The rigger's page: its figures, its two papers, its two systems, and when it may not be used."""

import io
import math
import warnings

import pytest
from held_scenes import BOX, TWO, scene

import aiming
from aiming.analysis.hang_geometry import hang_sheets
from aiming.report.figures import style as look
from aiming.report.sheets.hang_sheet import hang_sheet, hang_sheet_files, labels_of
from aiming.report.sheets.hang_table import point_table
from aiming.report.sheets.sheet_page import SIZES_IN, TIED

FLAT = "[[3.0, 0.0], [25.0, 0.0]]"
DOWN = {"placement": "height = 5.0\ntilt = -14", "line": FLAT}
STACK = 'mount = "stacked"\nbase = 0.5\ntilt = 0\nx = 0.0'


def sheets(**parts):
    scenario = aiming.load("-", stdin_text=scene(**parts))
    return scenario, hang_sheets(aiming.solve(scenario))


def pdf_text(content: bytes) -> str:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from pypdf import PdfReader

        reader = PdfReader(io.BytesIO(content))
        assert len(reader.pages) == 1
        return " ".join(reader.pages[0].extract_text().split())


def page_text(*, paper="a4", date="", **parts) -> str:
    scenario, found = sheets(**parts)
    files = hang_sheet_files(found, scenario.units, paper=paper, date=date, formats=("pdf",))
    return pdf_text(files["hang_sheet.pdf"])


def test_the_marks_of_the_laser_by_hand():
    """Laser at body (−0.02, 0.44), 14° down, flat floor, ears 1.2 m: followed from the laser."""
    _, [sheet] = sheets(**DOWN)
    tau = math.radians(-14.0)
    x = -0.02 * math.cos(tau) - 0.44 * math.sin(tau)
    z = 5.0 + -0.02 * math.sin(tau) + 0.44 * math.cos(tau)
    down = math.tan(math.radians(14.0))
    ear_x, floor_x = x + (z - 1.2) / down, x + z / down
    marks = sheet.laser
    assert marks.at_m == pytest.approx((x, z), abs=1e-12)
    assert marks.ear_m == pytest.approx((ear_x, 1.2), abs=1e-9)
    assert marks.floor_m == pytest.approx((floor_x, 0.0), abs=1e-9)
    assert floor_x - ear_x == pytest.approx(4.813, abs=0.001)
    assert not marks.beyond_seating
    # Not where a beam from the acoustic centre would fall.
    assert abs(floor_x - 5.0 / down) > 1.5
    row = marks.row_x_m
    assert abs(row - ear_x) < 0.46
    assert marks.above_floor_m == pytest.approx(1.2 - (row - ear_x) * down, abs=1e-9)
    text = page_text(**DOWN)
    assert f"{floor_x:.3f} m" in text
    assert f"{marks.above_floor_m:.3f} m" in text
    assert sheet.row_label in text


def test_the_dot_where_the_floor_ends_or_a_wall_stands():
    _, [past] = sheets(placement="height = 5.0\ntilt = -14")
    assert past.laser.beyond_seating
    assert "taken as level past the seating" in page_text(placement="height = 5.0\ntilt = -14")
    wall = '[[surface]]\nname = "back wall"\nline = [[16.0, 0.0], [16.0, 6.0]]\n'
    _, [stopped] = sheets(placement="height = 5.0\ntilt = -14", more=wall)
    marks = stopped.laser
    x, z = marks.at_m
    assert (marks.floor_m, marks.wall) == (None, "back wall")
    expected = z - (16.0 - x) * math.tan(math.radians(14.0))
    assert marks.wall_m == pytest.approx((16.0, expected), abs=1e-9)
    _, [none] = sheets(**DOWN, cabinet=BOX.replace("laser_at = [-0.02, 0.44]", ""))
    assert none.laser is None


def test_the_inclinometer_stands_on_the_reference_face():
    face = BOX + "reference_face_deg = -5\n"
    _, [upright] = sheets(**DOWN, cabinet=face)
    assert upright.inclinometer_deg == pytest.approx(-19.0)
    base = 'method = "two points"\npicks = ["front, base", "rear, base"]\n'
    _, [flipped] = sheets(
        placement='height = 5.0\ntilt = -14\norientation = "flipped"', line=FLAT, cabinet=face,
        upright="", flipped=base,
    )  # fmt: skip
    assert flipped.inclinometer_deg == pytest.approx(-9.0)
    _, [front] = sheets(**DOWN, cabinet=BOX + "reference_face_deg = 90\n")
    assert front.inclinometer_deg == pytest.approx(76.0)
    _, [over] = sheets(**DOWN, cabinet=BOX + "reference_face_deg = -90\n")
    assert over.inclinometer_deg == pytest.approx(76.0)


def test_what_the_page_shows():
    """Figures recomputed by hand from the file."""
    steel = TWO + "steel_height = 9.0\nextra_mass_kg = 3\n"
    text = page_text(**DOWN, upright=steel)
    tau = math.radians(-14.0)
    turned = {
        name: (u * math.cos(tau) - w * math.sin(tau), 5.0 + u * math.sin(tau) + w * math.cos(tau))
        for name, u, w in (("front", -0.06, 0.44), ("rear", -0.34, 0.44), ("G", -0.17, 0.08))
    }
    share = (turned["G"][0] - turned["rear"][0]) / (turned["front"][0] - turned["rear"][0])
    level = 0.17 / 0.28
    for shown in (
        "HANG SHEET", "nose down 14.0°", "UPRIGHT", "stage front edge, hall floor",
        f"{turned['front'][1]:.3f} m", f"{turned['rear'][1]:.3f} m",
        f"{9.0 - turned['front'][1]:.3f} m",
        f"front {1000 * (turned['rear'][1] - turned['front'][1]):.0f} mm lower",
        f"{29 * share:.1f} kg", f"{29 * share / 0.45359237:.1f} lb",
        f"{29 * share * 9.80665 / 1000:.3f} kN", f"{29 * share / 0.45359237:.1f} lbf",
        f"{29 * level:.1f} kg", f"{29 * (1 - level):.1f} kg",
        "5.000 m", "16 ft 4 7/8 in", "No rigging design", "Signed", "aiming",
        "secondary suspension fitted", "inclinometer 14.0° down",
    ):  # fmt: skip
        assert shown in text, shown
    lowest = 5.0 - max(
        -(u * math.sin(tau) + w * math.cos(tau))
        for u, w in ((-0.38, -0.2), (0.02, -0.2), (0.02, 0.44), (-0.38, 0.44))
    )
    assert f"{lowest:.3f} m" in text


def test_the_table_by_point_from_back_to_front():
    scenario, [sheet] = sheets(**DOWN, upright=TWO + "steel_height = 9.0\n")
    table = point_table(sheet.held, scenario.units)
    assert table.heads == ("rear", "front")
    rows = {row.label: row.cells for row in table.rows}
    level = 26 * 0.17 / 0.28
    assert rows["cell reads, box level"][1].replace(TIED, " ").startswith(f"{level:.1f} kg")
    tension = sheet.held.loads.points[0].tension_n
    reads = rows["cell reads, at tilt"][1].replace(TIED, " ")
    assert reads.startswith(f"{tension / 9.80665:.1f} kg")
    assert tension < level * 9.80665
    assert rows["hook, from the datum"][0].replace(TIED, " ") == "0.223 m (8 3/4 in) behind"
    assert rows["hook, from the datum"][1].replace(TIED, " ") == "0.048 m (1 7/8 in) in front"


def test_the_window_that_the_tilt_may_have():
    scenario, [sheet] = sheets(placement="height = [3, 5]")
    low, high = sheet.speaker.window.tilt_deg
    assert sheet.inclinometer_window_deg == pytest.approx((low, high))
    files = hang_sheet_files((sheet,), scenario.units, formats=("pdf",))
    assert f"{abs(high):.1f}° to {abs(low):.1f}° down" in pdf_text(files["hang_sheet.pdf"])


def test_long_names_and_letters_that_the_font_lacks_become_a_and_b():
    """A box of such letters would be the same for both columns."""
    for name, told in ((LONG, f"A is front {LONG}; B is rear {LONG}"), ("吊点", "A is pick 1")):
        scenario, [sheet] = sheets(**DOWN, cabinet=named(BOX, name), upright=named(TWO, name))
        assert point_table(sheet.held, "m", labels_of(sheet, "m")).heads == ("B", "A")
        files = hang_sheet_files((sheet,), scenario.units, formats=("pdf",))
        assert told in pdf_text(files["hang_sheet.pdf"])
    assert labels_of(sheets(**DOWN)[1][0], "m") == {}


def test_a_bar_is_told_by_its_holes_or_from_its_rear_end():
    holes = [-0.3, -0.25, -0.2, -0.15]
    rise, (u, w) = 0.52 - 0.08, (-0.17, 0.08)
    tilt = math.degrees(math.atan((holes[1] - u) / rise))
    text = page_text(placement=f"height = 5\ntilt = {tilt}", upright=HOLES)
    assert "hole 2 from the rear" in text
    assert "bar at u" not in text
    along = 0.4 + u + (0.5 - w) * math.tan(math.radians(-10.0))
    text = page_text(placement="height = 5\ntilt = -10", upright=BAR)
    assert f"{1000 * along:.0f} mm from the rear end" in text


def test_a_box_that_its_lines_do_not_hold_level_is_weighed_as_a_whole():
    """Pulled down from behind, the rear line would have to push with the box level."""
    _, [sheet] = sheets(placement="height = 6\ntilt = 19",
                        upright=PULL_DOWN.replace("2]", "5]"))  # fmt: skip
    assert not sheet.stopped
    assert [line.level_reading_n for line in sheet.held.loads.lines] == [None, None]
    text = pdf_text(hang_sheet_files((sheet,), "m", formats=("pdf",))["hang_sheet.pdf"])
    assert "26.0 kg" in text
    assert "do not hold it level" in text


def test_no_step_for_a_laser_without_a_mark():
    assert "laser: dot on the mark" in page_text(**DOWN)
    no_laser = BOX.replace("laser_at = [-0.02, 0.44]\n", "")
    assert "laser: " not in page_text(**DOWN, cabinet=no_laser)


def test_the_date_is_the_users_or_a_blank():
    assert "Date 14 May" in page_text(**DOWN, date="14 May")
    assert "Date ____" in page_text(**DOWN)


def test_not_for_hanging():
    stopped = page_text(placement="height = 5.0\ntilt = -40", line=FLAT)
    assert "NOT FOR HANGING" in stopped
    assert "STOP" in stopped
    for gone in ("Signed", "read ____", "secondary suspension fitted"):
        assert gone not in stopped
    assert "NOT FOR HANGING" not in page_text(**DOWN)
    over = page_text(placement=STACK, upright="",
                     cabinet=BOX.replace("[-0.17, 0.08]", "[0.05, 0.0]"))  # fmt: skip
    assert "NOT FOR SETTING UP" in over


def test_feet_and_pounds_come_first_where_the_file_has_feet():
    feet = page_text(**{**DOWN, "placement": 'height = "16 ft 4 7/8 in"\ntilt = -14'},
                     top='units = "ft"', upright="", cabinet="")  # fmt: skip
    assert "16 ft 4 7/8 in" in feet
    assert "5.001 m" in feet


def test_a_stack_has_its_own_page():
    text = page_text(placement=STACK, upright="")
    for shown in ("STAND SHEET", "tips by itself", "Whole weight 26.0 kg", "0.500 m",
                  "20 mm (3/4 in) in front of and 380 mm (1 ft 3 in) behind"):  # fmt: skip
        assert shown in text
    assert "load cell" not in text
    beside = 'also = [{ name = "sandbags", mass_kg = 12.5, at = [-0.3, 0.6] }]\n'
    wedged = page_text(placement=STACK.replace("tilt = 0", "tilt = -3"), upright="",
                       more=f"[speaker.stack]\nground = 0.5\n{beside}")  # fmt: skip
    for shown in ("sandbags, 12.5 kg", "its middle 0.300 m", "0.600 m high",
                  f"wedge of {1000 * 0.4 * math.sin(math.radians(3)):.0f} mm"):  # fmt: skip
        assert shown in wedged


@pytest.mark.parametrize("form", ["pdf", "png", "svg"])
def test_twice_the_same_bytes(form):
    scenario, found = sheets(**DOWN)
    once = hang_sheet_files(found, scenario.units, formats=(form,))
    again = hang_sheet_files(found, scenario.units, formats=(form,))
    assert once == again
    [content] = once.values()
    assert b"CreationDate" not in content
    assert b"dc:date" not in content


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_the_papers(paper):
    scenario, found = sheets(**DOWN)
    files = hang_sheet_files(found, scenario.units, paper=paper, formats=("pdf",))
    from pypdf import PdfReader

    box = PdfReader(io.BytesIO(files["hang_sheet.pdf"])).pages[0].mediabox
    assert (float(box.width) / 72, float(box.height) / 72) == pytest.approx(
        SIZES_IN[paper], abs=0.01
    )


PULL = 'method = "pull-back"\npicks = ["front", "rear, base"]\npull_elevation_deg = 30\n'
PULL_DOWN = 'method = "pull-back"\npicks = ["front", "rear"]\npulling_point = [-3, 2]\n'
HOLES = """method = "one point"
picks = ["front", "rear"]
holes = [-0.3, -0.25, -0.2, -0.15]
holes_w = 0.52
steel_height = 7
dynamic_factor = 1.4
"""
CHAINED = """cable_mass_kg = 4
[[speaker.rigging.upright.line]]
parts = [{ name = "clamp", wll = "500 kg", length = "80 mm" }]
"""
LONG = "lifting point, upper left side, second hole from the top"
BAR = 'method = "one point"\npicks = ["front", "rear"]\nbar = [-0.4, -0.1]\nholes_w = 0.5\n'


def named(text, name):
    """The same with longer names of the two picks."""
    return text.replace('"front"', f'"front {name}"').replace('"rear"', f'"rear {name}"')


EVERY = [
    DOWN,
    {**DOWN, "upright": PULL + "steel_height = 7\n"},
    {**DOWN, "upright": BAR + "steel_height = 7\n"},
    {"placement": "height = 5\ntilt = -60"},
    {"placement": "height = 2.6\ntilt = 10", "more": "[outdoors]\n",
     "upright": TWO + 'fitting = "shackle"\n'},
    {"placement": STACK, "upright": "",
     "more": "[speaker.stack]\nwind_area_m2 = 0.3\nfriction = 0.4\n[outdoors]\ngust_speed = 15\n"},
    {"placement": "height = 4\ntilt = 0", "upright": "", "cabinet": ""},
    {**DOWN, "cabinet": named(BOX, LONG), "upright": named(TWO, LONG),
     "top": f'title = "{"A very long title of a scenario, " * 5}"\n',
     "datum": "front edge of the thrust stage where the curtain line meets the floor, " * 2},
    {**DOWN, "cabinet": named(BOX, "吊点"), "upright": named(TWO, "吊点")},
    {**DOWN, "upright": HOLES + CHAINED},
    {"placement": "height = 5\ntilt = -11.9", "upright": BAR + "steel_height = 7\n" + CHAINED},
    {"placement": "height = 5\ntilt = -12", "upright": PULL_DOWN},
]  # fmt: skip


@pytest.mark.parametrize("parts", EVERY)
def test_nothing_is_written_over_anything_or_off_the_page(parts):
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.text import Text

    scenario, [sheet] = sheets(**parts)
    with look.style():
        figure = hang_sheet(sheet, scenario.units, paper="letter").figure
        canvas = FigureCanvasAgg(figure)
        canvas.draw()
        boxes = [
            (text.get_text(), text.get_window_extent(canvas.get_renderer()))
            for text in figure.findobj(match=Text)
            if text.get_text() and not text.get_rotation()
        ]
    edge, wide, tall = 0.3 * figure.dpi, figure.bbox.width, figure.bbox.height
    for place, (text, box) in enumerate(boxes):
        assert edge < box.x0 < box.x1 < wide - edge, text
        assert edge < box.y0 < box.y1 < tall - edge, text
        for other, beside in boxes[place + 1 :]:
            across = min(box.x1, beside.x1) - max(box.x0, beside.x0)
            up = min(box.y1, beside.y1) - max(box.y0, beside.y0)
            assert across < 2 or up < 0.35 * min(box.height, beside.height), (text, other)


def test_several_loudspeakers_get_a_page_each():
    second = scene().split("[[speaker]]")[1].replace('"main"', '"left fill / 2"')
    scenario = aiming.load("-", stdin_text=scene() + "[[speaker]]" + second)
    found = hang_sheets(aiming.solve(scenario))
    names = list(hang_sheet_files(found, "m", formats=("pdf",)))
    assert names == ["hang_sheet_1_main.pdf", "hang_sheet_2_left_fill___2.pdf"]
    assert [sheet.number for sheet in found] == [1, 2]
