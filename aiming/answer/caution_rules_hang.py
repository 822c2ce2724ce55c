"""Cautions of what hangs: loads, rigging, tilt, structure, bridles."""

from ..rigging import limits
from ..rigging.limits import Limit
from .caution_rule import BY_MOMENT, Rule

_FITTING = (
    "training texts on ASME B30.26, which vary: shackle to 45° keeps 70 %, to 90° 50 %; shoulder "
    "eyebolt to 15/30/45/90° keeps 80/65/30/25 %; plain eyebolt straight only"
)

RULES = (
    Rule(
        "loads-not-checked", "caution",
        "a flown loudspeaker whose mass, centre of gravity, picks or rigging is not given",
        basis="ours: what is missing is never assumed",
    ),
    Rule(
        "load-limits-missing", "caution", "a point without a working load limit",
        basis="ours: what is missing is never assumed",
    ),
    Rule(
        "forces-unknown", "stop", "a tilt at which equilibrium does not tell the forces apart",
        basis="equilibrium in a plane",
    ),
    Rule(
        "slack-point", "stop", "a point's tension at the tilt is below nothing", basis=BY_MOMENT,
    ),
    Rule("low-share", "caution", "one of two points bears less than this", limits.LEAST_SHARE),
    Rule(
        "tilt-out-of-reach", "stop",
        "the declared rigging does not hold the tilt: a point would go slack, the box would turn "
        "over, or no hole or step gives it",
        basis="equilibrium in a plane",
    ),
    Rule(
        "point-below-centre", "caution",
        "a carrying point lies at or below the combined centre of gravity",
        basis="common practice, no source",
    ),
    Rule(
        "pull-back", "caution", "the method is pull-back",
        basis="common practice, no source",
    ),
    Rule(
        "tilt-doubtful", "caution",
        "one point: with this much doubt in the centre of gravity the tilt leaves its window",
        limits.DOUBT_IN_CENTRE,
    ),
    Rule(
        "nearly-loaded", "caution", "a point bears more than this, but not too much",
        limits.UTILISATION_NEAR,
    ),
    Rule("overloaded", "stop", "a point bears more than this", limits.UTILISATION_FULL),
    Rule(
        "uneven-hoists", "caution",
        "one of two points would bear more than this with the whole weight on it",
        limits.UTILISATION_FULL,
    ),
    Rule(
        "off-axis-pull", "caution or stop",
        "the pull is further than this off the axis of a declared fitting; stop where nothing of "
        f"its limit is left, or too little ({_FITTING})",
        limits.OFF_AXIS_MOST,
    ),
    Rule(
        "secondary-not-declared", "caution",
        "rigging without `secondary_suspension = true`; the figure is the longest fall path",
        limits.SECONDARY_FALL_MOST,
    ),
    Rule(
        "structure-capacity-missing", "caution", "rigging without `structure_capacity_kn`",
        basis="ours: what is missing is never assumed",
    ),
    Rule(
        "structure-nearly-loaded", "caution",
        "the structure at a point carries more than this of the capacity stated, but not too much",
        limits.UTILISATION_NEAR,
    ),
    Rule(
        "structure-overloaded", "stop",
        "the structure at a point carries more than this of the capacity stated",
        Limit(
            limits.UTILISATION_FULL.code, 1.0, "of the capacity", "", "ours",
            "the capacity as stated in the scenario",
        ),
    ),
    Rule(
        "orientation-left-out", "note",
        "in a search, an orientation whose rigging holds no tilt, for want of picks above the "
        "combined centre of gravity or otherwise",
        basis="equilibrium in a plane",
    ),
    Rule(
        "aim-out-of-rigging-reach", "note",
        "the best aim without the rigging's limit is better by more than the proof's gap",
        basis="ours",
    ),
    Rule(
        "outline-missing", "note", "a cabinet without outline",
        basis="ours: what is missing is never assumed",
    ),
    Rule(
        "centre-outside-outline", "caution", "the centre of gravity lies outside the outline",
        basis="ours: likely a slip in the file",
    ),
    Rule(
        "joint-not-checked", "caution", "a loudspeaker is fixed under another (`hung_under`)",
        basis="ours: what was not computed is said",
    ),
    Rule(
        "bridle-leg-flat", "caution", "`aiming bridle`: a leg flatter than this",
        limits.LEG_ELEVATION_LEAST,
    ),
    Rule(
        "bridle-wide", "caution", "`aiming bridle`: the legs stand wider apart than this",
        limits.INCLUDED_ANGLE_MOST,
    ),
)  # fmt: skip
