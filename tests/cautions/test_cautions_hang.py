"""Cautions about what hangs: through load and solve, with figures worked by hand."""

import math
import re

import pytest
from held_scenes import BOX, TWO, codes, scene, solved, told

import aiming
from aiming.cautions.bridle import bridle_cautions
from aiming.rigging import bridle

G = 9.80665


def test_the_plain_one_is_first_and_says_what_was_assumed_and_not_checked():
    answer = solved(upright=TWO + "dynamic_factor = 1.25\n")
    first = answer.cautions[0]
    assert (first.code, first.severity) == ("no-rigging-design", "caution")
    for words in ("competent or licensed", "makers' data", "Assumed", "Not checked", "1.25"):
        assert words in first.text
    assert "dynamic factor 1.0" in solved().cautions[0].text
    assert not any("safe" in one.text or "approved" in one.text for one in answer.cautions)


def test_the_plain_one_is_first_even_before_what_stops():
    answer = solved(placement="height = 4.0\ntilt = -30")
    severities = [one.severity for one in answer.cautions]
    assert answer.cautions[0].code == "no-rigging-design"
    assert severities[1] == "stop"
    order = {"stop": 0, "caution": 1, "note": 2}
    assert [order[one] for one in severities[1:]] == sorted(order[one] for one in severities[1:])


@pytest.mark.parametrize(
    ("cabinet", "upright", "named"),
    [
        ("", "", ["mass", "centre of gravity", "points", "rigging"]),
        ("mass_kg = 26", "", ["centre of gravity", "points", "rigging"]),
        (BOX.replace("mass_kg = 26.0", ""), TWO, ["mass"]),
        (BOX.replace("centre_of_gravity = [-0.17, 0.08]", ""), TWO, ["centre of gravity"]),
        (BOX, "", ["rigging"]),
    ],
)
def test_what_is_missing_is_named_and_nothing_assumed(cabinet, upright, named):
    answer = solved(cabinet=cabinet, upright=upright)
    text = told(answer, "loads-not-checked").text
    assert "not checked" in text
    for name in ("mass", "centre of gravity", "points", "rigging"):
        assert (f"the {name}" in text) == (name in named)
    assert answer.speakers[0].loads is None
    assert not answer.stopped


def test_missing_load_limits_are_named():
    answer = solved(cabinet=BOX.replace(", wll_kg = 130", "", 1))
    text = told(answer, "load-limits-missing").text
    assert "front" in text
    assert "rear" not in text
    assert answer.speakers[0].loads.points[0].utilisation is None
    assert "load-limits-missing" not in codes(solved())


def test_a_slack_point_stops_with_its_signed_tension():
    """Shares at the tilt: x = u·cos τ − w·sin τ, T_F/W = (x_G − x_R)/(x_F − x_R)."""
    answer = solved(placement="height = 4.0\ntilt = -40")
    tau = math.radians(-40.0)
    x_f, x_r, x_g = (
        u * math.cos(tau) - w * math.sin(tau)
        for u, w in ((-0.06, 0.44), (-0.34, 0.44), (-0.17, 0.08))
    )
    expected = 26.0 * G * (x_g - x_r) / (x_f - x_r)
    assert expected < -50.0
    slack = told(answer, "slack-point")
    assert (slack.severity, slack.unit, slack.limit, slack.speaker) == ("stop", "N", 0.0, "main")
    assert slack.value == pytest.approx(expected, abs=1e-9)
    assert answer.speakers[0].loads.points[0].tension_n == slack.value
    reach = told(answer, "tilt-out-of-reach")
    assert reach.limit == pytest.approx(math.degrees(math.atan(-(0.34 - 0.17) / 0.36)), abs=1e-6)
    assert answer.stopped


def test_inside_the_reach_nothing_stops():
    assert not solved(placement="height = 4.0\ntilt = -25.2").stopped
    assert solved(placement="height = 4.0\ntilt = -25.4").stopped


def test_a_low_share_warns_at_a_threshold_that_can_be_moved():
    near = {"placement": "height = 4.0\ntilt = -23"}
    low = told(solved(**near), "low-share")
    assert 0.03 < low.value < 0.1
    assert low.limit == 0.1
    assert "low-share" not in codes(solved(**near, more="[cautions]\nleast_share = 0.02\n"))
    moved = solved(more="[cautions]\nleast_share = 0.45\n")
    assert told(moved, "low-share").limit == 0.45
    low_end, high_end = moved.speakers[0].loads.least_share_tilt_range_deg
    assert high_end - low_end < 10.0


