"""Section-view vertical aiming: a scenario in, the best aim out, with its proof and cautions."""

from typing import TYPE_CHECKING

from .base.errors import AimingError, Fault, ScenarioError

if TYPE_CHECKING:
    from .analysis.solve import evaluate, solve
    from .scenario import load
    from .site.run import onsite
    from .sweep.run import what_if

__all__ = [
    "AimingError",
    "Fault",
    "ScenarioError",
    "evaluate",
    "load",
    "onsite",
    "solve",
    "what_if",
]

_HOMES = {
    "load": ".scenario",
    "solve": ".analysis.solve",
    "evaluate": ".analysis.solve",
    "onsite": ".site.run",
    "what_if": ".sweep.run",
}


def __getattr__(name: str) -> object:
    """Public functions are imported at their first use, so that `import aiming` stays light."""
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from importlib import import_module

    return getattr(import_module(_HOMES[name], __name__), name)
