"""Several loudspeakers chosen together: against one by one, brute force, and a formula of its own.

The level is written out again here from the standard's parts (spreading 20·lg r, the pattern's
parabola, air) and summed as powers, so that nothing of the search's own arithmetic is used to judge
it.  Ceilings and delays are held to plain arithmetic on the answer's rows.
"""

import math
from dataclasses import replace
from functools import partial

import numpy as np
import pytest
from outside import air_db
from paths import ROOT

import aiming
from aiming.aim.joint import GAINS_GAP_DB, JointStart, best_gains, solve_together
from aiming.aim.joint_problem import GAIN, JointProblem, allowed, hear
from aiming.aim.joint_search import pinned
from aiming.analysis.fill_alignment import matched
from aiming.analysis.placed_speaker import rows_of_speaker
from aiming.analysis.solve import everyone_placed, solve_alone
from aiming.analysis.together import question_of
from aiming.base.bands import exact_midband_hz

solved = partial(aiming.solve, choices=False)

FIELD = """
[[seating]]
name = "near"
line = [[{x0}, 0.0], [{x1}, 0.0]]
ears = "standing"
rows = 14
[[seating]]
name = "far"
line = [[{x2}, 0.0], [{x3}, 0.0]]
ears = "standing"
rows = 14
[[speaker]]
name = "main"
serves = ["near"]
pattern = {{ coverage = 40 }}
placement = {{ x = {xm}, height = [4.0, 8.0] }}
[[speaker]]
name = "delay"
serves = ["far"]
fills = "main"
pattern = {{ coverage = 50 }}
placement = {{ x = {xd}, height = [4.0, 7.0] }}
"""
PLACES = {"x0": 5.0, "x1": 30.0, "x2": 32.0, "x3": 60.0, "xm": -1.0, "xd": 24.0}


def load(tmp_path, text, name="field"):
    path = tmp_path / f"{name}.toml"
    path.write_text(text, encoding="utf-8")
    return aiming.load(path)


@pytest.fixture(scope="module")
def field(tmp_path_factory):
    """The field and its answer."""
    scenario = load(tmp_path_factory.mktemp("field"), FIELD.format(**PLACES))
    return scenario, solved(scenario)


def asked(scenario):
    """The joint question, and one by one as a setting."""
    chosen = solve_alone(scenario)
    found = everyone_placed(scenario, chosen)
    alone = matched(scenario, {at.speaker.name: rows_of_speaker(scenario, at) for at, _ in found})
    question = question_of(scenario, {n: one.question for n, one in chosen.items()}, alone)
    start = JointStart(
        tuple(chosen[member.name].placement for member in question.members),
        tuple(alone.scenario.speaker(member.name).gain_db for member in question.members),
    )
    return question, start


def random_settings(question: JointProblem, count: int, seed: int):
    """Settings spread at random over what is left to choose, axes on the audience."""
    rng = np.random.default_rng(seed)
    low, high = question.ranges[..., 0], question.ranges[..., 1]
    settings = low + (high - low) * rng.random((count, *low.shape))
    for one, member in enumerate(question.members):
        planes = member.problem.planes
        piece = rng.integers(0, len(planes.start_m), count)
        along = rng.random(count)[:, np.newaxis]
        aim = planes.start_m[piece] + along * (planes.end_m[piece] - planes.start_m[piece])
        x, z = settings[:, one, 2], settings[:, one, 1]
        settings[:, one, 0] = np.degrees(np.arctan2(aim[:, 1] - z, aim[:, 0] - x))
        if member.gain_db[0] < member.gain_db[1]:
            settings[:, one, GAIN] = rng.uniform(-12.0, 8.0, count)
    return settings, np.zeros(low.shape[:1], dtype=bool)[np.newaxis].repeat(count, axis=0)


def test_never_worse_than_one_by_one_nor_than_any_random_setting(field):
    scenario, answer = field
    question, start = asked(scenario)
    found = solve_together(question, start, gap_db=0.05)
    assert found is not None and found.proof.gap_db is not None
    assert answer.together.spread_db == pytest.approx(found.objective_db, abs=1e-9)
    assert answer.together.spread_db <= answer.together.one_by_one_db
    settings, flipped = random_settings(question, 4_000, 5)
    heard = hear(question, settings, flipped)
    allowed = heard.over_db <= 0.0
    assert allowed.sum() > 50
    least = float(heard.objective_db[allowed].min())
    assert found.objective_db <= least + found.proof.gap_db


