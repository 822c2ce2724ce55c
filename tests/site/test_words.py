"""Which sentences come of what was found; never how they are put."""

from dataclasses import replace

import pytest

from aiming.site.arrival import Arrival
from aiming.site.decide import Decision, Move
from aiming.site.model import (
    Evenness,
    Heard,
    Interval,
    PositionFound,
    ReadingFound,
    StandsOut,
    Stop,
)
from aiming.site.words import (
    hangs_text,
    leave_headline,
    lines_text,
    move_headline,
    outcome_text,
    reasons,
    stop_headline,
    tilt_assumes_text,
)
from aiming.speaker.speaker import Placement


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
    return why(None, *readings, heard=heard, against=against, blind_deg=blind_deg)


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


# The instruction.

HUNG = Placement(0.0, 6.0, -12.0)


def move(turn_deg: float, rise_m: float = 0.0, *, gain_db: float = 2.0, worse: float = 0.0) -> Move:
    target = replace(HUNG, tilt_deg=HUNG.tilt_deg + turn_deg, height_m=HUNG.height_m + rise_m)
    return Move(HUNG, target, gain_db, worse)


def decided(one: Move | None, why: str = "") -> Decision:
    return Decision(HUNG, one, why, 6.0, 4.0)


def ordered(one: Move, inclinometer_deg: float | None = -7.4, **told: str) -> str:
    return move_headline(
        decided(one), inclinometer_deg=inclinometer_deg, lines=told.get("lines", ""),
        laser=told.get("laser", ""), unit="m",
    )  # fmt: skip


@pytest.mark.parametrize(("turn", "way"), [(3.2, "RAISE"), (-3.2, "LOWER")])
def test_the_nose_goes_up_or_down_by_the_turn(turn: float, way: str) -> None:
    told = ordered(move(turn), lines="front line 9 mm longer", laser="laser mark 1.10 m")
    assert told.startswith(way)
    assert "3.2°" in told
    assert "−7.4°" in told
    assert told.index("front line 9 mm longer") < told.index("laser mark 1.10 m")
    # Without a tilt that was read there is no figure to set.
    bare = ordered(move(turn), None)
    assert "3.2°" in bare
    assert "−7.4°" not in bare


@pytest.mark.parametrize(
    ("rise_m", "word"), [(0.02, "0.02 m higher"), (-0.25, "0.25 m lower"), (0.011, "0.01 m higher"),
                         (0.009, ""), (-0.009, ""), (0.0, "")],
)  # fmt: skip
def test_the_box_goes_up_or_down_where_that_is_a_centimetre(rise_m: float, word: str) -> None:
    told = ordered(move(3.0, rise_m))
    assert word in told
    assert ("the box" in told) is bool(word)


def test_stops_are_told_and_warnings_are_not() -> None:
    told = stop_headline((Stop("cell one", True), Stop("cell two", False), Stop("three", True)))
    assert "cell one" in told
    assert "three" in told
    assert "cell two" not in told


def test_what_does_not_fit_is_looked_at_first() -> None:
    """Swapped names before late arrivals, those before readings, those before one microphone."""
    swapped = ("row 1", "row 9")
    late, early = arrival("row 5", 0.9), arrival("row 5", -0.9)
    slip = replace(READ, state="gross")
    out = (StandsOut("row 7", None, 8.0, 0.9), StandsOut("row 8", 4000.0, 5.0, 0.3))
    everything = Heard(positions=AT, swapped=swapped, arrivals=(late,), stands_out=out)
    assert "row 1 and row 9" in leave_headline(everything, (slip,), False)
    everything = replace(everything, swapped=None)
    assert "row 5" in leave_headline(everything, (slip,), False)
    assert "late" in leave_headline(everything, (slip,), False)
    assert "early" in leave_headline(replace(everything, arrivals=(early,)), (slip,), False)
    everything = replace(everything, arrivals=(arrival("row 5", 0.1),))
    assert "inclinometer" in leave_headline(everything, (READ, slip), False)
    told = leave_headline(everything, (READ,), False)
    assert "row 7" in told
    assert "microphone" in told
    assert "4 kHz" in leave_headline(replace(everything, stands_out=out[1:]), (READ,), False)
    # One that stands out where all is sound besides is only told.
    assert leave_headline(everything, (READ,), True) == "LEAVE IT"
    assert leave_headline(Heard(positions=AT), (), False).startswith("LEAVE IT: ")


def test_what_the_rows_hear_now_after_and_as_planned() -> None:
    now = Interval(6.2, 5.1, 7.3)
    after, planned = Evenness(3.4, 80.0), Evenness(2.9, 90.0)
    told = outcome_text(decided(move(3.0, gain_db=2.8, worse=0.014)), now, after, planned)
    for figure in ("6.2 dB", "5.1 to 7.3 dB", "3.4 dB", "2.8 dB", "1 %", "2.9 dB"):
        assert figure in told
    sure = outcome_text(decided(move(3.0, worse=0.0099)), now, after, planned)
    assert "under 1 %" in sure
    for left in (decided(move(3.0), "gain"), decided(None)):
        told = outcome_text(left, now, Evenness(6.2, 50.0), Evenness(None, None))
        assert "6.2 dB" in told
        assert "after" not in told
        assert "planned" not in told
    assert "dB" not in outcome_text(decided(None), None, after, planned)


