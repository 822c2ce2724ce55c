"""The fixed words held from outside: levels, and what is made of them."""

import math

import pytest
from asked import BLOCKS, FINE_DB, design, evaluated, mains, only, scene
from outside import (
    BANDS,
    DOWN_DB,
    air_db,
    deviation,
    level,
    mean,
    midband_hz,
    quadratic,
    range_of,
    seen,
    trapezoid,
)


def own_lobe(phi: float) -> float:
    return quadratic(phi, above=30, below=30)


def test_a_level_is_the_sum_of_its_seven_terms() -> None:
    speaker = 'gain_db = -3.5\neq_db = { "31.5" = 1.0, 2000 = -1.5, 8000 = 2.0 }'
    by_band = "{ 1000 = 97.5, 2000 = 99, 4000 = 96.0, 8000 = 91 }"
    pattern = f"coverage = 60\n[speaker.output]\nsensitivity_db = {by_band}"
    more = "[air]\ntemperature_c = 31.0\nhumidity_percent = 18.0"
    wall = '[[surface]]\nname = "rail"\nline = [[8.0, 0.0], [8.0, 2.6]]\n'
    text = scene(speaker=speaker, pattern=pattern, more=more)
    answer = evaluated(text.replace("[[speaker]]", wall + "[[speaker]]"))
    sensitivity = {1000: 97.5, 2000: 99.0, 4000: 96.0, 8000: 91.0}
    eq = {1000: 0.0, 2000: -1.5, 4000: 0.0, 8000: 2.0}
    hidden = 0
    for row, heard in zip(answer["rows"], mains(answer), strict=True):
        for hz in BANDS:
            shadow = heard["shadow_db"][f"{hz:g}"]
            assert shadow >= 0.0
            hidden += shadow > 1.0
            want = level(
                (row["x_m"], row["z_m"]),
                (0.0, 6.0),
                -20.0,
                hz,
                own_lobe,
                air=lambda f, r: air_db(f, r, celsius=31.0, humid=18.0),
            )
            want += sensitivity[int(hz)] - 3.5 + eq[int(hz)] - shadow
            assert heard["levels_db"][f"{hz:g}"] == pytest.approx(want, abs=FINE_DB)
            assert row["levels_db"][f"{hz:g}"] == pytest.approx(want, abs=FINE_DB)
        assert row["design_level_db"] == pytest.approx(mean(list(row["levels_db"].values())))
    assert hidden


@pytest.mark.parametrize("kpa", [70.0, 101.325, 105.0])
def test_air_pressure_counts(kpa: float) -> None:
    heard = mains(evaluated(scene(), air__pressure_kpa=kpa))[-1]
    apart = heard["levels_db"]["1000"] - heard["levels_db"]["8000"]
    low, high = (air_db(hz, heard["distance_m"], kpa=kpa) for hz in (1000, 8000))
    assert apart == pytest.approx(high - low, abs=2e-4)


def test_figures_are_made_of_levels_as_the_words_say() -> None:
    answer = evaluated(scene(seating=BLOCKS, placement="height = 7.0\ntilt = -15.0"))
    one, heard = only(answer), mains(answer)
    levels = design(answer)
    by_band = [[row["levels_db"][f"{hz:g}"] for row in heard] for hz in BANDS]
    weights: list[float] = []
    for name, weight in (("pit", 2.5), ("tier", 1.0), ("balcony", 1.0)):
        at = [row["x_m"] for row in answer["rows"] if row["seating"] == name]
        weights += [weight * share for share in trapezoid(at)]
    assert one["spread_db"] == pytest.approx(range_of(levels))
    assert one["worst_band_spread_db"] == pytest.approx(max(map(range_of, by_band)))
    assert one["deviation_db"] == pytest.approx(deviation(by_band, weights))
    middle = mean(levels, weights)
    near = mean([abs(value - middle) <= 3.0 for value in levels])
    assert one["rows_within_3db_percent"] == pytest.approx(100.0 * near)
    for hz, values in zip(BANDS, by_band, strict=True):
        band = one["by_band"][f"{hz:g}"]
        assert band["spread_db"] == pytest.approx(range_of(values))
        assert values[band["loudest"]] == max(values)
        assert values[band["softest"]] == min(values)


def test_figures_of_one_loudspeaker_are_over_the_rows_that_it_serves() -> None:
    text = scene(
        seating=BLOCKS, speaker='serves = ["tier"]', placement="height = 7.0\ntilt = -15.0"
    )
    answer = evaluated(text)
    one = only(answer)
    served = [k for k, row in enumerate(answer["rows"]) if row["seating"] == "tier"]
    assert one["spread_db"] == pytest.approx(range_of(design(answer, "tier")))
    assert one["spread_db"] < range_of(design(answer)) - 0.5
    assert {one["by_band"]["1000"]["loudest"], one["by_band"]["8000"]["softest"]} <= set(served)
    assert answer["together"]["spread_db"] == pytest.approx(range_of(design(answer)))
    assert len(mains(answer)) == len(answer["rows"])  # every loudspeaker at every row


def test_two_loudspeakers_add_by_power() -> None:
    other = '\n[[speaker]]\nname = "side"\ngain_db = -2\n[speaker.pattern]\ncoverage = 90\n'
    other += "[speaker.placement]\nheight = 4\ntilt = -10\n"
    answer = evaluated(scene() + other)
    for row in answer["rows"]:
        for hz in ("1000", "8000"):
            parts = [row["by_speaker"][name]["levels_db"][hz] for name in ("main", "side")]
            total = 10.0 * math.log10(sum(10.0 ** (part / 10.0) for part in parts))
            assert row["levels_db"][hz] == pytest.approx(total, abs=1e-9)
    both = [row["design_level_db"] for row in answer["rows"]]
    assert answer["together"]["spread_db"] == pytest.approx(range_of(both))
    worst = max(
        range_of([row["levels_db"][hz] for row in answer["rows"]])
        for hz in ("1000", "2000", "4000", "8000")
    )
    assert answer["together"]["worst_band_spread_db"] == pytest.approx(worst)


def test_bands_are_nominal_in_words_and_exact_in_formulas() -> None:
    answer = evaluated(scene(more="[aim]\nbands = [31.5, 8000]"))
    assert list(answer["rows"][0]["levels_db"]) == ["31.5", "8000"]
    row, heard = answer["rows"][-1], mains(answer)[-1]
    between = heard["levels_db"]["31.5"] - heard["levels_db"]["8000"]
    r = seen((row["x_m"], row["z_m"]), (0.0, 6.0))[0]
    own = air_db(8000, r) - air_db(31.5, r)
    assert between == pytest.approx(own, abs=2e-4)
    nominal = (8000.0 / midband_hz(8000.0)) ** 1.7  # as the loss grows with frequency there
    assert between != pytest.approx(nominal * own, abs=5e-3)


def test_the_coverage_angle_is_between_its_six_db_directions() -> None:
    # Ears placed exactly on the edges of 60°, 30° off the axis: 20 lg 2 below a neighbour on it.
    dx = 5.0
    z = 6 - dx * math.tan(math.radians(50))
    seat = f'[[seating]]\nname = "t"\nline = [[5, {z!r}], [5.001, 0]]\nears = 0.0\nrows = 1'
    (heard,) = mains(evaluated(scene(seating=seat)))
    r = heard["distance_m"]
    down = heard["levels_db"]["1000"] + 20 * math.log10(r) + air_db(1000.0, r)
    down += heard["shadow_db"]["1000"]
    assert heard["off_axis_deg"] == pytest.approx(-30.0)
    assert down == pytest.approx(-DOWN_DB, abs=FINE_DB)