def test_the_gains_are_the_best_of_a_grid(field):
    scenario, _ = field
    question, start = asked(scenario)
    gains = best_gains(question, start)
    assert gains is not None
    members = question.members
    base = np.stack(
        [one.setting(at, 0.0) for one, at in zip(members, start.placements, strict=True)]
    )
    grid = np.linspace(-30.0, 12.0, 1051)
    settings = np.tile(base, (len(grid) + 1, 1, 1))
    settings[:-1, 1, GAIN], settings[-1, :, GAIN] = grid, gains
    heard = hear(question, settings, np.zeros((len(settings), 2), dtype=bool))
    allowed = np.flatnonzero(heard.over_db[:-1] <= 0.0)
    assert heard.over_db[-1] <= 1e-6
    assert heard.objective_db[-1] <= heard.objective_db[allowed].min() + GAINS_GAP_DB


def path_db(band_hz, distance_m):
    return 20.0 * math.log10(distance_m) + air_db(band_hz, distance_m)


def own_level_db(scenario, answer, gains):
    """(rows,) design level of all, written out anew."""
    total = []
    for band in scenario.aim.bands_hz:
        power = np.zeros(len(scenario.rows))
        for one, gain in zip(answer.speakers, gains, strict=True):
            half = 0.5 * {"main": 40.0, "delay": 50.0}[one.name]
            for row in range(len(power)):
                dx = float(scenario.rows.x_m[row]) - one.x_m
                dz = float(scenario.rows.z_m[row]) - one.height_m
                r = math.hypot(dx, dz)
                off = math.degrees(math.atan2(dz, dx)) - one.tilt_deg
                lobe = max(-24.0, -20.0 * math.log10(2.0) * (off / half) ** 2)
                power[row] += 10.0 ** ((lobe + gain - path_db(band, r)) / 10.0)
        total.append(10.0 * np.log10(power))
    return np.mean(total, axis=0)


def test_the_setting_window_is_about_the_whole_and_ends_where_it_costs_half_a_decibel(field):
    scenario, answer = field
    gains = [one.gain_db for one in answer.speakers]

    def spread_db(changed):
        moved = replace(answer, speakers=tuple(changed))
        return float(np.ptp(own_level_db(scenario, moved, gains)))

    main, delay = answer.speakers
    whole = spread_db([main, delay])
    for at, (one, window) in enumerate((each, each.window) for each in answer.speakers):
        assert window.of == "all"
        for name, (low, high), off in (
            ("tilt_deg", window.tilt_deg, 0.2),
            ("height_m", window.height_m, 0.1),
        ):
            here = getattr(one, name)
            assert low <= here <= high
            for end, beyond in ((low, low - off), (high, high + off)):
                moved = [main, delay]
                moved[at] = replace(one, **{name: end})
                assert spread_db(moved) <= whole + 0.5 + 0.01
                moved[at] = replace(one, **{name: beyond})
                over = spread_db(moved) > whole + 0.5
                assert over or name == "height_m" or limited(answer, at, beyond)


def limited(answer, at, tilt_deg):
    """Whether the axis leaves the rows that the loudspeaker serves."""
    one = answer.speakers[at]
    rows = answer.scenario.rows
    block = ["near", "far"][at]
    served = [n for n, of in enumerate(answer.rows.seating) if of == block]
    angles = np.degrees(np.arctan2(rows.z_m[served] - one.height_m, rows.x_m[served] - one.x_m))
    return not angles.min() - 3.0 < tilt_deg < angles.max() - 0.0


def test_what_phase_would_make_of_it_by_hand(field):
    """Octaves of noise, tone by tone: the levels of two that differ by a share of a period."""
    scenario, answer = field
    level = np.zeros(len(scenario.rows))
    for n, band in enumerate(scenario.aim.bands_hz):
        middle = exact_midband_hz(band)
        tones = np.linspace(middle * 10.0**-0.15, middle * 10.0**0.15, 40_001)
        energy = np.zeros_like(level)
        for row in range(len(energy)):
            pressure = sum(
                10.0 ** (rows.levels_db[n, row] / 20.0)
                * np.exp(-2j * np.pi * tones * rows.arrival_ms[row] / 1000.0)
                for rows in answer.rows.by_speaker.values()
            )
            energy[row] = np.mean(np.abs(pressure) ** 2)
        level += 10.0 * np.log10(energy) / len(scenario.aim.bands_hz)
    assert answer.together.coherent_spread_db == pytest.approx(np.ptp(level), abs=0.001)
    assert abs(answer.together.coherent_spread_db - answer.together.spread_db) > 1e-4


