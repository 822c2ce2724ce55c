"""The heavy parts of an answer, worked out when a face needs them."""

from dataclasses import replace
from typing import Literal

from ..results.answer import Answer

Part = Literal["explanation"]
EVERY_PART: tuple[Part, ...] = ("explanation",)


def complete(answer: Answer, parts: tuple[Part, ...] = EVERY_PART) -> Answer:
    """The answer with these parts in it; what is there already stays."""
    if "explanation" in parts and answer.explanation is None:
        from .sensitivity import explain

        answer = replace(answer, explanation=explain(answer))
    return answer
