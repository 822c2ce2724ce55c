"""Cautions of the sound: levels, patterns, the proof, fills."""

from . import caution_limits as own
from .caution_company import OFF_MATCH_DB
from .caution_rule import Rule

RULES = (
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