def test_the_whole_is_what_an_own_formula_gives_and_no_step_makes_it_better(field):
    scenario, answer = field
    gains = [one.gain_db for one in answer.speakers]
    level = own_level_db(scenario, answer, gains)
    # The table is read linearly between its angles: 0.001 dB each.
    assert np.ptp(level) == pytest.approx(answer.together.spread_db, abs=0.005)
    gap = answer.together.proof.gains_gap_db
    main = answer.rows.by_speaker["main"].levels_db.mean(axis=0)
    delay = answer.rows.by_speaker["delay"].levels_db.mean(axis=0)
    for step in (-2.0, -0.5, -0.1, 0.1, 0.5, 2.0):
        if (delay + step - main).max() <= 6.0:
            moved = own_level_db(scenario, answer, [gains[0], gains[1] + step])
            assert np.ptp(moved) >= answer.together.spread_db - gap - 0.005


def test_ceilings_hold_and_what_they_cost_is_told(tmp_path, field):
    costs = []
    for ceiling in (0.0, 3.0, 10.0):
        text = FIELD.format(**PLACES) + f"ceiling_db = {ceiling}\n"
        answer = solved(load(tmp_path, text, f"c{ceiling:g}"))
        re_main = answer.rows.by_speaker["delay"].re_main_db
        assert re_main.max() <= ceiling + 1e-6
        costs.append(answer.together.spread_db)
    assert costs == sorted(costs, reverse=True)
    _, six = field
    assert six.together.higher_ceilings.objective_db == pytest.approx(costs[-1], abs=0.06)


def test_the_fill_is_nowhere_early_where_both_are_heard(field):
    _, answer = field
    rows = answer.rows.by_speaker["delay"]
    both = np.abs(rows.re_main_db) <= 10.0
    assert rows.after_main_ms[both].min() == pytest.approx(10.0, abs=1e-6)
    way = rows.distance_m - answer.rows.by_speaker["main"].distance_m
    c = 331.45 * math.sqrt(1.0 + 20.0 / 273.15)  # dry air, from memory; within 0.3 m/s of any table
    by_hand = 10.0 - 1000.0 * way[both].min() / c
    assert answer.speakers[1].delay_ms == pytest.approx(by_hand, abs=0.15)


def test_a_shifted_house_is_hung_alike(tmp_path, field):
    _, answer = field
    moved = {key: value + 7.5 for key, value in PLACES.items()}
    other = solved(load(tmp_path, FIELD.format(**moved), "moved"))
    assert other.together.spread_db == pytest.approx(answer.together.spread_db, abs=0.01)
    for one, there in zip(answer.speakers, other.speakers, strict=True):
        assert there.gain_db == pytest.approx(one.gain_db, abs=0.2)


def test_equal_boxes_at_equal_distance_get_equal_gains(tmp_path):
    """Two fills, one on either side of a main that looks along the middle."""
    text = """
[[seating]]
name = "left"
line = [[-20.0, 0.0], [-8.0, 0.0]]
rows = 7
[[seating]]
name = "right"
line = [[8.0, 0.0], [20.0, 0.0]]
rows = 7
[[speaker]]
name = "main"
pattern = { coverage = 300 }
placement = { height = 6.0, tilt = -90 }
"""
    for side, sign in (("left", -1.0), ("right", 1.0)):
        text += f"""
[[speaker]]
name = "{side}"
serves = ["{side}"]
fills = "main"
pattern = {{ coverage = 170 }}
placement = {{ x = {sign * 14.0}, height = 3.0, tilt = -90 }}
"""
    answer = solved(load(tmp_path, text))
    gains = {one.name: one.gain_db for one in answer.speakers}
    assert gains["left"] == pytest.approx(gains["right"], abs=0.05)


DOWNWARDS = """
[[seating]]
name = "inner"
line = {inner}
rows = 9
[[seating]]
name = "outer"
line = {outer}
rows = 9
[[speaker]]
name = "main"
pattern = {{ coverage = 120 }}
placement = {{ x = {main}, height = 7.0, tilt = -90 }}
[[speaker]]
name = "fill"
serves = ["outer"]
fills = "main"
pattern = {{ coverage = 100 }}
placement = {{ x = {fill}, height = [3.0, 6.0], tilt = -90 }}
"""


