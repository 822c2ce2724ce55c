"""The limits of the cautions that a scenario can move, and what it makes of them.

Those of the statics are in rigging.limits; those of sound, sight and room are here.
"""

from ..base.limit import Limit
from ..rigging import limits
from .scenario import Scenario

GRAZING = Limit(
    "grazing_deg", 7.0, "deg", "least angle between the sound and the audience plane",
    "common practice", "common practice, no source", (0.0, 90.0),
)  # fmt: skip
NEAREST_LISTENER = Limit(
    "nearest_listener", 3.0, "m", "least distance of a listener from the acoustic centre",
    "ours", "our own; no published source", (0.0, 1e5),
)  # fmt: skip
HEADROOM = Limit(
    "headroom", 2.5, "m", "least room under a flown cabinet, from the floor of the seating or, "
    "where no seating lies below it, from the datum",
    "ours", "our own: about what a standing person reaches; local code may ask for more",
    (0.0, 1e5),
)  # fmt: skip
TALLEST_BOX = Limit(
    "tallest_box", 1.2, "m", "tallest source still taken for one box; a coverage that asks for a "
    "taller one is an array's",
    "ours", "our own; the height by the loss of pattern control of a horn: Keele, AES 51st "
    "Convention, 1975, read in a secondary text", (0.0, 1e5),
)  # fmt: skip
STAGE_TOP = Limit(
    "stage_top", 2.0, "m", "how high above stage_focus every row is to see",
    "ours", "our own: a standing person", (0.0, 1e5),
)  # fmt: skip
FILL_LAG = Limit(
    "fill_lag_ms", 20.0, "ms", "how late a fill may arrive where it is about as loud as its main",
    "common practice", "common practice, no source", (0.1, 1000.0),
)  # fmt: skip
FILL_NEAR = Limit(
    "fill_near_db", 6.0, "dB", "a fill counts in time where it is softer than its main by no more",
    "common practice", "common practice, no source", (0.0, 60.0),
)  # fmt: skip
OFF_MATCH = Limit(
    "off_match_db", 3.0, "dB", "how far a given gain may be from the match at the handover row",
    "ours", "our own; no published source",
)  # fmt: skip
LITTLE_GAIN = Limit(
    "needed_db", 0.3, "dB", "a fill is needed where the whole is worse without it by at least this",
    "ours", "our own: less is not heard, nor met on site; no published source", (0.0, 60.0),
)  # fmt: skip
SOFT_AT_AIM = Limit(
    "soft_at_aim_db", 3.0, "dB", "how much softer than its main a fill may be where it points",
    "ours", "our own: a fill 3 dB softer adds 1.8 dB by power, 10·lg(1 + 10^−0.3); no published "
    "source", (0.0, 60.0),
)  # fmt: skip
SHADOW = Limit(
    "shadow_db", 3.0, "dB", "loss behind an edge from which a row counts as in shadow, mean over "
    "the design bands",
    "ours", "our own; an edge just grazed costs 5 dB", (0.0, 60.0),
)  # fmt: skip
LATE = Limit(
    "late_ms", 50.0, "ms", "a reflection this long after the direct sound is late",
    "common practice", "common practice, no source", (0.1, 1000.0),
)  # fmt: skip
LATE_STRONG = Limit(
    "late_db", -10.0, "dB", "level against the direct sound from which a late reflection is strong",
    "ours", "our own; no published source", (-60.0, 60.0),
)  # fmt: skip

# What hardly any house, box or setting has: where a figure lies beyond, a slip is likelier.

_SENSE = "our own: rounded up from what houses and boxes have; no published source"


def _sense(code: str, value: float, unit: str, text: str, span: tuple[float, float]) -> Limit:
    return Limit(code, value, unit, text, "ours", _SENSE, span)


