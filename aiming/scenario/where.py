"""Where in the file something stands that only a later step finds fault with."""

from ..base.errors import Fault
from ..files.toml_places import Path, place_of
from ..files.toml_text import parse_source
from .address import key_text
from .scenario import Scenario


def fault_at(scenario: Scenario, path: Path, message: str) -> Fault:
    """A fault of one key of a scenario that has been read, at its line and column."""
    source = parse_source(scenario.text, file=scenario.file, folder=scenario.folder)
    line, column = place_of(source.places, path)
    return Fault(scenario.file, line, column, key_text(scenario.document, path), message)
