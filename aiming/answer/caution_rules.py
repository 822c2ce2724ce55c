"""Every caution there is; docs/cautions.md is made from this table (caution_doc.py)."""

from . import caution_rules_always, caution_rules_hang, caution_rules_place, caution_rules_sound

RULES = (
    *caution_rules_always.RULES,
    *caution_rules_hang.RULES,
    *caution_rules_place.RULES,
    *caution_rules_sound.RULES,
)