def test_a_mirrored_house_is_hung_alike(tmp_path):
    """All look straight down, so that left and right are alike to them."""

    def hung(sign):
        def line(*points):
            return sorted([sign * x, z] for x, z in points)

        text = DOWNWARDS.format(
            inner=line((-6.0, 0.0), (5.0, 0.3)),
            outer=line((5.0, 0.3), (17.0, 1.1)),
            main=sign * 0.5,
            fill=sorted([sign * 9.0, sign * 14.0]),
        )
        return solved(load(tmp_path, text, f"side{sign > 0}"))

    one, other = hung(1.0), hung(-1.0)
    gap = one.together.proof.gap_db + other.together.proof.gap_db
    assert other.together.spread_db == pytest.approx(one.together.spread_db, abs=gap)
    assert one.together.spread_db < one.together.one_by_one_db
    right, left = one.speakers[1], other.speakers[1]
    assert left.x_m == pytest.approx(-right.x_m, abs=0.05)
    assert left.height_m == pytest.approx(right.height_m, abs=0.05)
    assert left.gain_db == pytest.approx(right.gain_db, abs=0.05)


def test_a_useless_loudspeaker_changes_nothing(tmp_path):
    with_it = (
        FIELD.format(**PLACES)
        + """
[[speaker]]
name = "lost"
serves = ["far"]
gain_db = -300
pattern = { coverage = 50 }
placement = { x = 500.0, height = 5.0, tilt = -5 }
[aim]
axis_on_audience = false
"""
    )
    without = FIELD.format(**PLACES) + "[aim]\naxis_on_audience = false\n"
    one = solved(load(tmp_path, with_it, "with"))
    other = solved(load(tmp_path, without, "without"))
    assert one.together.spread_db == pytest.approx(other.together.spread_db, abs=0.05)


def test_one_by_one_and_a_gain_that_is_given(tmp_path, field):
    text = FIELD.format(**PLACES)
    alone = solved(load(tmp_path, text + '[together]\naim = "one by one"\n', "alone"))
    assert alone.together.proof is None and alone.together.one_by_one_db is None
    _, both = field
    assert both.together.one_by_one_db == pytest.approx(alone.together.spread_db, abs=1e-9)
    given = solved(load(tmp_path, text + "gain_db = -3\n", "given"))
    assert given.speakers[1].gain_db == -3.0
    assert given.together.proof.gains_gap_db is None
    ranged = solved(load(tmp_path, text + "gain_db = [-4, -2]\n", "ranged"))
    assert -4.0 <= ranged.speakers[1].gain_db <= -2.0


def told(answer, code):
    return [one for one in answer.cautions if one.code == code]


def test_where_nothing_keeps_every_limit_one_by_one_stands_and_says_so(tmp_path, field):
    """A fill that has to be far louder than its ceiling lets it."""
    text = FIELD.format(**PLACES) + "ceiling_db = 0\ngain_db = [25, 27]\n"
    answer = solved(load(tmp_path, text, "loud"))
    alone = solved(load(tmp_path, text + '[together]\naim = "one by one"\n', "alone"))
    assert answer.together.none_found and not alone.together.none_found
    assert len(told(answer, "not-chosen-together")) == 1
    assert not told(alone, "not-chosen-together")
    assert answer.together.spread_db == alone.together.spread_db
    assert [one.gain_db for one in answer.speakers] == [one.gain_db for one in alone.speakers]
    _, fine = field
    assert not fine.together.none_found and not told(fine, "not-chosen-together")


def test_a_fill_that_brings_little_is_named_and_what_it_brings_is_what_silence_costs(
    tmp_path, field
):
    _, answer = field
    without = own_level_db(answer.scenario, answer, [0.0, -math.inf])
    whole = own_level_db(answer.scenario, answer, [one.gain_db for one in answer.speakers])
    brings = answer.speakers[1].adds.brings_db
    assert brings == pytest.approx(np.ptp(without) - np.ptp(whole), abs=0.01)
    assert brings > 0.3 and not told(answer, "fill-not-needed")
    soft = solved(load(tmp_path, FIELD.format(**PLACES) + "gain_db = -40\n", "soft"))
    [found] = told(soft, "fill-not-needed")
    assert found.speaker == "delay" and found.value == soft.speakers[1].adds.brings_db < 0.3