def test_holes_that_do_not_give_the_tilt_stop_and_name_the_nearest():
    """tan τ = (u_H − u_G)/h: 0.42 m under the bar; hole −0.25 gives −10.78°, −0.20 −4.09°."""
    bar = 'method = "one point"\npicks = ["front", "rear"]\nholes = [-0.25, -0.2]\nholes_w = 0.5\n'
    answer = solved(upright=bar)
    reach = told(answer, "tilt-out-of-reach")
    assert "nose down 10.8°" in reach.text
    assert reach.limit == pytest.approx(math.degrees(math.atan((-0.25 + 0.17) / 0.42)), abs=1e-9)
    free = solved(upright=bar, placement="height = [3.0, 5.0]")
    assert free.speakers[0].tilt_deg == pytest.approx(reach.limit, abs=1e-9)
    assert "tilt-out-of-reach" not in codes(free)


def test_hanging_below_the_centre_of_gravity():
    base = 'method = "one point"\npicks = ["rear, base"]\n'
    answer = solved(upright=base)
    assert told(answer, "point-below-centre").value < 0.0
    assert told(answer, "tilt-out-of-reach").severity == "stop"
    tall = solved(upright='method = "two points"\npicks = ["front", "rear, base"]\n')
    assert told(tall, "point-below-centre").value < 0.0


def test_points_that_come_above_one_another_stop():
    sheer = 'method = "two points"\npicks = ["front", "front, base"]\n'
    answer = solved(upright=sheer, placement="height = 4.0\ntilt = 0")
    assert told(answer, "forces-unknown").severity == "stop"
    assert answer.speakers[0].loads is None


def test_pull_back_says_how_the_line_leans():
    pull = 'method = "pull-back"\npicks = ["front", "rear, base"]\n'
    answer = solved(upright=pull + "pull_elevation_deg = 30\nsteel_height = 6.0\n")
    found = told(answer, "pull-back")
    loads = answer.speakers[0].loads
    assert found.value == loads.points[0].lean_deg
    rise = 6.0 - loads.lines[0].height_m
    shift = rise * math.tan(math.radians(found.value))
    assert loads.shift_m == pytest.approx(shift, abs=1e-9)
    assert shift > 0.05
    assert f"{shift:.2f} m ahead of" in found.text


def test_a_pulling_point_is_checked_at_the_final_place():
    pull = 'method = "pull-back"\npicks = ["front", "rear, base"]\npulling_point = [3.0, 1.0]\n'
    ahead = solved(upright=pull)
    assert told(ahead, "slack-point").value < 0.0
    behind = solved(upright=pull.replace("[3.0, 1.0]", "[-3.0, 4.5]"), placement="height = [3, 5]")
    assert behind.speakers[0].loads.reachable is True
    assert behind.speakers[0].loads.points[1].tension_n > 0.0


def test_the_free_tilt_against_the_window():
    bar = 'method = "one point"\npicks = ["front", "rear"]\nbar = [-0.3, -0.1]\nholes_w = 0.5\n'
    answer = solved(upright=bar, placement="height = 4.0\ntilt = [-60, 20]")
    speaker = answer.speakers[0]
    tau = math.radians(speaker.tilt_deg)
    doubt = math.degrees(0.010 * math.cos(tau) ** 2 / 0.42)
    assert speaker.loads.doubt_deg == pytest.approx(doubt, abs=1e-9)
    low, high = speaker.window.tilt_deg
    room = min(speaker.tilt_deg - low, high - speaker.tilt_deg)
    assert ("tilt-doubtful" in codes(answer)) == (doubt > room)


def loaded(limit_kg: float, more: str = "", upright: str = TWO):
    return solved(cabinet=BOX.replace("wll_kg = 130", f"wll_kg = {limit_kg}"), upright=upright,
                  placement="height = 4.0\ntilt = 0", more=more)  # fmt: skip


def test_utilisation_from_near_to_over():
    """Level, front share 0.17/0.28: 15.79 kg of 26; half of each limit may be used."""
    share = 0.17 / 0.28
    fine = loaded(100)
    assert not {"nearly-loaded", "overloaded", "uneven-hoists"} & set(codes(fine))
    near = told(loaded(35), "nearly-loaded")
    assert near.value == pytest.approx(26.0 * share / 17.5, abs=1e-9)
    assert near.limit == 0.8
    over = told(loaded(30), "overloaded")
    assert over.severity == "stop"
    assert over.value == pytest.approx(26.0 * share / 15.0, abs=1e-9)
    assert not loaded(30, upright=TWO + "wll_share = 1.0\n").stopped
    assert loaded(35, upright=TWO + "dynamic_factor = 1.2\n").stopped
    moved = loaded(35, "[cautions]\nutilisation_near = 0.95\n")
    assert "nearly-loaded" not in codes(moved)