WIDEST_ROW = _sense("widest_row", 1.8, "m", "widest spacing of rows that seats have", (0.0, 1e5))
NARROWEST_ROW = _sense("narrowest_row", 0.5, "m", "narrowest spacing of rows", (0.0, 1e5))
HIGHEST_EARS = _sense("highest_ears", 2.0, "m", "highest ears over their floor", (0.0, 1e5))
LOWEST_EARS = _sense("lowest_ears", 0.8, "m", "lowest ears over their floor", (0.0, 1e5))
STEEPEST_RAKE = _sense("steepest_rake_deg", 40.0, "deg", "steepest floor of seats", (0.0, 90.0))
FALLING_FLOOR = _sense(
    "falling_floor", 0.6, "m", "how far a floor falls from its first row to its last", (0.0, 1e5)
)
LONGEST_THROW = _sense("longest_throw", 60.0, "m", "farthest row of one box indoors", (0.0, 1e5))
STEEPEST_VIEW = _sense(
    "steepest_view_deg", 45.0, "deg", "how high the farthest row sees the box", (0.0, 90.0)
)
FARTHEST_BESIDE = _sense(
    "farthest_beside", 20.0, "m", "how far before the first row, or past it, the box is", (0.0, 1e5)
)
BELOW_FLOOR = _sense("below_floor", 0.0, "m", "how far the centre lies under a floor", (0.0, 1e5))
LARGEST_BOX = _sense("largest_box", 2.0, "m", "largest side of a cabinet", (0.0, 1e5))
SMALLEST_BOX = _sense("smallest_box", 0.1, "m", "smallest side of a cabinet", (0.0, 1e5))
HEAVIEST_BOX = _sense(
    "heaviest_box", 400.0, "kg/m²", "most mass for the side that the section shows", (0.0, 1e6)
)
LIGHTEST_BOX = _sense("lightest_box", 25.0, "kg/m²", "least mass for that side", (0.0, 1e6))
LARGEST_GAIN = _sense("largest_gain_db", 20.0, "dB", "largest gain or equaliser", (0.0, 400.0))
LONGEST_DELAY = _sense(
    "longest_delay_ms", 60.0, "ms", "delay beyond the sound's way to the farthest row", (0.0, 1e5)
)
OUT_OF_REACH = _sense("out_of_reach", 1.0, "m", "nearest ears that any plan means", (0.0, 1e5))
FARTHEST_POINT = _sense(
    "farthest_point", 0.25, "m", "how far a pick or a laser lies outside the outline", (0.0, 1e5)
)
LARGEST_RATING = _sense(
    "largest_rating_kn", 100.0, "kN", "most that a point or the structure is said to carry",
    (0.0, 1e6),
)  # fmt: skip
LONGEST_LINE = _sense("longest_line", 30.0, "m", "how far the steel lies over a box", (0.0, 1e5))
HIGHEST_BASE = _sense("highest_base", 5.0, "m", "how high a stand is over the floor", (0.0, 1e5))
BURIED = _sense(
    "buried_surface", 0.1, "m", "how far a whole surface lies under a floor", (0.0, 1e5)
)
FARTHEST_REFERENCE = _sense(
    "farthest_reference", 60.0, "m", "how far time's reference lies from the nearest row",
    (0.0, 1e5),
)  # fmt: skip
LOWEST_TARGET = _sense("lowest_target_db", 40.0, "dB", "lowest level wanted", (0.0, 200.0))
EARLY = _sense("early_ms", 20.0, "ms", "a reflection this soon colours the sound", (0.1, 1000.0))
EARLY_STRONG = Limit(
    "early_db", -6.0, "dB", "level against the direct sound from which an early reflection is "
    "strong", "ours", "our own: 6 dB down it still makes dips of 6 dB (20·lg(1 − a))",
    (-60.0, 60.0),
)  # fmt: skip

SENSE = (
    WIDEST_ROW, NARROWEST_ROW, HIGHEST_EARS, LOWEST_EARS, STEEPEST_RAKE, FALLING_FLOOR,
    LONGEST_THROW, STEEPEST_VIEW, FARTHEST_BESIDE, BELOW_FLOOR, LARGEST_BOX, SMALLEST_BOX,
    HEAVIEST_BOX, LIGHTEST_BOX, LARGEST_GAIN, LONGEST_DELAY, OUT_OF_REACH,
    FARTHEST_POINT, LARGEST_RATING, LONGEST_LINE, HIGHEST_BASE, BURIED,
    FARTHEST_REFERENCE, LOWEST_TARGET, EARLY, EARLY_STRONG,
)  # fmt: skip

BY_KEY: dict[str, Limit] = {
    limit.code: limit
    for limit in (
        *limits.ALL, GRAZING, NEAREST_LISTENER, HEADROOM, TALLEST_BOX, STAGE_TOP, FILL_LAG,
        FILL_NEAR, LITTLE_GAIN, SOFT_AT_AIM, SHADOW, LATE, LATE_STRONG, *SENSE,
    )
    if limit.span is not None
}  # fmt: skip
"""By its key in the scenario's [cautions] table."""


def threshold(scenario: Scenario, limit: Limit) -> float:
    """The threshold that stands: the scenario's own, else the usual one; metres and degrees."""
    return scenario.cautions.thresholds.get(limit.code, limit.value)
