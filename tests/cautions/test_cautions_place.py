"""Cautions about room, sound and stacks."""

import math

import pytest
from held_scenes import BOX, codes, solved, told
from outside import air_db

import aiming
from aiming.base.bands import OCTAVES_HZ

G = 9.80665


def test_low_headroom_is_from_the_floor_under_the_box_or_from_the_datum():
    """Trim at −10°: the outline's lowest corner (−0.38, −0.20) or (0.02, −0.20) turned."""
    answer = solved(placement="height = 2.5\ntilt = -10")
    found = told(answer, "low-headroom")
    assert found.value == pytest.approx(answer.speakers[0].trim_m, abs=1e-9)
    assert "the datum" in found.text
    over = solved(placement="height = 3.0\ntilt = -10\nx = 5.0", line="[[3.0, 0.0], [15.0, 3.0]]")
    room = told(over, "low-headroom")
    # The floor rises 1 in 4 and is highest 0.5 m ahead of the foremost corner.
    corners = [(-0.38, -0.2), (0.02, -0.2), (0.02, 0.44), (-0.38, 0.44)]
    tau = math.radians(-10.0)
    front = 5.0 + max(u * math.cos(tau) - w * math.sin(tau) for u, w in corners)
    floor = (front + 0.5 - 3.0) / 4.0
    assert room.value == pytest.approx(over.speakers[0].trim_m - floor, abs=1e-9)
    assert "low-headroom" not in codes(solved())
    assert "low-headroom" in codes(solved(more="[cautions]\nheadroom = 4.0\n"))


def test_near_listener():
    answer = solved(placement="height = 2.0\ntilt = -10\nx = 2.0")
    assert told(answer, "near-listener").value == pytest.approx(math.hypot(1.0, 0.8), abs=1e-9)
    assert "near-listener" not in codes(solved())
    moved = solved(more='[cautions]\nnearest_listener = "20 ft"\n')
    assert told(moved, "near-listener").limit == pytest.approx(6.096)


def test_a_cabinet_in_the_sightline():
    """Eyes 1.2 m up at 3–15 m, stage to 2 m at x = 0: a box 2 m out and 1.1 m up hides it."""
    answer = solved(placement="height = 1.5\ntilt = 0\nx = 2.0")
    found = told(answer, "in-sightline")
    assert found.value == len(answer.rows)
    assert "in-sightline" not in codes(solved(placement="height = 2.9\ntilt = 0\nx = 2.0"))
    high = solved(
        placement="height = 2.9\ntilt = 0\nx = 2.0",
        more="[cautions]\nstage_focus = [-6, 2]\nstage_top = 6\n",
    )
    assert told(high, "in-sightline").value > 0
    # Behind what is looked at nothing hides it.
    assert "in-sightline" not in codes(solved(placement="height = 1.5\ntilt = 0\nx = -2.0"))


def test_grazing():
    answer = solved(placement="height = 2.2\ntilt = 0")
    found = told(answer, "grazing")
    assert found.value == pytest.approx(math.degrees(math.atan(1.0 / 15.0)), abs=1e-9)
    assert "grazing" not in codes(solved(placement="height = 2.2\ntilt = 0",
                                         more="[cautions]\ngrazing_deg = 3\n"))  # fmt: skip


LIMIT = '[cautions]\nlevel_limit_db = {}\nlevel_limit_name = "house rule, 30 min"\n'


def test_no_level_limit_unless_one_is_named():
    bare = solved(more="[speaker.output]\nmax_level_db = 140\n")
    assert not [one for one in bare.cautions if "level" in one.code]
    loud = solved(more="[speaker.output]\nmax_level_db = 140\n" + LIMIT.format(99))
    found = told(loud, "level-over-limit")
    assert found.limit == 99
    assert "house rule, 30 min" in found.text
    assert "level-over-limit" not in codes(
        solved(more="[speaker.output]\nmax_level_db = 110\n" + LIMIT.format(99))
    )
    assert "level-not-checked" in codes(solved(more=LIMIT.format(99)))
    with pytest.raises(aiming.ScenarioError, match="level_limit_name"):
        solved(more="[cautions]\nlevel_limit_db = 99\n")


def test_the_level_by_hand():
    """Pink noise over octaves 125 Hz to 8 kHz, 120 dB at 1 m, the nearest row on the axis.

    A-weighting by IEC 61672-1:2013, Table 3; air by ISO 9613-1, which has tests of its own.
    """
    tilt = -math.degrees(math.atan2(2.8, 3.0))
    answer = solved(
        placement=f"height = 4.0\ntilt = {tilt}",
        more="[speaker.output]\nmax_level_db = 120\nsensitivity_db = 90\n"
        + LIMIT.format(90)
        + "[aim]\nbands = [1000]\n",
    )
    a_weighting = (-16.1, -8.6, -3.2, 0.0, 1.2, 1.0, -1.1)
    away = math.hypot(3.0, 2.8)
    air = [air_db(band, away) for band in OCTAVES_HZ[3:10]]
    energy = sum(10.0 ** (0.1 * (a - b)) for a, b in zip(a_weighting, air, strict=True)) / 7.0
    expected = 120.0 - 20.0 * math.log10(away) + 10.0 * math.log10(energy)
    assert told(answer, "level-over-limit").value == pytest.approx(expected, abs=0.05)


def test_outdoors():
    assert "wind-limit-missing" in codes(solved(more="[outdoors]\n"))
    windy = codes(solved(more="[outdoors]\ngust_speed = 12\n"))
    assert "wind-limit-missing" not in windy
    assert "wind-not-in-loads" in windy
    assert not [code for code in codes(solved()) if code.startswith("wind")]


