"""Levels in houses of three tiers, shadows and all, against a formula of its own: 0.001 dB."""

import numpy as np
import pytest
from outside import BANDS, Point, level, quadratic, rows
from own_house import detour_m, edge_db, walls_of_floors

import aiming

Line = list[Point]


def house(seed: int) -> tuple[list[Line], list[int], list[tuple[Point, Point]]]:
    """Stalls, a circle over their rear, a gallery over that; the circle with a front."""
    rng = np.random.default_rng(seed)
    first, last = rng.uniform(3.0, 6.0), rng.uniform(14.0, 18.0)
    edge, up = last - rng.uniform(3.0, 8.0), rng.uniform(3.0, 4.0)
    behind, top = edge + rng.uniform(1.5, 4.0), up + rng.uniform(4.0, 5.0)
    floors = [
        [(first, 0.0), (last, rng.uniform(0.2, 1.5))],
        [(edge, up), (edge + rng.uniform(8.0, 12.0), up + rng.uniform(2.0, 3.5))],
        [(behind, top), (behind + rng.uniform(5.0, 8.0), top + rng.uniform(2.0, 3.5))],
    ]
    return floors, [0], [((edge, up), (edge, up + rng.uniform(0.4, 1.4)))]


def scenario_text(floors: list[Line], fronts: list[tuple[Point, Point]], place: str) -> str:
    seats = "".join(
        f'[[seating]]\nname = "tier {k}"\nline = {[list(p) for p in floor]}\nrow_spacing = 2.1\n'
        for k, floor in enumerate(floors)
    )
    rails = "".join(
        f'[[surface]]\nname = "front {k}"\nline = {[list(p) for p in front]}\n'
        for k, front in enumerate(fronts)
    )
    box = '[[speaker]]\nname = "main"\npattern = { coverage = { above = 35, below = 45 } }\n'
    return f"{seats}{rails}{box}placement = {{ {place} }}\n"


def spot(seed: int) -> tuple[float, float, float]:
    """x, height and tilt: from the stage's height to over the gallery's."""
    rng = np.random.default_rng(100 + seed)
    return rng.uniform(-1.0, 3.0), rng.uniform(1.0, 16.0), rng.uniform(-40.0, 10.0)


@pytest.mark.parametrize("seed", range(8))
def test_every_row_of_three_tiers(seed: int) -> None:
    floors, ground, fronts = house(seed)
    x, height, tilt = spot(seed)
    text = scenario_text(floors, fronts, f"x = {x}, height = {height}, tilt = {tilt}")
    found = aiming.evaluate(aiming.load("-", stdin_text=text), choices=False).rows
    walls = walls_of_floors(floors, ground, fronts)
    ears = [ear for floor in floors for ear in rows(floor, spacing=2.1)]
    assert len(ears) == len(found)
    for row, ear in enumerate(ears):
        detour = detour_m((x, height), ear, walls)
        for band, hz in enumerate(BANDS):
            lobe = level(ear, (x, height), tilt, hz, lambda phi: quadratic(phi, above=35, below=45))
            wanted = lobe - edge_db(detour, hz)
            assert found.levels_db[band, row] == pytest.approx(wanted, abs=0.001), (row, hz)


def test_there_are_rows_in_the_light_and_rows_in_the_shadow() -> None:
    """Otherwise the test above would tell nothing of shadows."""
    hidden, every = 0, 0
    for seed in range(8):
        floors, ground, fronts = house(seed)
        walls = walls_of_floors(floors, ground, fronts)
        ears = [ear for floor in floors for ear in rows(floor, spacing=2.1)]
        hidden += sum(detour_m(spot(seed)[:2], ear, walls) > 0.0 for ear in ears)
        every += len(ears)
    assert 0.05 * every < hidden < 0.6 * every, (hidden, every)
