"""What the decision leaves: rows without a loudspeaker, rows that come out too soft."""

from collections.abc import Iterator

from ..analysis.problems import served_rows
from ..base.bands import band_label
from .declare import OWN_WISH, Told, caution
from .facts import LOUDSPEAKER, SpeakerFacts
from .place import which_rows

ROUNDING_DB = 0.005


@caution("front-fill-wanted", "caution", LOUDSPEAKER, unit="rows", basis=OWN_WISH, for_rigger=False)
def front_fill_wanted(of: SpeakerFacts) -> Iterator[Told]:
    """`left_to_fill` leaves front rows out of every figure, and no loudspeaker of the file serves
    them.
    """
    left, scenario = of.mine.left_to_fill, of.scenario
    if left is None:
        return
    others = [served_rows(scenario, one) for one in scenario.speakers if one.name != of.mine.name]
    if all(any(row in served for served in others) for row in left.rows):
        return
    low, high = (of.length(distance) for distance in left.distance_m)
    short = ""
    if left.short_db is not None:
        short = (
            f"; at {band_label(left.band_hz)} {_short(*left.short_db)} the mean of the rows that "
            "count"
        )
    yield Told(
        f"{which_rows(scenario.rows, sorted(left.rows))}, {low} to {high} from the loudspeaker, "
        f"left to a front fill{short}: hang or place one, or nothing serves those rows",
        float(len(left.rows)),
        limit=0.0,
    )


def _short(least_db: float, most_db: float) -> str:
    """ "4.0 to 7.1 dB softer than"; "up to 2.1 dB louder than" where some are not short."""
    if least_db >= 0.0:
        return f"{least_db:.1f} to {most_db:.1f} dB softer than"
    if most_db <= 0.0:
        return f"{-most_db:.1f} to {-least_db:.1f} dB louder than"
    return f"from {most_db:.1f} dB softer to {-least_db:.1f} dB louder than"


@caution(
    "too-soft",
    "caution",
    LOUDSPEAKER,
    unit="dB",
    basis="ours: 6 dB is what a coverage edge is down",
    for_rigger=False,
)
def too_soft(of: SpeakerFacts) -> Iterator[Told]:
    """A served row is softer than `softest_db` against what the box would give the last row, in
    free sight, with its axis on it; in a search only where no placement keeps the usual limit.
    """
    limit, softest = of.scenario.aim.softest_db, of.mine.softest_db
    if limit is not None and softest is not None and softest < limit - ROUNDING_DB:
        yield Told(
            f"the softest row gets {-softest:.1f} dB less than the loudspeaker could give the last "
            f"row with its axis on it, more than the {-limit:g} dB of `softest_db`",
            softest,
            limit,
        )


@caution(
    "sound-bends",
    "note",
    LOUDSPEAKER,
    unit="°",
    basis="rays are arcs of radius c/(dc/dz) (Kinsler et al., through an architectural text); the "
    "wind's growth with height from memory",
)
def sound_bends(of: SpeakerFacts) -> Iterator[Told]:
    """Wind or a temperature gradient is stated: how far sound bends on its way to the last row."""
    found = of.mine.refraction
    if found is None:
        return
    way = "down" if found.turned_deg >= 0.0 else "up"
    level = ""
    if found.last_row_db is not None:
        change = round(found.last_row_db, 1)
        level = f", {change:+.1f} dB there" if change else ", no louder or softer there"
    yield Told(
        f"stated wind and temperature bend the sound {abs(found.turned_deg):.1f}° {way} over "
        f"{of.length(found.throw_m)} to the last row: what arrives has left "
        f"{abs(found.leaves_deg):.1f}° {'higher' if way == 'down' else 'lower'}{level}. Not in the "
        "proof".replace("-", "−"),
        found.turned_deg,
        limit=None,
    )
