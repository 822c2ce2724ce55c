"""Cautions of the decision: rows that it leaves, rows that it makes too soft."""

from collections.abc import Iterator

from ..analysis.placed_speaker import Placed
from ..analysis.problems import served_rows
from ..base.bands import band_label
from ..base.units import length_text
from ..results.answer import Answer, Caution, SpeakerAnswer
from ..scenario.scenario import Scenario
from .place import which_rows
from .rule import Rule

RULES = (
    Rule(
        "front-fill-wanted", "caution",
        "`left_to_fill` leaves front rows out of every figure, and no loudspeaker of the file "
        "serves them",
        basis="the user's own",
    ),
    Rule(
        "too-soft", "caution",
        "a served row is softer than `softest_db` re what the box would give the last row, in "
        "free sight, with its axis on it; in a search only where no placement keeps the usual "
        "limit",
        basis="ours: 10 dB less is heard as about half as loud (from memory)",
    ),
)  # fmt: skip


def decision_cautions(scenario: Scenario, at: Placed, answer: Answer) -> Iterator[Caution]:
    """Of one loudspeaker: what the decision leaves undone."""
    one = next(of for of in answer.speakers if of.name == at.speaker.name)
    yield from _left(scenario, one)
    yield from _too_soft(scenario, one)


def _left(scenario: Scenario, one: SpeakerAnswer) -> Iterator[Caution]:
    left = one.left_to_fill
    if left is None:
        return
    others = [served_rows(scenario, of) for of in scenario.speakers if of.name != one.name]
    if all(any(row in served for served in others) for row in left.rows):
        return
    low, high = (length_text(of, scenario.units) for of in left.distance_m)
    short = ""
    if left.short_db is not None:
        least, most = left.short_db
        short = (
            f"; at {band_label(left.band_hz)} {_short(least, most)} the mean of the rows that count"
        )
    which = which_rows(scenario.rows, sorted(left.rows))
    yield Caution(
        "front-fill-wanted",
        "caution",
        f"{which}, {low} to {high} from the loudspeaker, left to a front fill{short}: hang or "
        "place one, or those rows are not served",
        value=float(len(left.rows)),
        unit="rows",
        limit=0.0,
        speaker=one.name,
    )


def _short(least_db: float, most_db: float) -> str:
    """ "4.0 to 7.1 dB short of"; "up to 2.1 dB louder than" where some are not short."""
    if least_db >= 0.0:
        return f"{least_db:.1f} to {most_db:.1f} dB short of"
    if most_db <= 0.0:
        return f"{-most_db:.1f} to {-least_db:.1f} dB louder than"
    return f"from {most_db:.1f} dB short of to {-least_db:.1f} dB louder than"


def _too_soft(scenario: Scenario, one: SpeakerAnswer) -> Iterator[Caution]:
    limit = scenario.aim.softest_db
    if limit is None or one.softest_db is None or one.softest_db >= limit - 0.005:
        return
    yield Caution(
        "too-soft",
        "caution",
        f"the softest row gets {-one.softest_db:.1f} dB less than the loudspeaker could give the "
        f"last row with its axis on it, more than the {-limit:g} dB of `softest_db`",
        value=one.softest_db,
        unit="dB",
        limit=limit,
        speaker=one.name,
    )
