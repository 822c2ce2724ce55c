"""No stop inside a printed tolerance, ever: what the sheet says may be read is tried, tilt by tilt.

Boxes hung in every way with something near its limit: a point, a part, the structure, the steel, a
line about to go slack.  Tilts all over each printed tolerance are held against the limits anew.
"""

import re

import numpy as np
from held_scenes import BOX, scene

import aiming
from aiming.analysis.hang_geometry import hang_sheets
from aiming.analysis.support_loads import support_at
from aiming.report.sheets.words import inside_slopes_text
from aiming.speaker.speaker import Placement

TOLD = re.compile(r"([\d.]+)°(?: (up|down|level))?(?: to ([\d.]+)° (up|down|level))?")
STEEL_M = 5.0


def printed_deg(text):
    """The ends of a printed tolerance: "8.6° to 10.7° down", "1.0° down to 2.0° up"."""
    first, side, second, other = TOLD.fullmatch(text).groups()
    sign = {"up": 1.0, "down": -1.0, "level": 0.0}
    if second is None:
        return (sign[side] * float(first),) * 2
    return tuple(sorted((sign[side or other] * float(first), sign[other] * float(second))))


def hung(rng):
    """A rigging in which something comes to its limit not far from the tilt."""
    tilt = float(rng.uniform(-22.0, 6.0))
    pull = rng.integers(3) == 0
    picks = '["front", "rear, base"]' if pull else '["front", "rear"]'
    lines = [f'method = "{"pull-back" if pull else "two points"}"', f"picks = {picks}"]
    if pull:
        lines.append(f"pull_elevation_deg = {rng.uniform(0.0, 60.0):.1f}")
    if rng.integers(2):
        lines.append(f"structure_capacity_kn = {rng.uniform(0.3, 0.9):.3f}")
    if rng.integers(2):
        lines.append('fitting = "shoulder eyebolt"')
    lines.append(f"steel_height = {STEEL_M}")
    shackle = f'{{ name = "shackle", wll = "{rng.uniform(35.0, 120.0):.1f} kg", length = 0.1 }}'
    hoist = f'{{ name = "hoist", mass = "9 kg", length = {rng.uniform(0.3, 0.75):.3f} }}'
    lines += ["[[speaker.rigging.upright.line]]", f"parts = [{hoist}, {shackle}]"]
    limit = rng.uniform(40.0, 110.0)
    cabinet = BOX.replace("wll_kg = 130", f"wll_kg = {limit:.1f}")
    height = STEEL_M - 0.44 - rng.uniform(0.5, 1.0)
    return scene(
        placement=f"height = {height:.3f}\ntilt = {tilt:.2f}", cabinet=cabinet,
        upright="\n".join(lines),
    )  # fmt: skip


def over_a_limit(held):
    """What of a hang is at fault, read off its figures one by one."""
    loads = held.loads
    for point in loads.points:
        if point.tension_n < -1e-6 or point.tension_n > 0.5 * point.wll_n * (1.0 + 1e-9):
            yield point.name
        if point.kept_share is not None and point.off_axis_deg > 5.0 and (
            point.tension_n > 0.5 * point.wll_n * point.kept_share * (1.0 + 1e-9)
        ):  # fmt: skip
            yield f"fitting of {point.name}"
    for line in loads.lines:
        if line.spare_m is not None and line.spare_m < -1e-6:
            yield f"headroom of {line.name}"
        for part in line.parts:
            if part.wll_n is not None and part.load_n > 0.5 * part.wll_n * (1.0 + 1e-9):
                yield part.name
        if (line.structure_utilisation or 0.0) > 1.0 + 1e-9:
            yield f"structure over {line.name}"
    if not loads.reachable:
        yield "out of reach"


def test_every_tilt_that_the_sheet_allows_is_free_of_stops():
    rng = np.random.default_rng(9)
    printed = cut = 0
    for _ in range(40):
        text = hung(rng)
        answer = aiming.evaluate(aiming.load("-", stdin_text=text))
        [sheet] = hang_sheets(answer)
        if sheet.inclinometer_window_deg is None:
            continue
        assert not sheet.stopped
        printed += 1
        cut += any(sheet.window_cut)
        told = inside_slopes_text(sheet.inclinometer_window_deg, sheet.window_cut)
        [one], [speaker] = answer.speakers, answer.scenario.speakers
        for tilt in np.linspace(*printed_deg(told), 9):
            there = Placement(one.x_m, one.height_m, float(tilt), False)
            faults = list(over_a_limit(support_at(answer.scenario, speaker, there)))
            assert not faults, (told, tilt, faults)
        for line in one.loads.lines:
            for band in (line.accept_n, line.level_accept_n):
                assert band is None or line.stop_over_n is None or band[1] <= line.stop_over_n
    assert printed > 10 and cut > 2
