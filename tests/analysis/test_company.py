"""Loudspeakers among others: sums, fills at their handover, boxes hung under boxes.

Sums of equal sources: Davis and Patronis, Sound System Engineering, 2.15 (levels) and the cosine
rule of two phasors.  Fills are common practice without a source, so their rules are held to plain
arithmetic on the answer's own rows.
"""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from paths import ROOT

import aiming
from aiming.base.bands import edges_hz, exact_midband_hz
from aiming.base.errors import ScenarioError
from aiming.field.summing import arrival_ms, coherent_sum_db, in_step_share
from aiming.scenario.read import rebuilt

BANDS = (1000.0, 2000.0)

HOUSE = """
[[seating]]
name = "stalls"
line = [[4.0, 0.0], [16.0, 0.6]]
rows = 13
[[seating]]
name = "rear"
line = [[17.0, 0.7], [24.0, 1.2]]
rows = 8
[[speaker]]
name = "main"
serves = ["stalls"]
delay_ms = 3
pattern = { coverage = 50 }
placement = { height = 6.0, tilt = -14 }
[[speaker]]
name = "delay"
serves = ["rear"]
pattern = { coverage = 80 }
placement = { x = 15.0, height = 4.2, tilt = -16 }
fills = "main"
"""


def load(tmp_path, text):
    path = tmp_path / "house.toml"
    path.write_text(text, encoding="utf-8")
    return aiming.load(path)


def codes(answer, of="delay"):
    return {one.code: one for one in answer.cautions if one.speaker == of}


def test_in_step_two_equal_ones_give_six_decibels():
    levels = np.full((2, 2, 1), 80.0)
    together = coherent_sum_db(levels, np.zeros((2, 1)), BANDS)
    assert together == pytest.approx(80.0 + 20.0 * math.log10(2.0), abs=1e-9)
    apart = coherent_sum_db(levels, np.array([[0.0], [1000.0]]), BANDS)
    assert apart == pytest.approx(80.0 + 10.0 * math.log10(2.0), abs=0.02)


@pytest.mark.parametrize("apart_ms", [0.0, 0.05, 0.21, 0.5, 1.3, 7.0])
def test_the_band_average_is_an_average(apart_ms):
    """Against adding up the cosine over a thousand frequencies of the band."""
    for band, share in zip(BANDS, in_step_share(np.array([apart_ms]), BANDS), strict=True):
        low, high = edges_hz(exact_midband_hz(band), per_octave=1)
        step = (high - low) / 4000.0
        steps = low + step * (np.arange(4000) + 0.5)
        mean = np.cos(2.0 * np.pi * steps * apart_ms / 1000.0).mean()
        assert share[0] == pytest.approx(mean, abs=1e-4)


@given(
    levels=st.lists(st.floats(20.0, 120.0), min_size=1, max_size=4),
    times=st.lists(st.floats(0.0, 30.0), min_size=4, max_size=4),
)
@settings(deadline=None, derandomize=True)
def test_a_coherent_sum_lies_between_nothing_and_all_in_step(levels, times):
    table = np.array(levels).reshape(-1, 1, 1).repeat(2, axis=1)
    arrivals = np.array(times[: len(levels)]).reshape(-1, 1)
    summed = coherent_sum_db(table, arrivals, BANDS)
    most = 20.0 * math.log10(sum(10.0 ** (one / 20.0) for one in levels))
    assert (summed <= most + 1e-9).all()
    if len(levels) == 1:
        assert summed == pytest.approx(levels[0], abs=1e-9)


def test_arrival_is_way_and_delay():
    assert arrival_ms(np.array([34.32]), c_m_s=343.2, delay_ms=5.0)[0] == pytest.approx(105.0)


