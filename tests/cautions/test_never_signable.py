"""Each hang or stack that physics refuses stops its own sheet; mended, the stop is gone."""

import math

import pytest
from held_scenes import BOX, TWO, codes, scene
from paths import ROOT

import aiming
from aiming.analysis.calculation import calculations
from aiming.analysis.hang_geometry import hang_sheets
from aiming.cautions.bridle import bridle_cautions
from aiming.rigging import bridle, bridle_to_points

HUNG = "height = 4.0\ntilt = -10"
STANDS = 'mount = "stacked"\nbase = 0.5\ntilt = -30\nx = -0.5'
CROSSED = BOX.replace('"front"', '"x"').replace('"rear"', '"front"').replace('"x"', '"rear"')
LINE = (
    '[[speaker.rigging.upright.line]]\nparts = [{{ name = "shackle", wll = "{}", length = {} }}]\n'
)
CABLE = "cable_mass_kg = {}\nstructure_capacity_kn = 2.0\n"


def stops(**parts):
    answer = aiming.evaluate(aiming.load("-", stdin_text=scene(**parts)))
    [sheet] = hang_sheets(answer)
    found = {one.code for one in answer.cautions if one.severity == "stop"}
    assert sheet.stopped == bool(found)
    return found


@pytest.mark.parametrize(
    ("code", "wrong", "mended"),
    [
        ("steel-below-hook", {"upright": TWO + "steel_height = 4.2\n"},
         {"upright": TWO + "steel_height = 5.2\n"}),
        ("line-too-long", {"upright": TWO + "steel_height = 5.2\n" + LINE.format("500 kg", 0.9)},
         {"upright": TWO + "steel_height = 5.2\n" + LINE.format("500 kg", 0.5)}),
        ("part-overloaded", {"upright": TWO + LINE.format("20 kg", 0)},
         {"upright": TWO + LINE.format("60 kg", 0)}),
        ("structure-overloaded", {"upright": TWO + CABLE.format(500)},
         {"upright": TWO + CABLE.format(300)}),
        ("pick-names-crossed", {"cabinet": CROSSED},
         {"cabinet": BOX}),
        ("stack-slides", {"placement": STANDS, "upright": "",
                          "more": "[speaker.stack]\nfriction = 0.2\n"},
         {"placement": STANDS, "upright": "",
          "more": "[speaker.stack]\nfriction = 0.2\ntied = true\n"}),
        ("stack-tips", {"placement": STANDS.replace("-30", "0"), "upright": "",
                        "cabinet": BOX.replace("[-0.17, 0.08]", "[0.05, 0.08]"),
                        "more": "[speaker.stack]\nfootprint = [-2, 2]\n"},
         {"placement": STANDS.replace("-30", "0"), "upright": "",
          "more": "[speaker.stack]\nfootprint = [-2, 2]\n"}),
    ],
)  # fmt: skip
def test_what_stops_and_what_mends_it(code, wrong, mended):
    assert code in stops(**{"placement": HUNG, **wrong})
    assert not stops(**{"placement": HUNG, **mended})


def test_more_than_half_of_a_limit_over_people_is_named():
    for share, said in ((1.0, True), (0.51, True), (0.5, False)):
        answer = aiming.evaluate(
            aiming.load("-", stdin_text=scene(upright=f"{TWO}wll_share = {share}\n"))
        )
        assert ("wll-share-high" in codes(answer)) == said


def test_a_down_fill_is_not_signed_for_while_its_carrier_is_stopped():
    text = (ROOT / "scenarios" / "lecture_hall_downfill.toml").read_text(encoding="utf-8")
    weak = text.replace("wll_kg = 150", "wll_kg = 15")
    assert weak != text
    for toml, stopped in ((text, False), (weak, True)):
        answer = aiming.solve(aiming.load("-", stdin_text=toml), choices=False)
        upper, lower = hang_sheets(answer)
        assert upper.stopped == lower.stopped == stopped
        assert lower.carried_by[0] == upper.speaker.name
        # Fixed under it, it turns as its carrier may: no further, and no less.
        if not stopped:
            turned = lower.held.tilt_deg - upper.held.tilt_deg
            assert lower.inclinometer_window_deg == pytest.approx(
                [end + turned for end in upper.inclinometer_window_deg]
            )


def test_the_calculation_tells_a_boxs_own_corner_from_the_trim_of_both():
    """The sheet's trim is that of both; the upper box's own corner lies higher."""
    answer = aiming.solve(aiming.load(ROOT / "scenarios" / "lecture_hall_downfill.toml"))
    upper, lower = calculations(answer)
    own, under = (
        {step.symbol: step.result for step in one.parts[1].steps} for one in (upper, lower)
    )
    assert "Z_trim" not in own
    assert own["Z_L"] == pytest.approx(upper.sheet.held.at_m[1] + upper.sheet.outline_m[:, 1].min())
    assert under["Z_trim"] == pytest.approx(upper.sheet.trim_m)
    assert under["Z_trim"] < own["Z_L"] - 0.1
    assert f"{upper.sheet.trim_m:.4f} m" in upper.parts[1].said[0]
    assert upper.sheet.speaker.name in lower.parts[2].said[0]


@pytest.mark.parametrize(
    ("parts", "markable", "before"),
    [
        ({}, True, ""),
        ({"more": '[[surface]]\nname = "screen"\nline = [[8.0, 0.0], [8.0, 3.9]]\n'}, False,
         "screen"),
        ({"placement": "height = 8.0\ntilt = 10"}, False, ""),
        ({"placement": "height = 4.0\ntilt = -75"}, False, "the floor"),
    ],
)  # fmt: skip
def test_no_mark_that_the_beam_cannot_reach(parts, markable, before):
    answer = aiming.evaluate(aiming.load("-", stdin_text=scene(**{"placement": HUNG, **parts})))
    marks = hang_sheets(answer)[0].laser
    assert (marks.markable, marks.before_row) == (markable, before)


def test_flat_and_slack_legs_of_a_bridle_stop():
    flat = bridle(load_n=1000.0, drops_m=(0.01, 0.01), reaches_m=(1.0, 1.0))
    slack = bridle_to_points(
        load_n=1000.0, apex_m=(0.0, 0.0, 0.0), points_m=((0.0, 0.0, 2.0), (2.0, 0.0, 2.0))
    )
    good = bridle(load_n=1000.0, drops_m=(2.0, 2.0), reaches_m=(1.0, 1.0))
    for found, code in ((flat, "bridle-leg-flat"), (slack, "bridle-leg-slack"), (good, "")):
        told = {one.code for one in bridle_cautions(found) if one.severity == "stop"}
        assert told == ({code} if code else set())
    # An apex under one side of the triangle: nothing in the third leg, and no minus before it.
    three = bridle_to_points(
        load_n=1000.0,
        apex_m=(0.0, -1.0, 7.0),
        points_m=((0.0, 1.0, 8.0), (1.0, -1.0, 8.0), (-1.0, -1.0, 8.5)),
    )
    assert not math.copysign(1.0, three.legs[0].tension_n) < 0.0
