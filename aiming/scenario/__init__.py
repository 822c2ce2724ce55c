"""Everything that reads files: TOML to a checked scenario, pattern files, drawings, surveys."""

from .address import parse_set
from .read import check, load, rebuilt, scenario_schema, variant
from .scenario import AimSettings, Scenario, Variant

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
