"""What a careful colleague would say: each caution with its code, figure and limit.

Order: the plain one first, then what stops, then cautions, then notes.  The codes, what brings
each about and whose rule it is are in caution_rules.py, and so in docs/cautions.md.
"""

from dataclasses import replace

from ..scenario.scenario import Scenario
from .caution_capacity import capacity_cautions
from .caution_general import first_caution, general_cautions
from .caution_hang import hang_cautions, outline_cautions
from .caution_pattern import output_cautions, pattern_cautions
from .caution_place import place_cautions, wind_cautions
from .caution_sound import level_cautions, sound_cautions
from .caution_stack import stack_cautions
from .figures import Placed
from .held import held_at
from .model import Answer, Caution

_ORDER = {"stop": 0, "caution": 1, "note": 2}


def cautions_of(
    scenario: Scenario,
    placed: list[Placed],
    answer: Answer,
    *,
    capped: tuple[str, ...],
    rigging: tuple[Caution, ...] = (),
) -> Answer:
    """The answer with its cautions.

    capped: loudspeakers whose search stopped at its cap; rigging: what the search says of it
    """
    rest: list[Caution] = list(rigging)
    held = [held_at(scenario, at.speaker, at.placement) for at in placed]
    for at, one, speaker in zip(placed, held, answer.speakers, strict=True):
        if one.flown:
            rest += hang_cautions(scenario, one, speaker.window)
            rest += capacity_cautions(scenario, one)
        else:
            rest += stack_cautions(scenario, one)
        rest += outline_cautions(one)
        rest += place_cautions(scenario, one)
        rest += sound_cautions(scenario, at, answer, capped=at.speaker.name in capped)
        rest += pattern_cautions(scenario, at)
        rest += output_cautions(scenario, at)
    rest += wind_cautions(scenario, held)
    rest += level_cautions(scenario, placed)
    rest += general_cautions(scenario)
    rest.sort(key=lambda one: _ORDER[one.severity])
    return replace(answer, cautions=(first_caution(scenario), *rest))
