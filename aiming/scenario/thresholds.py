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

BY_KEY: dict[str, Limit] = {
    limit.code: limit
    for limit in (
        *limits.ALL, GRAZING, NEAREST_LISTENER, HEADROOM, TALLEST_BOX, STAGE_TOP, FILL_LAG,
        FILL_NEAR, SHADOW, LATE, LATE_STRONG,
    )
    if limit.span is not None
}  # fmt: skip
"""By its key in the scenario's [cautions] table."""


def threshold(scenario: Scenario, limit: Limit) -> float:
    """The threshold that stands: the scenario's own, else the usual one; metres and degrees."""
    return scenario.cautions.thresholds.get(limit.code, limit.value)
