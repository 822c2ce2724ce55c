"""The ground stack of the how-to page: its lines are taken, its figures are worked by hand."""

import re
from math import atan2, cos, degrees, radians, sin

import pytest
from paths import ROOT

import aiming
from aiming.base.units import G_M_S2 as G

PAGE = (ROOT / "docs" / "how-to-ground-stack.md").read_text(encoding="utf-8")
SAID = re.compile(
    r"says: ([\d.]+) kg in all.*?([\d.]+)° forward, ([\d.]+)° backward.*?([\d.]+) kN.*?"
    r"([\d.]+) times what\supsets forward, ([\d.]+) backward, and ([\d.]+) against sliding",
    re.DOTALL,
)


def test_the_figures_of_the_page_are_those_of_its_lines():
    [stack] = [
        block
        for block in re.findall(r"```toml\n(.*?)```", PAGE, re.DOTALL)
        if "[speaker.stack]" in block
    ]
    club = (ROOT / "scenarios" / "basement_club.toml").read_text(encoding="utf-8")
    answer = aiming.solve(
        aiming.load("-", stdin_text=club.replace("[[variant]]", f"{stack}\n[[variant]]", 1)),
        choices=False,
    )
    assert not [one for one in answer.cautions if one.severity == "stop"]
    [said] = SAID.findall(PAGE)
    mass, forward, backward, wind, over_front, over_rear, sliding = map(float, said)
    # By hand: box and ballast about the acoustic centre's x, heights over the ground.
    [one] = answer.speakers
    tilt = radians(one.tilt_deg)
    box_x, box_z = -0.14 * cos(tilt), one.height_m - 0.14 * sin(tilt)
    x = (22.0 * box_x + 60.0 * (0.3 - one.x_m)) / 82.0
    z = (22.0 * box_z + 60.0 * 0.2) / 82.0
    push = 1.8 * 0.5 * 1.25 * 15.0**2 * 0.35
    corners = [(-0.32, -0.28), (0.03, -0.28), (0.03, 0.30), (-0.32, 0.30)]
    heights = [u * sin(tilt) + w * cos(tilt) for u, w in corners]
    arm = one.height_m + 0.5 * (min(heights) + max(heights))
    assert mass == 82.0
    assert forward == pytest.approx(degrees(atan2(0.25 - x, z)), abs=0.05)
    assert backward == pytest.approx(degrees(atan2(x + 0.35, z)), abs=0.05)
    assert 1000.0 * wind == pytest.approx(push, abs=0.5)
    assert over_front == pytest.approx(82.0 * G * (0.25 - x) / (push * arm), abs=0.006)
    assert over_rear == pytest.approx(82.0 * G * (x + 0.35) / (push * arm), abs=0.006)
    assert sliding == pytest.approx(0.4 * 82.0 * G / push, abs=0.006)
    # And what the answer itself says.
    stack_found = one.support.stack
    assert stack_found.ballast_kg == 0.0
    assert stack_found.front.tip_deg == pytest.approx(forward, abs=0.05)