def test_a_fill_meets_its_main_at_the_first_of_its_rows(tmp_path):
    """Gain and delay by hand from distances and levels at the handover row."""
    text = HOUSE + "ceiling_db = 40\nbehind_ms = 7\n"
    answer = aiming.solve(load(tmp_path, text))
    delay, match = answer.speakers[1], answer.speakers[1].match
    assert match.handover_row == 13
    main, own = (answer.rows.by_speaker[name] for name in ("main", "delay"))
    x, z = 17.0, 0.7 + 1.2
    r_main, r_own = math.hypot(x, z - 6.0), math.hypot(x - 15.0, z - 4.2)
    assert delay.delay_ms == pytest.approx(3.0 + (r_main - r_own) / 0.3432 + 7.0, abs=1e-6)
    level = {name: one.levels_db.mean(axis=0) for name, one in answer.rows.by_speaker.items()}
    assert level["delay"][13] == pytest.approx(level["main"][13], abs=1e-9)
    assert match.handover_re_main_db == pytest.approx(0.0, abs=1e-9)
    assert own.after_main_ms[13] == pytest.approx(7.0, abs=1e-9)
    assert own.arrival_ms - main.arrival_ms == pytest.approx(own.after_main_ms, abs=1e-12)
    plain = aiming.solve(rebuilt(load(tmp_path, text), {"speaker.delay.gain_db": delay.gain_db}))
    assert plain.rows.levels_db == pytest.approx(answer.rows.levels_db, abs=1e-9)


def test_the_ceiling_holds_wherever_the_main_is_not_hidden(tmp_path):
    answer = aiming.solve(load(tmp_path, HOUSE + "ceiling_db = -2\n"))
    rows = answer.rows.by_speaker["delay"]
    assert rows.re_main_db.max() == pytest.approx(-2.0, abs=1e-9)
    match = answer.speakers[1].match
    assert match.at_ceiling and match.ceiling_row == int(rows.re_main_db.argmax())
    assert answer.speakers[1].gain_db == pytest.approx(match.ceiling_gain_db)
    told = codes(answer)["fill-at-ceiling"]
    assert told.value == pytest.approx(match.level_gain_db - match.ceiling_gain_db)


def test_hidden_rows_ask_for_no_ceiling(tmp_path):
    """A balcony over the rear hides it from the main alone: there the fill may be louder."""
    wall = '[[surface]]\nname = "front"\nline = [[14.0, 2.6], [14.0, 9.0]]\n'
    answer = aiming.solve(load(tmp_path, wall + HOUSE + 'handover = "13 of stalls"\n'))
    main, own = (answer.rows.by_speaker[name] for name in ("main", "delay"))
    hidden = main.shadow_db.max(axis=0) >= 5.0
    assert hidden[13:].all()
    assert own.re_main_db[hidden].max() > 3.0
    assert own.re_main_db[~hidden].max() <= 1e-9


def test_a_later_fill_and_an_early_one_are_told(tmp_path):
    base = load(tmp_path, HOUSE)
    late = rebuilt(base, {"speaker.delay.delay_ms": 90.0, "speaker.delay.gain_db": 0.0})
    told = codes(aiming.solve(late))
    assert {"fill-lags", "fill-over-ceiling", "fill-off-match"} <= set(told)
    assert told["fill-lags"].value > 20.0 == told["fill-lags"].limit
    early = rebuilt(base, {"speaker.delay.delay_ms": 0.0, "speaker.delay.gain_db": -15.0})
    told = codes(aiming.solve(early))
    assert told["fill-leads"].value < 0.0
    assert "fill-lags" not in told
    assert not {"fill-leads", "fill-lags"} & set(codes(aiming.solve(base)))


def test_ten_degrees_move_the_alignment(tmp_path):
    answer = aiming.solve(load(tmp_path, HOUSE))
    main, own = (answer.rows.by_speaker[name] for name in ("main", "delay"))
    way = (own.distance_m - main.distance_m)[13:]
    warm, cold = (343.2 * math.sqrt((293.15 + by) / 293.15) for by in (10.0, -10.0))
    moved = max(
        np.abs(1000.0 * way * (1.0 / warm - 1.0 / 343.2)).max(),
        np.abs(1000.0 * way * (1.0 / cold - 1.0 / 343.2)).max(),
    )
    match = answer.speakers[1].match
    assert match.warming_ms == pytest.approx(moved, abs=1e-9)
    assert 0.3 < moved < 2.0
    assert match.drift_ms == pytest.approx(
        (own.after_main_ms[13:].min(), own.after_main_ms[13:].max())
    )


