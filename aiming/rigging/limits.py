"""The limits that figures are held against: each with where it comes from, all editable.

Nothing here decides: a figure inside every limit is not thereby fit to hang over people.
"""

import numpy as np

from ..base.limit import Limit
from ..speaker.rigging import Fitting

LEAST_SHARE = Limit(
    "least_share", 0.10, "of the weight", "least share of the weight on any point",
    "ours", "our own; no published source", (0.0, 0.5),
)  # fmt: skip
DOUBT_IN_CENTRE = Limit(
    "doubt_in_centre", 0.010, "m", "doubt in the centre of gravity that sensitivity is shown for",
    "ours", "our own; no published source",
)  # fmt: skip
UTILISATION_NEAR = Limit(
    "utilisation_near", 0.80, "of the allowed load", "a point close to its limit",
    "ours", "our own; no published source", (0.01, 1.0),
)  # fmt: skip
UTILISATION_FULL = Limit(
    "utilisation_full", 1.00, "of the allowed load", "a point beyond its limit",
    "published rule",
    "the marked working load limit; over people half of it: DGUV Information 215-313, Table 1",
    (0.01, 1.0),
)  # fmt: skip
LEG_ELEVATION_LEAST = Limit(
    "leg_elevation_least", 30.0, "deg above horizontal", "flattest leg of a sling or bridle",
    "published rule", "ASME B30.9, read through training texts",
)  # fmt: skip
INCLUDED_ANGLE_MOST = Limit(
    "included_angle_most", 120.0, "deg", "widest angle between the two legs of a bridle",
    "published rule", "ASME B30.9 and B30.26, read through training texts",
)  # fmt: skip
OFF_AXIS_MOST = Limit(
    "off_axis_deg", 5.0, "deg", "pull still counted as in line with its fitting",
    "ours", "our own; no published source", (0.0, 90.0),
)  # fmt: skip
SECONDARY_FALL_MOST = Limit(
    "secondary_fall_most", 0.20, "m",
    "fall path of a secondary suspension, for gear that is aligned after mounting; else none",
    "published rule", "DGUV Information 215-313, §1.3",
)  # fmt: skip
STACK_MARGIN = Limit(
    "stack_margin", 1.5, "times", "what holds a stack over what upsets it",
    "ours", "our own; local code or the competent person names the one that counts",
)  # fmt: skip
STACK_TIP = Limit(
    "stack_tip_deg", 10.0, "deg", "slope at which a stack would tip by itself",
    "ours", "our own; no published source", (0.0, 90.0),
)  # fmt: skip
LEG_ELEVATION_STOP = Limit(
    "leg_elevation_stop", 15.0, "deg above horizontal",
    "leg so flat that its pull is four times what it lifts, and grows with every centimetre",
    "ours", "our own; the published rule already warns at twice this angle",
)  # fmt: skip
WLL_SHARE_MOST = Limit(
    "wll_share_most", 0.5, "of the marked limit", "share of a marked limit used over people",
    "published rule",
    "over people half of the marked working load limit: DGUV Information 215-313, Table 1",
)  # fmt: skip
CELL_DOUBT_SHARE = Limit(
    "cell_doubt_share", 0.01, "of the reading", "doubt of a load cell's reading",
    "ours", "our own; the cell's certificate prevails",
)  # fmt: skip
CELL_DOUBT_N = Limit(
    "cell_doubt_n", 2.0, "N", "least doubt of a load cell's reading, about a last digit of 0.2 kg",
    "ours", "our own; the cell's certificate prevails",
)  # fmt: skip
INCLINOMETER_DOUBT = Limit(
    "inclinometer_doubt", 0.2, "deg", "doubt of an inclinometer's reading",
    "ours", "our own; its certificate prevails",
)  # fmt: skip
WEIGHT_MISMATCH = Limit(
    "weight_mismatch", 0.05, "of the stated weight",
    "how far the cells together may read from the stated weight",
    "ours", "our own; no published source",
)  # fmt: skip

ALL = (
    LEAST_SHARE, DOUBT_IN_CENTRE, UTILISATION_NEAR, UTILISATION_FULL, WLL_SHARE_MOST,
    LEG_ELEVATION_LEAST, LEG_ELEVATION_STOP, INCLUDED_ANGLE_MOST, OFF_AXIS_MOST,
    SECONDARY_FALL_MOST, STACK_MARGIN, STACK_TIP, CELL_DOUBT_SHARE, CELL_DOUBT_N,
    INCLINOMETER_DOUBT, WEIGHT_MISMATCH,
)  # fmt: skip

KEPT_SHARE: dict[Fitting, tuple[tuple[float, float], ...]] = {
    "shackle": ((OFF_AXIS_MOST.value, 1.0), (45.0, 0.70), (90.0, 0.50)),
    "shoulder eyebolt": (
        (OFF_AXIS_MOST.value, 1.0), (15.0, 0.80), (30.0, 0.65), (45.0, 0.30), (90.0, 0.25),
    ),
    "plain eyebolt": ((OFF_AXIS_MOST.value, 1.0),),
}  # fmt: skip
"""(up to this angle in degrees off the fitting's axis, share of its limit that is kept).

Training texts on ASME B30.26; they vary, the maker's own table prevails.  Read as steps, towards
the larger angle.  Beyond the last angle nothing is kept.
"""


def kept_share(fitting: Fitting, off_axis_deg: float) -> float:
    """Share of the fitting's limit that a pull this far off its axis leaves; 0 where none does."""
    for up_to_deg, share in KEPT_SHARE[fitting]:
        if abs(off_axis_deg) <= up_to_deg + 1e-9:
            return share
    return 0.0


def off_axis_deg(pull_deg: float, axis_deg: float) -> float:
    """Angle in [0, 180] between the direction of a pull and a fitting's axis, both in degrees."""
    turned = np.radians(pull_deg - axis_deg)
    return float(np.degrees(np.arccos(np.cos(turned))))