def test_a_fill_whose_place_makes_it_useless_is_named(tmp_path, field):
    _, answer = field
    assert not told(answer, "fill-useless-place")
    soft = solved(load(tmp_path, FIELD.format(**PLACES) + "gain_db = -20\n", "soft"))
    [found] = told(soft, "fill-useless-place")
    [main, delay] = soft.speakers
    rows = soft.rows.by_speaker
    by_hand = (rows["main"].levels_db - rows["delay"].levels_db)[:, delay.aim_row].mean()
    assert found.severity == "caution" and found.value == pytest.approx(by_hand, abs=1e-9)
    assert delay.match.aim_re_main_db == pytest.approx(-by_hand, abs=1e-9)
    assert main.match is None


@pytest.mark.parametrize("objective", ["worst band", "deviation"])
def test_other_objectives_are_no_worse_than_where_another_leads(tmp_path, field, objective):
    text = FIELD.format(**PLACES)
    _, spread = field
    other = solved(load(tmp_path, text + f'[aim]\nobjective = "{objective}"\n', "other"))
    if objective == "worst band":
        least, found = spread.together.worst_band_spread_db, other.together.worst_band_spread_db
    else:
        least, found = (
            aiming.aim.measures.deviation_db(one.rows.levels_db, np.ones(28))
            for one in (spread, other)
        )
    assert found <= least + 0.06


def test_the_shipped_field_and_theatre():
    """The field: 14.1 dB one by one, 7.5 together; the theatre's geometry keeps it at 10.7."""
    for name, least in (("field_with_delays", 7.512), ("theatre_balcony_delay", 10.674)):
        answer = solved(aiming.load(ROOT / "scenarios" / f"{name}.toml"))
        assert answer.together.spread_db == pytest.approx(least, abs=0.02)
        proof = answer.together.proof
        assert proof.each_alone_gap_db <= 0.05
        assert proof.gains_gap_db <= GAINS_GAP_DB + 1e-9


def test_the_theatre_names_what_holds_its_spread():
    """By hand: the delay is 5.0 times as far from row Y as from the row that it hangs over."""
    answer = solved(aiming.load(ROOT / "scenarios" / "theatre_balcony_delay.toml"))
    ends, rows = answer.together.held_by, answer.rows
    loud, soft = (
        {(rows.name[row], rows.seating[row]) for row in of} for of in (ends.loudest, ends.softest)
    )
    assert {("16", "stalls"), ("BA", "balcony")} <= loud
    assert {("1", "stalls"), ("Y", "under the balcony")} <= soft
    assert ends.speaker == "balcony delay"
    near, far = (
        math.dist((15.2, 3.2), (rows.x_m[row], rows.z_m[row]))
        for row in (ends.near_row, ends.far_row)
    )
    assert far / near == pytest.approx(5.0, abs=0.05)
    assert answer.together.higher_ceilings.objective_db > answer.together.spread_db - 0.05


def nearer(settings, taken):
    """Settings drawn towards the one taken, a few unknowns at a time: most others break a limit."""
    rng = np.random.default_rng(17)
    share = 10.0 ** rng.uniform(-3.0, 0.0, (len(settings), 1, 1))
    moved = rng.random(settings.shape) < 0.3
    return taken + (settings - taken) * share * moved


def test_no_two_neighbours_of_three_are_better_aimed_anew():
    scenario = aiming.load(ROOT / "scenarios" / "field_with_delays.toml")
    question, start = asked(scenario)
    found = solve_together(question, start, gap_db=0.05, most_boxes=300)
    assert found is not None and found.proof.gap_db is not None and found.proof.gap_db > 0.05
    assert found.proof.pairs_gap_db is not None and found.proof.pairs_gap_db <= 0.05 + 1e-9
    taken = np.stack(
        [
            member.setting(at, gain)
            for member, at, gain in zip(
                question.members, found.placements, found.gains_db, strict=True
            )
        ]
    )
    turned = np.zeros((1, 3), dtype=bool)
    for pair in ((0, 1), (1, 2)):
        own = pinned(question, taken, turned[0], moving=pair, gains=pair)
        settings, flipped = random_settings(own, 10_000, 11)
        rest = [one for one in range(3) if one not in pair]
        settings[:, rest] = taken[rest]
        near = nearer(settings, taken)
        heard = hear(own, near, flipped)
        good = (heard.over_db <= 1e-6) & allowed(own, near, flipped)
        assert good.sum() > 100
        least = float(heard.objective_db[good].min())
        assert found.objective_db <= least + found.proof.pairs_gap_db


