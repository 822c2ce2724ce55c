"""Cautions of where it stands or hangs: stacks, wind, sightlines, shadow, clearance, surveys."""

from ..rigging import limits
from ..rigging.stack import FORCE_COEFFICIENT
from . import caution_limits as own
from .caution_rule import BY_MOMENT, Rule

RULES = (
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