def test_a_lower_limit_stops_though_the_caution_would_come_later():
    """At 63 % of what may be used, where half is asked for: the caution's 80 % hides nothing."""
    half = loaded(50, "[cautions]\nutilisation_full = 0.5\n")
    over = told(half, "overloaded")
    assert half.stopped and over.limit == 0.5
    assert over.value == pytest.approx(26.0 * 0.17 / 0.28 / 25.0, abs=1e-9)
    assert "nearly-loaded" not in codes(half)


def test_uneven_hoists():
    answer = loaded(45)
    both = [one for one in answer.cautions if one.code == "uneven-hoists"]
    assert [one.value for one in both] == pytest.approx([26.0 / 22.5] * 2, abs=1e-9)
    assert not answer.stopped
    # Said once: the point that is overloaded anyway is not said to be so unevenly.
    over = [one.text for one in loaded(30).cautions if one.code == "uneven-hoists"]
    assert len(over) == 1
    assert "point rear" in over[0]


def test_off_axis_pull_on_each_fitting():
    shackle = solved(upright=TWO + 'fitting = "shackle"\n')
    pulls = [one for one in shackle.cautions if one.code == "off-axis-pull"]
    assert [one.value for one in pulls] == pytest.approx([10.0, 10.0], abs=1e-9)
    assert {one.severity for one in pulls} == {"caution"}
    plain = solved(upright=TWO + 'fitting = "plain eyebolt"\n')
    assert plain.stopped
    turned = solved(upright=TWO + 'fitting = "plain eyebolt"\nfitting_axis_deg = 98\n')
    assert "off-axis-pull" not in codes(turned)
    assert "off-axis-pull" in codes(
        solved(upright=TWO + 'fitting = "shackle"\nfitting_axis_deg = 98\n',
               more="[cautions]\noff_axis_deg = 1\n")
    )  # fmt: skip


def test_secondary_suspension_and_structure():
    bare = codes(solved())
    assert {"secondary-not-declared", "structure-capacity-missing"} <= set(bare)
    stated = solved(upright=TWO + "secondary_suspension = true\nstructure_capacity_kn = 2\n")
    assert not [code for code in codes(stated) if code.startswith(("secondary", "structure"))]
    weak = solved(upright=TWO + "structure_capacity_kn = 0.1\n")
    assert told(weak, "structure-overloaded").value == pytest.approx(
        max(point.tension_n for point in weak.speakers[0].loads.points) / 100.0
    )
    assert weak.stopped


def test_a_centre_of_gravity_outside_the_outline():
    answer = solved(cabinet=BOX.replace("[-0.17, 0.08]", "[-0.17, 0.50]"))
    assert told(answer, "centre-outside-outline").severity == "caution"
    assert "outline-missing" in codes(solved(cabinet="mass_kg = 26", upright=""))


NEAR = "[[1.0, 0.0], [9.0, 0.0]]"


def test_the_aim_beyond_the_reach_and_what_would_reach_it():
    answer = solved(placement="height = [5, 6]", line=NEAR)
    speaker = answer.speakers[0]
    assert "rigging" in speaker.limited_by
    found = told(answer, "aim-out-of-rigging-reach")
    free = solved(placement="height = [5, 6]", line=NEAR, upright="")
    assert found.severity == "note"
    assert found.value == pytest.approx(free.speakers[0].best.tilt_deg, abs=1.0)
    assert found.value < found.limit - 5.0
    gain = f"{free.speakers[0].best.objective_db:.1f}"
    assert re.search(
        rf"{re.escape(gain)}\d* instead of {speaker.best.objective_db:.2f} dB", found.text
    )
    assert found.limit == pytest.approx(speaker.loads.tilt_range_deg[0], abs=1e-9)
    # The move that it names lets the same search hold that tilt.
    u = float(found.text.split("u = ")[1].split(" mm")[0].replace("−", "-")) / 1000.0
    assert "point rear" in found.text
    moved = aiming.evaluate(
        aiming.load(
            "-",
            stdin_text=scene(
                cabinet=BOX.replace('"rear", at = [-0.34,', f'"rear", at = [{u},'),
                placement=f"height = 6.0\ntilt = {found.value}",
                line=NEAR,
            ),
        )
    )
    assert moved.speakers[0].loads.points[0].share == pytest.approx(0.1, abs=0.02)
    assert not moved.stopped