HALL = """
[[seating]]
name = "stalls"
line = [[4.0, 0.0], [18.0, 1.2]]
ears = "seated"
rows = 12
[[seating]]
name = "circle"
line = [[16.0, 5.0], [24.0, 8.0]]
ears = "seated"
rows = 8
[[surface]]
name = "circle front"
line = [[15.5, 4.2], [15.5, 5.6]]
[[speaker]]
name = "main"
serves = ["stalls", "circle"]
pattern = { file = "horn.csv" }
placement = { x = [-1.0, 0.5], trim = [5.5, 8.0], tilt = [-40.0, 10.0], orientation = "either" }
[speaker.cabinet]
mass_kg = 28.0
outline = [[-0.4, -0.25], [0.05, -0.25], [0.05, 0.45], [-0.4, 0.45]]
centre_of_gravity = [-0.16, 0.1]
picks = [
    { name = "front", at = [-0.02, 0.45], wll_kg = 200 },
    { name = "rear", at = [-0.36, 0.45], wll_kg = 200 },
    { name = "front, base", at = [-0.02, -0.25], wll_kg = 200 },
    { name = "rear, base", at = [-0.36, -0.25], wll_kg = 200 },
]
[speaker.rigging.upright]
method = "two points"
picks = ["front", "rear"]
[speaker.rigging.flipped]
method = "two points"
picks = ["front, base", "rear, base"]
[[speaker]]
name = "delay"
serves = ["circle"]
fills = "main"
pattern = { coverage = { above = 20, below = 35 } }
placement = { x = 11.0, height = [8.0, 10.0] }
[[speaker]]
name = "lip"
serves = ["stalls"]
fills = "main"
pattern = { coverage = 90 }
placement = { x = 0.0, height = 0.9, tilt = [-5.0, 40.0] }
"""


@pytest.mark.parametrize("objective", ["spread", "worst band", "deviation"])
def test_trim_rigging_either_way_up_and_measured_tables_together(tmp_path, objective):
    """What is chosen keeps every limit, and chance finds nothing better."""
    angles = np.arange(-90, 91, 5)
    rows = ["angle_deg,1000,2000,4000,8000"]
    for angle in angles:
        lobes = [-6.0 * (angle / half) ** 2 for half in (34.0, 30.0, 27.0, 24.0)]
        rows.append(",".join([str(angle), *(f"{max(lobe, -30.0):.2f}" for lobe in lobes)]))
    (tmp_path / "horn.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    scenario = load(tmp_path, HALL + f'[aim]\nobjective = "{objective}"\n', "hall")
    question, start = asked(scenario)
    found = solve_together(question, start, gap_db=0.05, most_boxes=600)
    assert found is not None
    taken = np.stack(
        [
            member.setting(at, gain)
            for member, at, gain in zip(
                question.members, found.placements, found.gains_db, strict=True
            )
        ]
    )
    turned = np.array([[bool(at.flipped) for at in found.placements]])
    assert allowed(question, taken[np.newaxis], turned)[0]
    heard = hear(question, taken[np.newaxis], turned)
    assert heard.over_db[0] <= 1e-6
    assert heard.objective_db[0] == pytest.approx(found.objective_db, abs=1e-9)
    settings, flipped = random_settings(question, 10_000, 3)
    flipped[:, 0] = np.random.default_rng(4).random(10_000) < 0.5
    settings = nearer(settings, taken)
    tried = hear(question, settings, flipped)
    good = (tried.over_db <= 1e-6) & allowed(question, settings, flipped)
    assert good.sum() > 100
    claimed = found.proof.gap_db
    least = float(tried.objective_db[good].min())
    assert found.objective_db <= least + (0.05 if claimed is None else min(claimed, 0.1))


def test_more_boxes_close_the_gap(tmp_path):
    scenario = load(tmp_path, FIELD.format(**PLACES))
    little = solved(scenario, prove_s=0.01).together.proof
    assert little.gap_db > 0.05
    longer = solved(scenario, prove_s=5.0).together.proof
    assert longer.gap_db <= 0.05 + 1e-9 and longer.boxes > little.boxes
