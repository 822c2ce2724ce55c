"""A hundred single slips of unit, sign, order and magnitude in shipped scenarios: each answered.

Answered is a fault of the file, no placement, a stop, or a caution that the scenario as it is
shipped does not have.
"""

from pathlib import Path

import pytest

import aiming
from aiming.base.errors import AimingError, ScenarioError
from aiming.cautions.declare import DECLARED

SCENARIOS = Path(__file__).parents[2] / "scenarios"
LEAST_ANSWERED = 95

QUARRY, CHAPEL, GRANARY, GYM = "quarry", "chapel", "granary_hall", "school_gym"
THEATRE, PARISH, SCHOOL, CLUB = (
    "lecture_theatre", "parish_hall", "school_auditorium", "basement_club",
)  # fmt: skip
HORN, BALCONY, FIELD, FEET = (
    "measured_horn", "theatre_balcony_delay", "field_with_delays", "hillside_feet",
)  # fmt: skip
CENTRE = "speaker.centre.placement"
MAIN = "speaker.main.placement"


def _everywhere(name: str) -> list[tuple[str, dict[str, object]]]:
    """Slips that any scenario can have, by its own names and figures."""
    scenario = aiming.load(SCENARIOS / f"{name}.toml")
    first, speaker = scenario.seatings[0], scenario.speakers[0]
    seat, box = f'seating."{first.name}"', f'speaker."{speaker.name}"'
    low, high = speaker.hang.vertical_m
    unit = 0.3048 if scenario.units == "ft" else 1.0
    key = f"{box}.placement.{speaker.hang.vertical}"
    if speaker.hang.mount == "stacked":
        key = f"{box}.placement.height"
    line = [[float(x) / unit, float(z) / unit] for x, z in first.floor_m]
    return [
        (name, {key: round(500.0 * (low + high) / unit)}),
        (name, {key: -abs(low) / unit - 3.0}),
        (name, {f"{seat}.row_spacing": 3.0 / unit}),
        (name, {f"{seat}.row_spacing": 0.09 / unit}),
        (name, {f"{seat}.ears": 4.0 / unit}),
        (name, {f"{seat}.line": [[z, x] for x, z in line]}),
        (name, {f"{seat}.line": [[x, 1000.0 * z + 900.0] if x else [x, z] for x, z in line]}),
        (name, {f"{box}.gain_db": 400.0}),
        (name, {f"{box}.delay_ms": 20_000.0}),
        (name, {f"{box}.placement.x": 100.0 / unit}),
        (name, {"air.temperature_c": 68.0}),
        (name, {"air.humidity_percent": 0.5}),
    ]


SLIPS: list[tuple[str, dict[str, object]]] = [
    *(slip for name in (QUARRY, CHAPEL, THEATRE, GYM, SCHOOL, FEET) for slip in _everywhere(name)),
    (QUARRY, {f"{MAIN}.height": 5200}),
    (QUARRY, {f"{MAIN}.height": -5.2}),
    (QUARRY, {f"{MAIN}.height": "5200 ft"}),
    (QUARRY, {f"{MAIN}.tilt": 12}),
    (QUARRY, {f"{MAIN}.tilt": [5, 40]}),
    (QUARRY, {f"{MAIN}.x": 12}),
    (QUARRY, {f"{MAIN}.x": -120}),
    (QUARRY, {"units": "ft"}),
    (QUARRY, {"speaker.main.pattern.coverage": 600}),
    (QUARRY, {"speaker.main.pattern.coverage": 6}),
    (QUARRY, {"speaker.main.pattern.control_from_hz": 1.2}),
    (QUARRY, {"speaker.main.pattern.lowest_db": -2.4}),
    (QUARRY, {"speaker.main.pattern.lowest_db": 24}),
    (QUARRY, {"speaker.main.output.sensitivity_db": 9.7}),
    (QUARRY, {"speaker.main.output.max_level_db": 1280}),
    (QUARRY, {"aim.gap_db": 5}),
    (QUARRY, {"aim.lower_if_within_db": 50}),
    (QUARRY, {"aim.bands": [1, 2, 4, 8]}),
    (QUARRY, {"aim.left_to_fill": 40}),
    (QUARRY, {"air.pressure_kpa": 1013}),
    (QUARRY, {"air.pressure_kpa": 1.01}),
    (QUARRY, {"speaker.main.eq_db": {"8000": 200}}),
    (SCHOOL, {"units": "m"}),
    (SCHOOL, {f"{MAIN}.height": [192, 312]}),
    (FEET, {"units": "m"}),
    (GYM, {f"{MAIN}.tilt": 35}),
    (BALCONY, {'speaker."balcony delay".delay_ms': 26_000}),
    (BALCONY, {'speaker."balcony delay".placement.x': -16}),
]


def _codes(name: str, changes: dict[str, object]) -> set[str]:
    answer = aiming.solve(aiming.load(SCENARIOS / f"{name}.toml", changes=changes), choices=False)
    return {one.code for one in answer.cautions}


@pytest.fixture(scope="module")
def shipped() -> dict[str, set[str]]:
    return {name: _codes(name, {}) for name, _ in SLIPS}


def test_a_hundred_slips_are_answered(shipped: dict[str, set[str]]) -> None:
    assert len(SLIPS) == 100
    silent = []
    for name, changes in SLIPS:
        try:
            told = _codes(name, changes) - shipped[name]
        except ScenarioError as error:
            assert error.faults
            continue
        except AimingError as error:
            if "likely a slip" not in str(error):
                silent.append((name, changes))
            continue
        if not any(DECLARED[code].severities[0] != "note" for code in told):
            silent.append((name, changes))
    assert len(SLIPS) - len(silent) >= LEAST_ANSWERED, silent


def test_what_is_shipped_makes_sense(shipped: dict[str, set[str]]) -> None:
    for name, codes in shipped.items():
        odd = {code for code in codes if DECLARED[code].topic.endswith("sense")}
        assert odd <= {"datum-unnamed", "early-reflection"}, name


def test_a_millimetre_slip_is_asked_about() -> None:
    with pytest.raises(AimingError, match="feet or mm read as m"):
        _codes(QUARRY, {f"{MAIN}.height": 5200})
    given = {f"{MAIN}.height": 5200, "aim.axis_on_audience": False, f"{MAIN}.tilt": -89}
    assert "far-over-house" in _codes(QUARRY, given)


@pytest.mark.parametrize(
    "changes",
    [
        {"speaker.centre.cabinet.centre_of_gravity": [-15, 2]},
        {"speaker.centre.cabinet.picks": [
            {"name": "front", "at": [0.30, -0.05]}, {"name": "rear", "at": [0.30, -0.29]},
        ]},
    ],
)  # fmt: skip
def test_a_box_that_nothing_can_hold_is_asked_about(changes: dict[str, object]) -> None:
    """Centimetres read as metres, u and w changed over: no placement, and why."""
    with pytest.raises(AimingError, match="likely a slip"):
        _codes(GRANARY, changes)
