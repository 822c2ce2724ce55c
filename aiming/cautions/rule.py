"""The thresholds of the cautions: what they are, whose they are, and what a scenario makes of them.

Those of the statics are in rigging.limits; those of sound, sight and room are here.
"""

from dataclasses import dataclass

from ..rigging import limits
from ..rigging.limits import Limit
from ..scenario.scenario import Scenario

GRAZING = Limit(
    "grazing", 7.0, "deg", "least angle between the sound and the audience plane",
    "common practice", "common practice, no source",
)  # fmt: skip
NEAREST_LISTENER = Limit(
    "nearest_listener", 3.0, "m", "least distance of a listener from the acoustic centre",
    "ours", "our own; no published source",
)  # fmt: skip
HEADROOM = Limit(
    "headroom", 2.5, "m", "least room under a flown cabinet, from the floor of the seating or, "
    "where no seating lies below it, from the datum",
    "ours", "our own: about what a standing person reaches; local code may ask for more",
)  # fmt: skip
TALLEST_BOX = Limit(
    "tallest_box", 1.2, "m", "tallest source still taken for one box",
    "ours", "our own; the height by the loss of pattern control of a horn: Keele, AES 51st "
    "Convention, 1975, read in a secondary text",
)  # fmt: skip
STAGE_TOP = Limit(
    "stage_top", 2.0, "m", "height over the stage focus that every row is to see",
    "ours", "our own: a standing person",
)  # fmt: skip
FILL_LAG = Limit(
    "fill_lag", 20.0, "ms", "how late a fill may be where it is about as loud as its main",
    "common practice", "common practice, no source",
)  # fmt: skip
FILL_NEAR = Limit(
    "fill_near", 6.0, "dB", "how much softer than its main a fill still counts in time",
    "common practice", "common practice, no source",
)  # fmt: skip

SHADOW = Limit(
    "shadow", 3.0, "dB", "loss behind an edge from which a row counts as in shadow, mean over the "
    "design bands",
    "ours", "our own; an edge just grazed costs 5 dB",
)  # fmt: skip
LATE = Limit(
    "late", 50.0, "ms", "how long after the direct sound a reflection is late",
    "common practice", "common practice, no source",
)  # fmt: skip
LATE_STRONG = Limit(
    "late_strong", -10.0, "dB", "level re the direct sound above which a late reflection is strong",
    "ours", "our own; no published source",
)  # fmt: skip

BY_KEY: dict[str, Limit] = {
    "least_share": limits.LEAST_SHARE,
    "utilisation_near": limits.UTILISATION_NEAR,
    "utilisation_full": limits.UTILISATION_FULL,
    "off_axis_deg": limits.OFF_AXIS_MOST,
    "stack_tip_deg": limits.STACK_TIP,
    "grazing_deg": GRAZING,
    "nearest_listener": NEAREST_LISTENER,
    "headroom": HEADROOM,
    "tallest_box": TALLEST_BOX,
    "stage_top": STAGE_TOP,
    "fill_lag_ms": FILL_LAG,
    "fill_near_db": FILL_NEAR,
    "shadow_db": SHADOW,
    "late_ms": LATE,
    "late_db": LATE_STRONG,
}
"""By its key in the scenario's [cautions] table."""


def threshold(scenario: Scenario, key: str) -> float:
    """The threshold that stands: the scenario's own, else the usual one; metres and degrees."""
    return scenario.cautions.thresholds.get(key, BY_KEY[key].value)


# What is written down of each caution: what brings it about, at which threshold, whose rule.

KEY_OF = {limit.code: key for key, limit in BY_KEY.items()}


@dataclass(frozen=True)
class Rule:
    """One caution.

    severity: as printed; "caution or stop" where the figure decides
    limit: the threshold, None where it is no figure
    basis: whose rule it is where there is no threshold
    """

    code: str
    severity: str
    trigger: str
    limit: Limit | None = None
    basis: str = "ours"

    @property
    def threshold_text(self) -> str:
        """ "0.1 of the weight", with the key that moves it."""
        if self.limit is None:
            return ""
        key = KEY_OF.get(self.limit.code)
        moved = f"; `{key}`" if key else ""
        return f"{self.limit.value:g} {self.limit.unit}{moved}"

    @property
    def status_text(self) -> str:
        """Published rule, common practice or ours, and the source."""
        if self.limit is None:
            return self.basis
        return f"{self.limit.kind}: {self.limit.source}"


BY_MOMENT = "ours: nothing that rests can push through a line or stand beyond its edge"