def why(
    decision: Decision | None,
    *readings: ReadingFound,
    heard: Heard | None = None,
    mirrored_texts: dict[str, str] | None = None,
    against: float | None = None,
    blind_deg: float | None = None,
    told_by_levels: bool = True,
) -> str:
    said = reasons(
        decision=decision, worth_db=0.5, heard=heard or Heard(positions=AT), readings=readings,
        mirrored_texts=mirrored_texts or {}, against=against, blind_deg=blind_deg,
        told_by_levels=told_by_levels,
    )  # fmt: skip
    return " / ".join(said)


@pytest.mark.parametrize(
    ("gain_db", "figure"), [(0.32, "0.3 dB"), (0.47, "0.47 dB"), (-0.4, "0.0 dB")]
)
def test_a_gain_that_is_too_small_is_never_told_as_enough(gain_db: float, figure: str) -> None:
    told = why(decided(move(2.0, gain_db=gain_db), "gain"))
    assert figure in told
    assert "0.5 dB" in told


def test_why_nothing_is_moved_by_its_figures() -> None:
    assert "known" in why(decided(None, "unknown"))
    assert "do not fit" in why(decided(move(2.0), "blunder"))
    one = why(decided(move(-2.3), "one"))
    assert "2.3° down" in one
    assert "2.3° up" in why(decided(move(2.3), "one"))
    chance = decided(move(2.0, gain_db=1.7, worse=0.11), "chance")
    for readings, asked in (((), True), ((READ,), False)):
        told = why(chance, *readings)
        assert "1.7 dB" in told
        assert "11 %" in told
        assert ("read the inclinometer" in told) is asked
    # An advised move is nobody's who stands below it; a move that is not, needs no such word.
    assert "Nobody stands below" in why(decided(move(2.0)))
    assert "Nobody stands below" not in one
    assert "Nobody stands below" not in why(None)


def test_readings_that_do_not_fit_are_told_with_what_would() -> None:
    lost = why(None, replace(READ, state="sign lost"), mirrored_texts={"inclinometer": "−9.0°"})
    assert "−9.0°" in lost
    assert "sign" in lost
    assert "read it again" in why(None, replace(READ, state="gross"))
    # What a wrong reading would be worth is not told beside it.
    assert "cannot contradict" not in why(None, replace(READ, state="gross"), against=2.0)


@pytest.mark.parametrize(("against", "spoken"), [(19.0, False), (20.0, True), (400.0, True)])
def test_levels_speak_against_a_reading_from_twenty_to_one(against: float, spoken: bool) -> None:
    told = why(None, READ, against=against, blind_deg=5.0)
    assert ("speak against" in told) is spoken
    assert ("5°" in told) is not spoken
    assert "whatever it reads" in why(None, READ, against=2.0, blind_deg=None)


def test_without_a_reading_it_is_said_whether_levels_tell_the_tilt() -> None:
    assert "cannot tell the tilt" in why(None, told_by_levels=False)
    assert "cannot tell the tilt" not in why(None, told_by_levels=True)
    assert "tilt" not in why(None, heard=Heard())
    assert "nothing" in why(None, heard=Heard(positions=AT, misfit=True))


def test_positions_are_told_one_by_one_beyond_a_decibel_and_a_half() -> None:
    near = Heard(positions=(position("a", 0.4), position("b", -1.5), position("c", 1.2)))
    assert "all three positions within 1.5 dB" in why(None, heard=near)
    two = Heard(positions=near.positions[:2])
    assert "both positions" in why(None, heard=two)
    many = Heard(positions=tuple(position(str(n), 0.1 * n) for n in range(9)))
    assert "all 9 positions within 0.8 dB" in why(None, heard=many)
    four = Heard(positions=(*near.positions, position("d", 0.0)))
    assert "all four" in why(None, heard=four)
    far = Heard(positions=(position("a", 0.4), position("b", 1.6), position("c", -1.2)))
    told = why(None, heard=far)
    assert "b is 1.6 dB louder" in told
    assert "within 1.2 dB" in told
    unknown = Heard(positions=(replace(position("a", 0.0), off_db=None),))
    assert "dB" not in why(None, heard=unknown).split(" / ")[0]


def test_how_it_hangs_is_higher_or_lower_than_planned_or_as_planned() -> None:
    told = hangs_text(Interval(1.2, 0.8, 1.6), -15.0, "if the inclinometer is right")
    for figure in ("nose down 13.8°", "1.2° higher", "0.8° to 1.6°", "if the inclinometer"):
        assert figure in told
    assert "1.2° lower" in hangs_text(Interval(-1.2, -1.6, -0.8), -15.0, "")
    for value, said in ((0.049, True), (-0.049, True), (0.051, False), (-0.051, False)):
        told = hangs_text(Interval(value, -0.3, 0.3), -15.0, "")
        assert ("as planned (" in told) is said
    assert hangs_text(Interval(0.0, -0.3, 0.3), -15.0, "").endswith(")")


def test_a_tilt_rests_on_what_was_read_or_on_the_pattern() -> None:
    laser = replace(READ, text="laser mark")
    height = ReadingFound("height", None, Interval(6.0, 5.9, 6.1), None, "gross", 0.9)
    assert "inclinometer is right" in tilt_assumes_text((READ, height), levels=True)
    assert "inclinometer and the laser mark are" in tilt_assumes_text((READ, laser), levels=True)
    assert "laser mark is a slip" in tilt_assumes_text((READ, replace(laser, state="gross")),
                                                       levels=True)  # fmt: skip
    assert "pattern" in tilt_assumes_text((height,), levels=True)
    assert tilt_assumes_text((height,), levels=False) == ""
