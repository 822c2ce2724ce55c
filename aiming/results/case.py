"""One of several scenarios that are compared."""

from dataclasses import dataclass

from ..scenario.scenario import Scenario
from .answer import Answer


@dataclass(frozen=True, eq=False)
class Case:
    """A scenario under its name, and its answer; where it has none, refusal says why."""

    name: str
    scenario: Scenario
    answer: Answer | None
    refusal: str = ""
