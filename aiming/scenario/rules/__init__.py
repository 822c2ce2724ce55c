"""What the models cannot know: geometry, names, and keys that exclude or need one another.

Rules run over the plain document, whether or not the models accept it, so that all faults of a file
are told at once.  Each is a generator of (path, "found; allowed").
"""

from collections.abc import Callable, Iterator
from itertools import chain, islice

from .choices import choice_rules
from .held import held_rules
from .lines import line_rules
from .names import name_rules
from .raw import Problem, Raw
from .several import company_rules
from .tolerance import tolerance_rules

MOST_PROBLEMS = 1000
RULES: tuple[Callable[[Raw], Iterator[Problem]], ...] = (
    line_rules,
    name_rules,
    choice_rules,
    held_rules,
    tolerance_rules,
    company_rules,
)


def rule_problems(raw: Raw) -> list[Problem]:
    """Every fault that a rule finds; of a file with absurdly many, the first MOST_PROBLEMS."""
    return list(islice(chain.from_iterable(rule(raw) for rule in RULES), MOST_PROBLEMS))
