"""Cautions of every answer, and of one that could not be given."""

from ..rigging import limits
from ..rigging.limits import Limit
from ..rigging.stack import FORCE_COEFFICIENT
from . import rule as own
from .decision import RULES as DECISION
from .groups import OFF_MATCH_DB
from .rule import BY_MOMENT, Rule

ALWAYS = (
    Rule(
        "no-rigging-design", "caution", "always, and always first",
        basis="ours: what was assumed and what was not checked",
    ),
    Rule("section-only", "note", "always"),
    Rule("reader", "note", "the reader of the file has something to say about it"),
    Rule(
        "no-placement", "stop",
        "no placement meets the limits; the text says what each alone would have to become",
        basis="ours",
    ),
)  # fmt: skip


# Cautions of what hangs: loads, rigging, tilt, structure, bridles.

_FITTING = (
    "training texts on ASME B30.26, which vary: shackle to 45° keeps 70 %, to 90° 50 %; shoulder "
    "eyebolt to 15/30/45/90° keeps 80/65/30/25 %; plain eyebolt straight only"
)

HANG = (
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


# Cautions of where it stands or hangs: stacks, wind, sightlines, shadow, clearance, surveys.

PLACE = (
    Rule(
        "stack-not-checked", "caution",
        "a stack whose mass, centre of gravity, or outline and footprint is not given",
        basis="ours: what is missing is never assumed",
    ),
    Rule(
        "stack-off-base", "caution",
        "a stack with both `base` and `height`, whose height puts the outline's lowest corner more "
        "than 1 cm above or below the base",
        basis="ours: likely a slip in the file",
    ),
    Rule(
        "stack-tips", "stop", "the centre of gravity lies beyond a tipping edge", basis=BY_MOMENT,
    ),
    Rule("stack-slope", "caution", "it would tip by itself on less than this", limits.STACK_TIP),
    Rule(
        "stack-wind-not-checked", "caution", "a wind speed is given, but not the stack's wind area",
        basis="ours: what is missing is never assumed",
    ),
    Rule(
        "stack-friction-missing", "caution", "wind on a stack without a coefficient of friction",
        basis="ours: what is missing is never assumed",
    ),
    Rule(
        "stack-margin", "caution",
        "in the wind what holds, against tipping or sliding, is less than this many times what "
        "upsets (`stack.margin` and `stack.margin_source` of the loudspeaker move it)",
        limits.STACK_MARGIN,
    ),
    Rule(
        "stack-upset-by-wind", "stop",
        f"in the wind what upsets is more than what holds; q = ½ρv², ρ 1.25 kg/m³, c_f "
        f"{FORCE_COEFFICIENT:g} of sign-boards unless given",
        basis="EN 1991-1-4, read in a secondary text, without its site factors",
    ),
    Rule(
        "wind-limit-missing", "caution", "`[outdoors]` without `gust_speed`",
        basis="common practice, no source",
    ),
    Rule(
        "wind-not-in-loads", "caution", "outdoors, a flown loudspeaker",
        basis="ours: what was not computed is said",
    ),
    Rule(
        "in-sightline", "caution",
        "in the section the cabinet stands between a row's eyes and the stage: from `stage_focus` "
        "(the datum unless given) up to this height over it; or, where `[focus]` is given, between "
        "a row's eyes and that point, which no floor or surface hides already",
        own.STAGE_TOP,
    ),
    Rule(
        "rows-in-shadow", "caution",
        "a served row loses more than this behind floors or surfaces, mean over the design bands",
        own.SHADOW,
    ),
    Rule(
        "late-reflection", "caution",
        "a surface's first reflection reaches a served row or a `[[point]]` later than `late_ms` "
        "(50 ms: common practice, no source) and stronger than this re the direct sound",
        own.LATE_STRONG,
    ),
    Rule(
        "collision", "stop",
        "the outline as placed runs through a surface or a floor by more than 1 cm",
        basis="ours: two things cannot be in one place",
    ),
    Rule(
        "front-elevation", "caution",
        "a placement that was given is seen higher from its front row than "
        "`aim.max_front_elevation_deg`",
        basis="the user's own",
    ),
    Rule(
        "survey-closing", "caution or note",
        "a survey of laser shots: how far its stations fail to agree; a caution over 50 mm",
        basis="common practice, no source",
    ),
    Rule("survey-unchecked", "note", "a survey whose shots nothing checks"),
    Rule("survey-riser", "note", "a riser of a survey that leaned back was set upright"),
    Rule("low-headroom", "caution", "less room than this under a flown cabinet", own.HEADROOM),
    Rule("near-listener", "caution", "a row nearer than this", own.NEAREST_LISTENER),
)  # fmt: skip


# Cautions of the sound: levels, patterns, the proof, fills.

SOUND = (
    Rule(
        "grazing", "caution",
        "a served row sees the loudspeaker at less than this to its own audience plane",
        own.GRAZING,
    ),
    Rule(
        "level-over-limit", "caution",
        "the programme, pink noise unless named, at the greatest output stated, A-weighted, is "
        "louder at a row than `level_limit_db`; `level_limit_name` says where that holds; none is "
        "built in",
        basis="the user's own",
    ),
    Rule(
        "level-not-checked", "caution",
        "a level limit is named, but a loudspeaker's `max_level_db` is not given",
        basis="ours: what is missing is never assumed",
    ),
    Rule(
        "pattern-unknown", "caution", "pattern data do not reach a row, served or not",
        basis="ours: what is missing is never assumed",
    ),
    Rule("axis-off-audience", "caution", "the axis meets no seating that is served"),
    Rule(
        "near-field", "caution",
        "a served row nearer than h²/2λ, h the cabinet's height, λ of the highest design band",
        basis="a usual bound of the far field, no source",
    ),
    Rule(
        "array-like-coverage", "caution",
        "a coverage angle alone is given, and at a design band it asks for a source taller than "
        "this",
        own.TALLEST_BOX,
    ),
    Rule("proof-capped", "caution", "the search stopped at its cap before the gap was proven"),
    Rule("lobe-assumed", "note", "only a coverage angle is known of the pattern"),
    Rule(
        "control-estimated", "note", "`control_height` is given instead of `control_from_hz`",
        basis="published rule: loss of pattern control of a horn, Keele, AES 51st Convention, "
        "1975, read in a secondary text",
    ),
    Rule(
        "pattern-note", "note",
        "reading the pattern file had to shift, average, read between or leave out something",
    ),
    Rule("pattern-hole", "caution", "a band of the pattern file has no level at some angle"),
    Rule(
        "pattern-gap", "caution",
        "two neighbouring angles of the pattern file lie more than 2.5 times the usual step, and "
        "more than 5°, apart",
    ),
    Rule(
        "pattern-step", "caution",
        "a band of the pattern file changes by more than 10 dB between neighbouring angles",
    ),
    Rule("pattern-identical", "caution", "two bands of the pattern file are alike at every angle"),
    Rule(
        "target-out-of-reach", "caution",
        "driven to `max_level_db`, the programme is softer at a served row than `target_db`",
        basis="the user's own",
    ),
    Rule(
        "target-not-checked", "note", "`target_db` is given, but a loudspeaker's `max_level_db` is "
        "not",
        basis="ours: what is missing is never assumed",
    ),
    Rule(
        "bands-left-out", "note",
        "a programme is named, but in one of its bands pattern or output is not known",
        basis="ours: what is missing is never assumed",
    ),
    Rule(
        "fill-not-matched", "caution", "a fill or its main has no known level at the handover row",
        basis="ours: what is missing is never assumed",
    ),
    Rule(
        "fill-at-ceiling", "note",
        "a match at the handover row would make a fill louder than its main by more than "
        "`ceiling_db` where the main is not hidden, so its gain is lower",
        basis="common practice, no source",
    ),
    Rule(
        "fill-off-match", "caution",
        f"with a gain that is given a fill is {OFF_MATCH_DB:g} dB off its main where they come "
        "nearest",
    ),
    Rule(
        "fill-over-ceiling", "caution",
        "a fill is louder than its main by more than `ceiling_db` at a row that the main is not "
        "hidden from",
        basis="common practice, no source",
    ),
    Rule(
        "fill-late-without-delay", "caution",
        "a fill is so much farther away than its main that no delay aligns it",
        basis="ours: a delay is not negative",
    ),
    Rule(
        "fill-leads", "caution",
        "a fill arrives before its main at a row where it is no softer than the main by "
        "`fill_near_db`",
        own.FILL_NEAR,
    ),
    Rule(
        "fill-lags", "caution",
        "a fill arrives later than this after its main at a row where it is no softer by "
        "`fill_near_db`",
        own.FILL_LAG,
    ),
    Rule(
        "fill-drifts", "note",
        "a fill: its time after the main over the rows it serves, and for 10 °C (a caution where "
        "that makes it lead at the handover row)",
    ),
    Rule(
        "fill-output-missing", "note", "a fill or its main without a sensitivity",
        basis="ours: what is missing is never assumed",
    ),
)  # fmt: skip


# Every caution there is; docs/cautions.md is made from this table (caution_doc.py).

RULES = (
    *ALWAYS,
    *HANG,
    *PLACE,
    *SOUND,
    *DECISION,
)