STACK = """
mount = "stacked"
base = 0.0
tilt = 0
x = 0.0
"""


def stacked(more: str = "", cabinet: str = BOX):
    return solved(placement=STACK, upright="", cabinet=cabinet, more=more)


def test_a_stack_tips_by_itself_on_a_slope():
    """Level: centre of gravity 0.28 m up, 0.19 m behind the front edge, 0.21 before the rear."""
    answer = stacked()
    stack = answer.speakers[0].stack
    assert answer.speakers[0].loads is None
    assert stack.front.tip_deg == pytest.approx(math.degrees(math.atan(0.19 / 0.28)))
    assert stack.rear.tip_deg == pytest.approx(math.degrees(math.atan(0.21 / 0.28)))
    assert "stack-slope" not in codes(answer)
    moved = stacked("[cautions]\nstack_tip_deg = 35\n")
    assert told(moved, "stack-slope").value == pytest.approx(stack.front.tip_deg)
    tall = BOX.replace("[-0.17, 0.08]", "[0.01, 0.30]")
    assert told(stacked(cabinet=tall), "stack-slope").value < 10.0
    over = stacked(cabinet=BOX.replace("[-0.17, 0.08]", "[0.05, 0.0]"))
    assert told(over, "stack-tips").value == pytest.approx(-0.03)
    assert over.stopped


def test_a_height_beside_the_base_that_does_not_put_the_box_on_it():
    """Level, the lowest corner is 0.20 m under the acoustic centre; flipped, 0.44 m."""

    def both(height, more="", turn="upright", base=0.5):
        place = f'mount = "stacked"\nbase = {base}\nheight = {height}\ntilt = 0\n'
        place += f'orientation = "{turn}"\n'
        return solved(placement=place, upright="", more=more)

    found = told(both(1.0), "stack-off-base")
    assert (found.severity, found.unit, found.speaker) == ("caution", "m", "main")
    assert found.value == pytest.approx(0.30, abs=1e-9)
    assert found.limit == 0.01
    assert "0.30 m above the base of 0.50 m" in found.text
    assert "from the base;" in found.text
    low = told(both(0.6), "stack-off-base")
    assert low.value == pytest.approx(-0.10, abs=1e-9)
    assert "0.10 m below" in low.text
    assert told(both(0.7, turn="flipped"), "stack-off-base").value == pytest.approx(-0.24, abs=1e-9)
    for height in (0.692, 0.7, 0.709):
        assert "stack-off-base" not in codes(both(height))
    assert told(both(0.711), "stack-off-base").value == pytest.approx(0.011, abs=1e-9)
    elsewhere = told(both(1.0, more="[speaker.stack]\nground = 0.0\n"), "stack-off-base")
    assert "from the stack's ground;" in elsewhere.text
    assert "stack-off-base" not in codes(stacked())
    bare = solved(
        placement='mount = "stacked"\nbase = 0.5\nheight = 1.0\ntilt = 0', upright="", cabinet=""
    )
    assert "stack-off-base" not in codes(bare)


WIND = "[speaker.stack]\nwind_area_m2 = 0.3\nfriction = 0.4\n[outdoors]\ngust_speed = {}\n"


def test_wind_on_a_stack_by_hand():
    """q = ½·1.25·v², F = 1.8·q·A at 0.32 m; 26 kg holds with 0.19 m."""
    force = 1.8 * 0.5 * 1.25 * 10.0**2 * 0.3
    answer = stacked(WIND.format(10))
    stack = answer.speakers[0].stack
    assert stack.wind_n == pytest.approx(force)
    assert stack.front.safety == pytest.approx(26 * G * 0.19 / (force * 0.32))
    assert stack.sliding_safety == pytest.approx(0.4 * 26 * G / force)
    assert stack.asked == 1.5
    assert "stack-margin" not in codes(answer)
    windy = stacked(WIND.format(20))
    stop = [one for one in windy.cautions if one.code == "stack-upset-by-wind"]
    assert "sliding" in stop[0].text or len(stop) > 1
    assert windy.stopped
    ballast = windy.speakers[0].stack.ballast_kg
    assert f"{ballast:.1f} kg" in stop[0].text
    held = stacked(WIND.format(20) + "[[speaker.stack.also]]\n"
                   f'name = "ballast"\nmass_kg = {ballast}\nat = [-0.18, 0.0]\n')  # fmt: skip
    assert not {"stack-upset-by-wind", "stack-margin"} & set(codes(held))


def test_the_margin_asked_for_has_a_name():
    asked = WIND.format(10).replace(
        "friction", 'margin = 4.0\nmargin_source = "the hirer"\nfriction'
    )
    found = [one for one in stacked(asked).cautions if one.code == "stack-margin"]
    assert found
    assert all("the hirer" in one.text and one.limit == 4.0 for one in found)


def test_what_a_stack_lacks_is_said():
    assert "stack-not-checked" in codes(stacked(cabinet=BOX.replace("mass_kg = 26.0", "")))
    bare = "[speaker.stack]\n{}\n[outdoors]\ngust_speed = 10\n"
    no_area = stacked(bare.format("friction = 0.4"))
    assert "stack-wind-not-checked" in codes(no_area)
    assert no_area.speakers[0].stack.front.safety is None
    assert "stack-friction-missing" in codes(stacked(bare.format("wind_area_m2 = 0.3")))
