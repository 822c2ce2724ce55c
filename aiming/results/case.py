"""One of several scenarios that are compared."""

from dataclasses import dataclass

from ..scenario.scenario import Scenario
from .answer import Answer


@dataclass(frozen=True, eq=False)
class Case:
    """A name, a scenario and its answer; None, and refusal says why, where no placement is."""

    name: str
    scenario: Scenario
    answer: Answer | None
    refusal: str = ""
