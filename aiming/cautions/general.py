"""The plain caution, always first, and what is said of every section."""

from collections.abc import Iterator

from ..results.answer import Caution
from ..scenario.scenario import Scenario


def plain_caution(dynamic_factors: tuple[float, ...] = (1.0,)) -> Caution:
    """No rigging design; who prevails; what was assumed; what was not checked."""
    factors = " and ".join(factor_text(factor) for factor in dynamic_factors)
    return Caution(
        code="no-rigging-design",
        severity="caution",
        text=(
            "No rigging design: local codes, the makers' data and a competent or licensed person "
            "prevail over everything printed here. Assumed: rigid bodies at rest, straight lines, "
            f"masses and places as stated, dynamic factor {factors}. Not checked: the structure, "
            "hardware and its condition, how it is put up, secondary suspension, access, wind on "
            "what hangs, anything beside this section."
        ),
    )


def factor_text(factor: float) -> str:
    """ "1.0", "1.25": a factor shows that it is one even where it changes nothing."""
    return f"{factor:.1f}" if factor == round(factor, 1) else f"{factor:g}"


def first_caution(scenario: Scenario) -> Caution:
    """The plain caution with the dynamic factors of the scenario's rigging."""
    factors = {held.dynamic_factor for of in scenario.rigging.values() for held in of.values()}
    return plain_caution(tuple(sorted(factors)) or (1.0,))


def general_cautions(scenario: Scenario) -> Iterator[Caution]:
    """What the reader noted, and what a section cannot tell."""
    for text in scenario.notes:
        yield Caution("reader", "note", text)
    for survey in scenario.survey_notes:
        yield Caution(
            survey.code,
            survey.severity,
            survey.text,
            value=survey.value,
            unit=survey.unit,
            limit=survey.limit,
        )
    yield Caution(
        "section-only",
        "note",
        "Computed in one vertical section: direct sound, still air. Nothing is claimed beside "
        "the section, of the room's sound, or of wind and temperature layers outdoors.",
    )
