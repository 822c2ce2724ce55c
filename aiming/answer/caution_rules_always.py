"""Cautions of every answer, and of one that could not be given."""

from .caution_rule import Rule

RULES = (
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
