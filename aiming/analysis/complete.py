"""The heavy parts of an answer, worked out by the rooms that own them when a face needs them."""

from dataclasses import replace
from typing import Literal

from ..results.answer import Answer

Part = Literal["explanation", "section", "page", "sheets", "calculations"]
EVERY_PART: tuple[Part, ...] = ("explanation", "section", "page", "sheets", "calculations")


def complete(answer: Answer, parts: tuple[Part, ...] = EVERY_PART) -> Answer:
    """The answer with these parts in it; what is there already stays.

    explanation: what other choices would buy and cost, which takes extra solves
    section: levels over the section and where shadows begin
    page: what comes of other tilts and heights
    sheets: what the rigger's pages show; calculations: the statics step by step
    """
    if "explanation" in parts and answer.explanation is None:
        from .sensitivity import explain

        answer = replace(answer, explanation=explain(answer))
    if "section" in parts and answer.section is None:
        from .section_map import section_map

        answer = replace(answer, section=section_map(answer))
    if "page" in parts and answer.page is None:
        from .page_table import page_table

        answer = replace(answer, page=page_table(answer))
    if "sheets" in parts and answer.sheets is None:
        from .hang_geometry import hang_sheets

        answer = replace(answer, sheets=hang_sheets(answer))
    if "calculations" in parts and answer.calculations is None:
        from .calculation import calculations

        answer = replace(answer, calculations=calculations(answer))
    return answer