def test_a_fill_that_is_too_far_away_cannot_be_aligned(tmp_path):
    text = HOUSE.replace("x = 15.0, height = 4.2, tilt = -16", "x = -9.0, height = 4.2, tilt = -5")
    text = text.replace("delay_ms = 3", "delay_ms = 0")
    answer = aiming.solve(load(tmp_path, text + "behind_ms = 0\n"))
    assert answer.speakers[1].delay_ms == 0.0
    assert answer.speakers[1].match.aligned_delay_ms < 0.0
    assert "fill-late-without-delay" in codes(answer)


def test_arrivals_count_from_the_stage(tmp_path):
    answer = aiming.solve(load(tmp_path, "[time]\nreference = [-2.0, 1.5]\n" + HOUSE))
    rows = answer.rows
    main = rows.by_speaker["main"]
    way = np.hypot(rows.x_m + 2.0, rows.z_m - 1.5)
    expected = 1000.0 * (main.distance_m - way) / 343.2 + 3.0
    assert main.after_reference_ms == pytest.approx(expected, abs=1e-9)
    one = answer.to_dict()["rows"][0]["by_speaker"]
    assert one["main"]["after_reference_ms"] == pytest.approx(expected[0])
    assert "after_main_ms" in one["delay"] and "after_main_ms" not in one["main"]


def test_what_each_adds_is_what_is_lost_without_it(tmp_path):
    scenario = load(tmp_path, HOUSE + "gain_db = -14\ndelay_ms = 45\n")
    answer = aiming.solve(scenario)
    alone = load(tmp_path, HOUSE.split('[[speaker]]\nname = "delay"', maxsplit=1)[0])
    without = aiming.solve(alone).together
    adds = answer.speakers[1].adds
    assert adds.spread_without_db == pytest.approx(without.spread_db)
    assert adds.rows_within_3db_without_percent == pytest.approx(without.rows_within_3db_percent)
    assert aiming.solve(alone).speakers[0].adds is None


def test_the_sum_with_phase_is_that_of_the_rows(tmp_path):
    scenario = load(tmp_path, '[together]\nsum = "coherent"\n' + HOUSE)
    answer = aiming.solve(scenario)
    rows = list(answer.rows.by_speaker.values())
    expected = coherent_sum_db(
        np.stack([one.levels_db for one in rows]),
        np.stack([one.arrival_ms for one in rows]),
        answer.bands_hz,
    )
    assert answer.rows.levels_db == pytest.approx(expected, abs=1e-12)
    assert answer.to_dict()["together"]["sum"] == "coherent"


def test_splitting_a_seating_changes_no_level(tmp_path):
    whole = """
[[seating]]
name = "floor"
line = [[4.0, 0.0], [20.0, 0.8]]
rows = 17
"""
    split = """
[[seating]]
name = "front"
line = [[4.0, 0.0], [12.0, 0.4]]
rows = 9
[[seating]]
name = "back"
line = [[13.0, 0.45], [20.0, 0.8]]
rows = 8
"""
    speaker = """
[[speaker]]
name = "main"
pattern = { coverage = 50 }
placement = { height = 6.0, tilt = -14 }
[[speaker]]
name = "low"
pattern = { coverage = 90 }
placement = { height = 3.0, tilt = -10, x = 8.0 }
fills = "main"
"""
    one, two = (aiming.evaluate(load(tmp_path, text + speaker)) for text in (whole, split))
    assert two.rows.x_m == pytest.approx(one.rows.x_m)
    assert two.rows.levels_db == pytest.approx(one.rows.levels_db, abs=1e-9)
    for name in ("main", "low"):
        first, second = one.rows.by_speaker[name], two.rows.by_speaker[name]
        assert second.arrival_ms == pytest.approx(first.arrival_ms, abs=1e-9)
    assert two.speakers[1].gain_db == pytest.approx(one.speakers[1].gain_db, abs=1e-9)