def test_no_such_note_where_the_rigging_does_not_bind():
    assert "aim-out-of-rigging-reach" not in codes(solved(placement="height = [3, 5]"))


def test_the_hole_that_would_reach_it():
    bar = 'method = "one point"\npicks = ["rear"]\nholes = [-0.37, -0.34]\nholes_w = 0.5\n'
    answer = solved(placement="height = [5, 6]", line=NEAR, upright=bar)
    found = told(answer, "aim-out-of-rigging-reach")
    u = float(found.text.split("u = ")[1].split(" mm")[0].replace("−", "-")) / 1000.0
    assert u == pytest.approx(-0.17 + 0.42 * math.tan(math.radians(found.value)), abs=0.001)
    assert u < -0.4


def test_orientations_without_usable_picks_are_left_out():
    answer = solved(placement='height = [3, 5]\norientation = "either"', flipped=TWO)
    assert answer.speakers[0].orientation == "upright"
    assert "above the combined centre of gravity" in told(answer, "orientation-left-out").text
    base = 'method = "two points"\npicks = ["front, base", "rear, base"]\n'
    both = solved(placement='height = [3, 5]\norientation = "either"', flipped=base)
    assert "orientation-left-out" not in codes(both)
    none = solved(placement='height = [3, 5]\norientation = "either"')
    assert any("flipped is left out" in note.text for note in none.cautions)


def test_no_reachable_tilt_says_what_it_would_have_to_hold():
    with pytest.raises(aiming.AimingError, match="the rigging would have to hold nose down"):
        solved(upright='method = "two points"\npicks = ["front, base", "rear, base"]\n',
               placement="height = [3, 5]")  # fmt: skip


def test_both_unit_systems_say_the_same():
    in_m = solved(placement='height = "13 ft"\ntilt = -40')
    in_ft = aiming.solve(
        aiming.load(
            "-",
            stdin_text=scene(
                top='units = "ft"',
                line='[["3 m", 0], ["15 m", 0]]',
                placement="height = 13\ntilt = -40",
                cabinet=BOX.replace("[-0.38, -0.20], [0.02, -0.20], [0.02, 0.44], [-0.38, 0.44]",
                    '["-0.38 m", "-0.20 m"], ["0.02 m", "-0.20 m"], ["0.02 m", "0.44 m"], '
                    '["-0.38 m", "0.44 m"]').replace("[-0.17, 0.08]", '["-0.17 m", "0.08 m"]')
                .replace("[-0.02, 0.44]", '["-0.02 m", "0.44 m"]')
                .replace("[-0.06, 0.44]", '["-0.06 m", "0.44 m"]')
                .replace("[-0.34, 0.44]", '["-0.34 m", "0.44 m"]')
                .replace("[-0.06, -0.20]", '["-0.06 m", "-0.20 m"]')
                .replace("[-0.34, -0.20]", '["-0.34 m", "-0.20 m"]'),
            ),
        )
    )  # fmt: skip
    assert codes(in_m) == codes(in_ft)
    one, other = told(in_m, "slack-point"), told(in_ft, "slack-point")
    assert one.value == pytest.approx(other.value, abs=1e-9)
    assert "kN" in one.text
    assert "lbf" in other.text


def test_what_was_assumed_of_a_body_goes_to_who_hangs_it():
    """50 mm further back on points 0.28 m apart: 18 % of the weight; a drawing ends it."""
    sheet = f"mass_kg = 26.0\nheight = 0.64\ndepth = 0.4\n{BOX[BOX.index('picks') :]}"
    one = told(solved(cabinet=sheet), "body-assumed")
    assert one.severity == "caution"
    assert "0.05 m" in one.text and "18 %" in one.text
    assert "body-assumed" not in codes(solved())


def test_flat_and_wide_bridles():
    flat = bridle_cautions(bridle(load_n=1000.0, drops_m=(0.5, 2.0), reaches_m=(2.0, 1.0)))
    assert [one.code for one in flat] == ["no-rigging-design", "bridle-leg-flat"]
    assert flat[1].value == pytest.approx(math.degrees(math.atan(0.25)), abs=1e-9)
    wide = bridle_cautions(bridle(load_n=1000.0, drops_m=(1.0, 1.0), reaches_m=(2.0, 2.0)))
    assert [one.code for one in wide][-1] == "bridle-wide"
    right = bridle_cautions(bridle(load_n=1000.0, drops_m=(2.0, 1.5), reaches_m=(1.5, 2.0)))
    assert [one.code for one in right] == ["no-rigging-design"]
