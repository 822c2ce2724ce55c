"""What a careful colleague would say of an answer.

Order: the plain one first, then what stops, then cautions, then notes.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from ..analysis.placed_speaker import Placed
from ..analysis.support_loads import support_at
from ..results.answer import Answer, Caution
from ..results.support import Support
from ..scenario.scenario import Scenario
from . import bridle, decision, general, groups, hang, loads, pattern, place, sense, sound, stack
from .declare import DECLARED, told_of
from .facts import Searched, SectionFacts, SpeakerFacts

TOPICS = (hang, loads, bridle, stack, place, sound, decision, sense, pattern, groups, general)
"""The files that declare cautions; importing them does it."""

ORDERED = sorted(
    DECLARED.values(), key=lambda one: [topic.__name__ for topic in TOPICS].index(one.topic)
)
"""Every caution there is, topic by topic, as the files have them."""

_OF_SPEAKER, _OF_SECTION = (
    tuple(one for one in ORDERED if one.needs is not None and issubclass(facts, one.needs.of))
    for facts in (SpeakerFacts, SectionFacts)
)
"""Those that can be asked of one loudspeaker, and of the whole section."""

_ORDER = {"stop": 0, "caution": 1, "note": 2}


def cautions_of(
    scenario: Scenario,
    placed: Sequence[Placed],
    answer: Answer,
    *,
    searched: Mapping[str, Searched] | None = None,
    known: Mapping[str, tuple[Caution, ...]] | None = None,
) -> Answer:
    """The answer with its cautions.

    searched: by loudspeaker how its search ended, where there was one
    known: by loudspeaker what speaker_cautions gave, where it has not moved since
    """
    rest: list[Caution] = []
    for at in placed:
        name = at.speaker.name
        told = None if known is None else known.get(name)
        if told is None:
            told = speaker_cautions(scenario, at, answer, searched=(searched or {}).get(name))
        rest += told
    rest += told_of(SectionFacts(scenario, tuple(placed), answer), _OF_SECTION)
    rest.sort(key=lambda one: _ORDER[one.severity])
    return replace(answer, cautions=(general.first_caution(scenario), *rest))


def speaker_cautions(
    scenario: Scenario,
    at: Placed,
    answer: Answer,
    *,
    searched: Searched | None = None,
    held: Support | None = None,
) -> tuple[Caution, ...]:
    """Of one loudspeaker where it is placed; held: how, where that is worked out already."""
    mine = next(one for one in answer.speakers if one.name == at.speaker.name)
    held = held or mine.support or support_at(scenario, at.speaker, at.placement)
    return tuple(told_of(SpeakerFacts(scenario, at, held, answer, searched), _OF_SPEAKER))