def test_the_hall_is_solved_as_a_pair():
    scenario = aiming.load(ROOT / "scenarios" / "lecture_hall_downfill.toml")
    answer = aiming.solve(scenario)
    main, down = answer.speakers
    pair = main.pair
    assert down.hung_under == main.name and pair.under == down.name
    assert down.tilt_deg == pytest.approx(main.tilt_deg - pair.splay_deg, abs=1e-9)
    assert pair.spread_db < 3.3 < answer.speakers[0].spread_db
    assert main.gap_db <= 0.05
    held = scenario.company.hung_under[down.name]
    tilt, own = math.radians(main.tilt_deg), math.radians(down.tilt_deg)
    (u, w), (p, q) = held.joint_m, held.own_joint_m
    joint = (
        main.x_m + u * math.cos(tilt) - w * math.sin(tilt),
        main.height_m + u * math.sin(tilt) + w * math.cos(tilt),
    )
    again = (
        down.x_m + p * math.cos(own) - q * math.sin(own),
        down.height_m + p * math.sin(own) + q * math.cos(own),
    )
    assert joint == pytest.approx(again, abs=1e-9)
    # Both masses and the frame hang from the main's points; the down-fill's own loads are not told.
    assert main.loads.mass_kg == pytest.approx(31.0 + 4.0 + 11.0)
    assert down.loads is None
    assert not [one for one in answer.cautions if one.code == "loads-not-checked"]
    fixed = rebuilt(
        scenario,
        {
            "speaker.down-fill.splay": pair.splay_deg,
            'speaker."long throw".placement.height': main.height_m,
            'speaker."long throw".placement.tilt': main.tilt_deg,
        },
    )
    same = aiming.evaluate(fixed)
    assert same.speakers[0].pair.spread_db == pytest.approx(pair.spread_db, abs=1e-9)
    assert same.rows.levels_db == pytest.approx(answer.rows.levels_db, abs=1e-9)


def test_the_centre_of_gravity_of_both_by_hand():
    """Two boxes and a frame, moments about the upper acoustic centre, the lower one turned."""
    scenario = aiming.load(ROOT / "scenarios" / "lecture_hall_downfill.toml")
    fixed = rebuilt(scenario, {"speaker.down-fill.splay": 30.0})
    answer = aiming.solve(fixed)
    splay = math.radians(30.0)
    u, w = -0.13 + 0.15, 0.0 - 0.17
    lower = (
        -0.20 + u * math.cos(splay) + w * math.sin(splay),
        -0.22 - u * math.sin(splay) + w * math.cos(splay),
    )
    parts = [(31.0, (-0.19, 0.09)), (4.0, (-0.22, 0.54)), (11.0, lower)]
    whole = sum(mass for mass, _ in parts)
    expected = [sum(mass * at[k] for mass, at in parts) / whole for k in (0, 1)]
    assert answer.speakers[0].loads.centre_of_gravity_m == pytest.approx(expected, abs=1e-9)


def test_evaluate_wants_one_splay():
    scenario = aiming.load(ROOT / "scenarios" / "lecture_hall_downfill.toml")
    with pytest.raises(ScenarioError, match=r"down-fill\.splay: a range, 20 to 45"):
        aiming.evaluate(scenario)


@pytest.mark.parametrize(
    "name", ["lecture_hall_downfill", "theatre_balcony_delay", "field_with_delays"]
)
def test_the_examples(name):
    """Regression: stable over time, not shown correct; and the same bytes twice."""
    scenario = aiming.load(ROOT / "scenarios" / f"{name}.toml")
    first, second = aiming.solve(scenario), aiming.solve(scenario)
    assert repr(first.to_dict()) == repr(second.to_dict())
    assert not first.stopped
    gains = [round(one.gain_db, 1) for one in first.speakers]
    assert (
        gains
        == {
            "lecture_hall_downfill": [0.0, -6.0],
            "theatre_balcony_delay": [0.0, -12.5],
            "field_with_delays": [0.0, 1.5, -0.6],
        }[name]
    )
