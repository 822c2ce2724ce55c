"""Everything that reads files: TOML to a checked scenario, pattern files, drawings, surveys.

The reader brings pydantic, so it is imported at its first use; the scenario needs numpy alone.
"""

from typing import TYPE_CHECKING

from .scenario import AimSettings, Scenario, Variant

if TYPE_CHECKING:
    from .address import parse_set
    from .read import check, load, rebuilt, scenario_schema, variant

__all__ = [
    "AimSettings",
    "Scenario",
    "Variant",
    "check",
    "load",
    "parse_set",
    "rebuilt",
    "scenario_schema",
    "variant",
]


def __getattr__(name: str) -> object:
    if name not in __all__:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from . import address, read

    return getattr(address if name == "parse_set" else read, name)
