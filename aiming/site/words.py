"""What was found, in sentences: the one thing to do first, what rows hear, then why."""

from ..base.bands import band_label
from ..base.units import Unit, length_text, signed_text, tilt_text
from ..rigging.centre_of_gravity import LEAST_TURN_DEG, USABLE_M
from .arrival import Arrival
from .decide import Decision
from .model import Evenness, Heard, Interval, PositionFound, ReadingFound, Stop
from .weighing import Weighed

LEAVE = "LEAVE IT"
CLEAR_BELOW = (
    "Nobody stands below while it moves; loads, limits and the maker's data are checked again for "
    "the new tilt by a competent person"
)
WITHIN_DB = 1.5
"""Positions that lie within this of the plan are said to, all in one sentence; our own choice."""
SPEAKS_AGAINST = 20.0
"""Odds from which the levels are said to speak against a reading; our own choice."""


def move_headline(
    decision: Decision, *, inclinometer_deg: float | None, lines: str, laser: str, unit: Unit
) -> str:
    """The instruction: how far, and the figures that it is set by.

    inclinometer_deg: None where the tilt was not read, and only how far it turns is known
    """
    move = decision.move
    assert move is not None, "asked for with a move only"
    turn = move.turn_deg
    way = "RAISE" if turn > 0.0 else "LOWER"
    rise = move.target.height_m - move.hung.height_m
    order = f"{way} THE NOSE {abs(turn):.1f}°"
    if inclinometer_deg is None:
        told = [f"{order} FROM WHERE IT HANGS: read an inclinometer before and after"]
    else:
        told = [f"{order}: inclinometer {signed_text(inclinometer_deg, '°')}"]
    if abs(rise) >= 0.01:
        told.append(f"the box {length_text(abs(rise), unit)} {'higher' if rise > 0.0 else 'lower'}")
    told += [one for one in (lines, laser) if one]
    return ", ".join(told)


def lines_text(longer_mm: float, front: str) -> str:
    """ "front line 42 mm longer" by the difference of the hooks' heights."""
    word = "longer" if longer_mm > 0.0 else "shorter"
    return f"{front} line {abs(longer_mm):.0f} mm {word}"


def stop_headline(stops: tuple[Stop, ...]) -> str:
    """What forbids going on."""
    return "STOP: " + "; ".join(one.text for one in stops if one.stops)


def weighed_headline(weighing: Weighed) -> str:
    """What to do with a box that was only weighed so far."""
    if weighing.centre_m is None:
        return (
            f"WEIGH IT AGAIN, tilted by {2.0 * LEAST_TURN_DEG:g}° or more: one tilt alone tells "
            "how far forward the centre of gravity lies, not how high"
        )
    if not weighing.whole.usable:
        return (
            "WEIGH IT AGAIN, tilted further: the centre of gravity is known to no better than "
            f"{1000.0 * USABLE_M:g} mm"
        )
    return "WRITE WHAT WAS WEIGHED INTO THE FILE, and solve again before it goes up"


def leave_headline(heard: Heard, readings: tuple[ReadingFound, ...], sound: bool) -> str:
    """LEAVE IT, with the one thing to do first where something does not fit."""
    if heard.swapped is not None:
        names = " and ".join(heard.swapped)
        return f"{LEAVE}: {names} fit swapped; look which file is which"
    for there in heard.arrivals:
        if there.elsewhere:
            when = "late" if there.farther_m > 0.0 else "early"
            return f"{LEAVE}: look where {there.position} was measured; its sound came too {when}"
    for one in readings:
        if one.state != "right":
            return f"{LEAVE}: read the {one.text} again; what it says does not fit"
    if heard.stands_out and not sound:
        first = heard.stands_out[0]
        what = "the microphone" if first.band_hz is None else band_label(first.band_hz)
        return f"{LEAVE}: measure {first.position} again; {what} there does not fit"
    if not sound:
        return f"{LEAVE}: measure again; something in these levels does not fit"
    return LEAVE


def outcome_text(
    decision: Decision, now: Interval | None, after: Evenness, planned: Evenness
) -> str:
    """What the rows hear now and after."""
    if now is None:
        return "Spread over the rows not known"
    told = f"Rows: spread {now.value:.1f} dB now ({now.low:.1f} to {now.high:.1f} dB)"
    if decision.advised and decision.move is not None and after.spread_db is not None:
        told += (
            f", {after.spread_db:.1f} dB after the move, {decision.move.gain_db:.1f} dB less; "
            f"chance that it gets worse {_percent(decision.move.worse)}"
        )
    if planned.spread_db is not None:
        told += f"; planned {planned.spread_db:.1f} dB"
    return told


