"""The plain caution, always first; what the reader noted; what a section cannot tell."""

from collections.abc import Iterator

from ..results.answer import Caution, Severity
from ..scenario.scenario import Scenario
from .declare import COMMON, Told, caution, declare
from .facts import SECTION, SectionFacts

NO_RIGGING_DESIGN = declare(
    __name__,
    "no-rigging-design",
    "caution",
    "always, and always first",
    basis="ours: what was assumed and what was not checked",
)
NO_PLACEMENT = declare(
    __name__,
    "no-placement",
    "stop",
    "no placement meets the limits; the text says what each alone would have to become",
)


def plain_caution(dynamic_factors: tuple[float, ...] = (1.0,)) -> Caution:
    """No rigging design; who prevails; what was assumed; what was not checked."""
    factors = " and ".join(factor_text(factor) for factor in dynamic_factors)
    return NO_RIGGING_DESIGN.made(
        Told(
            "No rigging design: local codes, the makers' data and a competent or licensed person "
            "prevail over everything printed here. Assumed: rigid bodies at rest, straight "
            f"lines, masses and places as stated, dynamic factor {factors}. Not checked: the "
            "structure, the hardware and its condition, how it is put up, secondary suspension, "
            "access, wind on what hangs, anything beside this section."
        )
    )


def factor_text(factor: float) -> str:
    """ "1.0", "1.25": a factor shows that it is one even where it changes nothing."""
    return f"{factor:.1f}" if factor == round(factor, 1) else f"{factor:g}"


def first_caution(scenario: Scenario) -> Caution:
    """The plain caution with the dynamic factors of the scenario's rigging."""
    factors = {held.dynamic_factor for of in scenario.rigging.values() for held in of.values()}
    return plain_caution(tuple(sorted(factors)) or (1.0,))


@caution("reader", "note", SECTION)
def reader(of: SectionFacts) -> Iterator[Told]:
    """Reading the file left something to say."""
    for text in of.scenario.notes:
        yield Told(text)


def _of_survey(
    code: str, severity: Severity | tuple[Severity, ...], when: str, *, basis: str = "ours"
) -> None:
    """Declare what reading a survey may have noted."""

    @caution(code, severity, SECTION, basis=basis, when=when)
    def says(of: SectionFacts) -> Iterator[Told]:
        for note in of.scenario.survey_notes:
            if note.code == code:
                yield Told(note.text, note.value, note.limit, note.unit, note.severity)


_of_survey(
    "survey-closing",
    ("note", "caution"),
    "A survey of laser shots: how far its stations fail to agree; a caution over 50 mm.",
    basis=COMMON,
)
_of_survey("survey-unchecked", "note", "A survey whose shots nothing checks.")
_of_survey("survey-riser", "note", "A riser of a survey leaned back and was set upright.")


@caution("section-only", "note", SECTION)
def section_only(of: SectionFacts) -> Iterator[Told]:
    """Always."""
    yield Told(
        "Computed in one vertical section: direct sound, still air. Nothing is claimed beside the "
        "section, of the room's sound, or of wind and temperature layers outdoors."
    )
