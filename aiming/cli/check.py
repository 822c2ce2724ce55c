"""`aiming check` and `aiming schema`: the file by itself."""

from . import options as opt
from .common import print_json, print_text, scenario_of


def check(file: opt.File, changes: opt.Changes = None) -> None:
    """List every fault of a scenario file, and nothing else."""
    scenario = scenario_of(file, changes)
    rows, speakers = len(scenario.rows), len(scenario.speakers)
    print_text(
        f"{scenario.file}: no faults; {rows} row{'s' * (rows != 1)}, "
        f"{speakers} loudspeaker{'s' * (speakers != 1)}\n"
    )


def schema() -> None:
    """Print the JSON Schema of the scenario file, for editors."""
    from ..scenario import scenario_schema

    print_json(scenario_schema())
