"""Section-view vertical aiming: a scenario in, the best aim out, with its proof and cautions."""

from typing import TYPE_CHECKING

from .base.errors import AimingError, Fault, ScenarioError

if TYPE_CHECKING:
    from .analysis.compare import compare
    from .analysis.solve import NoPlacementError, evaluate, solve
    from .results.answer import Answer, SpeakerAnswer
    from .results.case import Case
    from .scenario import load
    from .scenario.scenario import Scenario
    from .site.model import Found
    from .site.run import onsite
    from .sweep.choose import CoverageChoice, choose
    from .sweep.run import what_if
    from .sweep.table import Table

__all__ = [
    "AimingError",
    "Answer",
    "Case",
    "CoverageChoice",
    "Fault",
    "Found",
    "NoPlacementError",
    "Scenario",
    "ScenarioError",
    "SpeakerAnswer",
    "Table",
    "choose",
    "compare",
    "evaluate",
    "load",
    "onsite",
    "solve",
    "what_if",
]

_HOMES = {
    "Answer": ".results.answer",
    "Case": ".results.case",
    "CoverageChoice": ".sweep.choose",
    "Found": ".site.model",
    "NoPlacementError": ".analysis.solve",
    "Scenario": ".scenario.scenario",
    "SpeakerAnswer": ".results.answer",
    "Table": ".sweep.table",
    "choose": ".sweep.choose",
    "compare": ".analysis.compare",
    "evaluate": ".analysis.solve",
    "load": ".scenario",
    "onsite": ".site.run",
    "solve": ".analysis.solve",
    "what_if": ".sweep.run",
}


def __getattr__(name: str) -> object:
    """Public names are imported at their first use, so that `import aiming` stays light."""
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from importlib import import_module

    return getattr(import_module(_HOMES[name], __name__), name)


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
