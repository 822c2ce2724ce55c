"""What the models cannot know: geometry, names, and keys that exclude or need one another.

Rules run over the plain document, whether or not the models accept it, so that all faults of a file
are told at once.  Each is a generator of (path, "found; allowed").
"""

from collections.abc import Callable, Iterator

from .choices import choice_rules
from .lines import line_rules
from .names import name_rules
from .raw import Problem, Raw

RULES: tuple[Callable[[Raw], Iterator[Problem]], ...] = (line_rules, name_rules, choice_rules)


def rule_problems(raw: Raw) -> list[Problem]:
    """Every fault that a rule finds."""
    return [problem for rule in RULES for problem in rule(raw)]
