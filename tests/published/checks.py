"""Every published value that the tool is held to, topic by topic."""

from functools import cache

from . import (
    air,
    bands,
    directivity,
    free_field,
    main_job,
    patterns,
    rule_of_thumb,
    screening,
    second_sound,
    sightlines,
    stacks,
    statics,
)
from .check import Check

TOPICS = (
    main_job, air, bands, patterns, directivity, free_field, rule_of_thumb, statics, stacks,
    sightlines, screening, second_sound,
)  # fmt: skip


@cache
def all_checks() -> tuple[Check, ...]:
    return tuple(check for topic in TOPICS for check in topic.checks())