def reasons(
    *,
    decision: Decision | None,
    worth_db: float,
    heard: Heard,
    readings: tuple[ReadingFound, ...],
    mirrored_texts: dict[str, str],
    against: float | None,
    blind_deg: float | None,
    told_by_levels: bool,
) -> tuple[str, ...]:
    """Why, one sentence each."""
    positions, swapped = heard.positions, heard.swapped
    read_tilt = any(one.tilt_deg is not None for one in readings)
    said: list[str] = []
    if decision is not None and not decision.advised:
        said.append(_why_not(decision, worth_db, read_tilt=read_tilt))
    for one in readings:
        if one.state == "sign lost":
            said.append(
                f"the {one.text} disagrees with all the rest: its sign is the likeliest slip, "
                f"{mirrored_texts.get(one.text, 'the other sign')} would fit"
            )
        elif one.state == "gross":
            said.append(
                f"the {one.text} fits neither the plan nor the levels: read it again, and look "
                "where it was read"
            )
    if swapped is not None:
        said.append(f"{swapped[0]} and {swapped[1]} fit swapped")
    said += _of_arrivals(heard.arrivals)
    for out in heard.stands_out:
        what = "all bands" if out.band_hz is None else band_label(out.band_hz)
        way = "louder" if out.left_db > 0.0 else "softer"
        cause = (
            "a changed gain, a wrong place, or someone in the way"
            if out.band_hz is None
            else "a reflection, or a driver that is not working"
        )
        said.append(
            f"{out.position}, {what}: {abs(out.left_db):.0f} dB {way} than fits the rest; usually "
            f"{cause}"
        )
    if heard.misfit:
        said.append(
            "even with a wrong pattern, a hard floor, a room and twice the usual errors nothing "
            "explains these levels: positions, polarity and what was on are looked at first"
        )
    if positions and not heard.stands_out and swapped is None:
        said.append(_against_plan(positions))
    right = all(one.state == "right" for one in readings)
    if read_tilt and positions and against is not None and right:
        said.append(_on_reading(against, blind_deg))
    elif positions and not read_tilt:
        said.append(
            "the levels tell what rows hear, not the tilt: an inclinometer does"
            if told_by_levels
            else "the levels cannot tell the tilt at these positions: an inclinometer does"
        )
    if decision is not None and decision.advised:
        said.append(CLEAR_BELOW)
    return tuple(said)


def _of_arrivals(arrived: tuple[Arrival, ...]) -> list[str]:
    """What the time and the sign of the sound say of the microphones."""
    if not arrived:
        return []
    wrong = [one for one in arrived if one.elsewhere]
    said = [
        f"{one.position} stood {abs(one.farther_m):.1f} m "
        f"{'farther' if one.farther_m > 0.0 else 'nearer'} than its place, by when the sound came"
        for one in wrong
    ]
    if not wrong:
        most = max(0.1, *(abs(one.farther_m) for one in arrived))
        said.append(
            f"by when the sound came, every microphone stood in its place to within {most:.1f} m"
        )
    said += [
        f"{one.position} has the other polarity: a cable or a microphone"
        for one in arrived
        if one.other_sign
    ]
    return said


def _why_not(decision: Decision, worth_db: float, *, read_tilt: bool) -> str:
    move = decision.move
    if decision.why == "unknown" or move is None:
        return "how the rows hear it is not known"
    if decision.why == "gain":
        most = max(move.gain_db, 0.0)
        # Never "0.5 dB; under 0.5 dB it is left".
        told = f"{most:.1f}" if round(most, 1) < worth_db else f"{most:.2f}"
        return f"the best move would win {told} dB of spread; under {worth_db:g} dB it is left"
    if decision.why == "blunder":
        return "nothing is moved on levels or readings that do not fit"
    if decision.why == "one":
        way = "up" if move.turn_deg > 0.0 else "down"
        return (
            f"the levels ask for {abs(move.turn_deg):.1f}° {way}, but one microphone that is off "
            "would turn that round: measure again, and more rows"
        )
    return (
        f"a move could win {move.gain_db:.1f} dB of spread, but would make it worse in "
        f"{_percent(move.worse)} of what may be: "
        f"{'measure more rows' if read_tilt else 'read the inclinometer, or measure more rows'}"
    )


def _against_plan(positions: tuple[PositionFound, ...]) -> str:
    off = [(abs(one.off_db), one) for one in positions if one.off_db is not None]
    if not off:
        return "no position could be held against the plan"
    most, worst = max(off, key=lambda pair: pair[0])
    if most <= WITHIN_DB:
        count = {2: "both", 3: "all three", 4: "all four", 5: "all five", 6: "all six"}.get(
            len(off), f"all {len(off)}"
        )
        return f"{count} positions within {most:.1f} dB of the plan"
    rest = max((away for away, one in off if one is not worst), default=0.0)
    way = "louder" if (worst.off_db or 0.0) > 0.0 else "softer"
    return f"{worst.name} is {most:.1f} dB {way} than planned, the others within {rest:.1f} dB"


def _on_reading(against: float, blind_deg: float | None) -> str:
    if against >= SPEAKS_AGAINST:
        return (
            f"the levels speak against the inclinometer ({against:.0f} to 1): look which face it "
            "stood on, which box was measured, and where the microphones stood"
        )
    if blind_deg is None:
        return "the levels cannot contradict the inclinometer, whatever it reads"
    return (
        "the levels cannot contradict the inclinometer; they could not see less than "
        f"{blind_deg:.0f}°"
    )


def _percent(share: float) -> str:
    return "under 1 %" if share < 0.01 else f"{100.0 * share:.0f} %"


def tilt_assumes_text(readings: tuple[ReadingFound, ...], *, levels: bool) -> str:
    """What the interval of the tilt rests on."""
    told = [one.text for one in readings if one.tilt_deg is not None]
    if not told:
        return "if the pattern is as its data say to about a tenth" if levels else ""
    wrong = [one for one in readings if one.tilt_deg is not None and one.state != "right"]
    if wrong:
        return f"if the {wrong[0].text} is a slip"
    return f"if the {' and the '.join(told)} {'is' if len(told) == 1 else 'are'} right"


def hangs_text(interval: Interval, plan_deg: float, assumes: str) -> str:
    """ "nose down 13.8°, 1.2° lower than planned (1.6° to 0.8° lower), if … is right"."""
    value = interval.value
    turned = f"{abs(value):.1f}° {'higher' if value > 0.0 else 'lower'} than planned"
    if abs(value) < 0.05:
        turned = "as planned"
    text = f"{tilt_text(plan_deg + value)}, {turned} (90 %: {signed_text(interval.low, '°')} to "
    text += f"{signed_text(interval.high, '°')})"
    return f"{text}, {assumes}" if assumes else text
