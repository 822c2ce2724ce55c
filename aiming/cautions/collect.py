"""What a careful colleague would say: each caution with its code, figure and limit.

Order: the plain one first, then what stops, then cautions, then notes.  The codes, what brings
each about and whose rule it is are in caution_rules.py, and so in docs/cautions.md.
"""

from collections.abc import Mapping
from dataclasses import replace

from ..analysis.placed_speaker import Placed
from ..analysis.support_loads import Held, held_at
from ..results.answer import Answer, Caution
from ..scenario.scenario import Scenario
from .decision import decision_cautions
from .general import first_caution, general_cautions
from .groups import company_cautions
from .hang import capacity_cautions, hang_cautions, outline_cautions
from .place import place_cautions, room_cautions, wind_cautions
from .sound import level_cautions, output_cautions, pattern_cautions, sound_cautions
from .stack import stack_cautions

_ORDER = {"stop": 0, "caution": 1, "note": 2}


def cautions_of(
    scenario: Scenario,
    placed: list[Placed],
    answer: Answer,
    *,
    capped: tuple[str, ...],
    rigging: tuple[Caution, ...] = (),
    known: Mapping[str, tuple[Caution, ...]] | None = None,
) -> Answer:
    """The answer with its cautions.

    capped: loudspeakers whose search stopped at its cap; rigging: what the search says of it
    known: by loudspeaker what speaker_cautions gave, where it has not moved since
    """
    rest: list[Caution] = list(rigging)
    for at in placed:
        name = at.speaker.name
        told = None if known is None else known.get(name)
        if told is None:
            told = speaker_cautions(scenario, at, answer, capped=name in capped)
        rest += told
    rest += wind_cautions(scenario, [at.speaker for at in placed])
    rest += company_cautions(scenario, answer)
    rest += level_cautions(scenario, placed)
    rest += general_cautions(scenario)
    rest.sort(key=lambda one: _ORDER[one.severity])
    return replace(answer, cautions=(first_caution(scenario), *rest))


def speaker_cautions(
    scenario: Scenario, at: Placed, answer: Answer, *, capped: bool, held: Held | None = None
) -> tuple[Caution, ...]:
    """Of one loudspeaker where it is placed; held: how, where that is worked out already."""
    held = held or held_at(scenario, at.speaker, at.placement)
    window = next(one.window for one in answer.speakers if one.name == at.speaker.name)
    told: list[Caution] = []
    if at.speaker.name in scenario.company.hung_under:
        pass  # what holds it is asked of the one above
    elif held.flown:
        told += hang_cautions(scenario, held, window)
        told += capacity_cautions(scenario, held)
    else:
        told += stack_cautions(scenario, held)
    told += outline_cautions(held)
    told += place_cautions(scenario, held)
    told += room_cautions(scenario, at, answer)
    told += sound_cautions(scenario, at, answer, capped=capped)
    told += decision_cautions(scenario, at, answer)
    told += pattern_cautions(scenario, at)
    told += output_cautions(scenario, at)
    return tuple(told)
