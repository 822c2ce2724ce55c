"""Which sentences come of what was found; never how they are put."""

from aiming.site.arrival import Arrival
from aiming.site.model import Heard, Interval, PositionFound, ReadingFound, StandsOut
from aiming.site.words import lines_text, reasons


def position(name: str, off_db: float) -> PositionFound:
    return PositionFound(
        name=name, x_m=1.0, z_m=1.0, distance_m=9.0, off_axis_deg=0.0, measured_db={},
        predicted_db={}, found_db={}, doubt_db={}, stands_out=(), off_db=off_db,
    )  # fmt: skip


AT = (position("row 1", 0.4), position("row 5", -2.6), position("row 9", 0.2))
READ = ReadingFound("inclinometer", Interval(-9.0, -9.3, -8.7), None, None, "right", 0.98)


def told(
    heard: Heard, *readings: ReadingFound, against: float | None = None, blind_deg: float = 6.0
) -> str:
    return " / ".join(
        reasons(
            decision=None, worth_db=0.5, heard=heard, readings=readings, mirrored_texts={},
            against=against, blind_deg=blind_deg, told_by_levels=True,
        )
    )  # fmt: skip


def arrival(name: str, farther_m: float, *, other_sign: bool = False) -> Arrival:
    return Arrival(name, 10.0 + farther_m / 0.343, 10.0, farther_m, other_sign)


def test_what_stands_out_is_louder_or_softer_by_its_figure() -> None:
    for left_db, way, other in ((7.0, "louder", "softer"), (-7.0, "softer", "louder")):
        said = told(Heard(positions=AT, stands_out=(StandsOut("row 5", 2000.0, left_db, 0.9),)))
        assert "row 5, 2 kHz: 7 dB" in said
        assert way in said
        assert other not in said
        # Nothing is said against the plan of levels that do not fit one another.
        assert "plan" not in said


def test_positions_are_held_against_the_plan_where_nothing_stands_out_or_fits_swapped() -> None:
    assert "row 5 is 2.6 dB softer than planned" in told(Heard(positions=AT))
    swapped = told(Heard(positions=AT, swapped=("row 1", "row 9")))
    assert "row 1 and row 9" in swapped
    assert "planned" not in swapped


def test_arrivals_are_told_one_by_one_or_all_together() -> None:
    right = (arrival("row 1", 0.05), arrival("row 5", -0.21), arrival("row 9", 0.1))
    assert "0.2 m" in told(Heard(positions=AT, arrivals=right))
    wrong = told(Heard(positions=AT, arrivals=(*right, arrival("row 13", 0.9, other_sign=True))))
    assert "row 13 stood 0.9 m farther" in wrong
    assert "row 13 has the other polarity" in wrong
    assert "every microphone" not in wrong
    assert "arriv" not in told(Heard(positions=AT))


def test_an_inclinometer_is_asked_for_where_none_was_read() -> None:
    heard = Heard(positions=AT)
    assert "an inclinometer does" in told(heard)
    read = told(heard, READ, against=2.0)
    assert "an inclinometer does" not in read
    assert "6°" in read
    assert "(40 to 1)" in told(heard, READ, against=40.0)


def test_a_line_is_longer_where_its_hook_goes_down() -> None:
    assert lines_text(0.6, "front") == "front line 1 mm longer"
    assert lines_text(-42.0, "rear") == "rear line 42 mm shorter"
