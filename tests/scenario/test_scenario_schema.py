"""The JSON Schema for editors: every key is described, and it agrees with the reader."""

import json
import re
from collections.abc import Iterator
from typing import Any

from paths import TESTS

from aiming.scenario import load, scenario_schema

VALID = TESTS / "data" / "scenarios" / "valid"


def tables(schema: dict[str, Any]) -> Iterator[tuple[str, dict[str, Any]]]:
    yield "scenario", schema
    yield from schema["$defs"].items()


def test_every_key_is_described() -> None:
    schema = scenario_schema()
    assert len(schema["$defs"]) >= 15
    for name, table in tables(schema):
        assert table["additionalProperties"] is False, name
        assert table["description"], name
        for key, entry in table["properties"].items():
            assert entry.get("description", "").strip(), f"{name}.{key}"
    json.dumps(schema, allow_nan=False)


def test_keys_of_the_schema_are_the_keys_of_the_file() -> None:
    schema = scenario_schema()
    assert "schema" in schema["properties"]
    assert "schema_version" not in schema["properties"]
    sample = load(VALID / "quarry.toml").document
    assert set(sample) <= set(schema["properties"])
    placement = schema["$defs"]["PlacementModel"]["properties"]
    assert set(sample["speaker"][0]["placement"]) <= set(placement)
    assert set(sample["seating"][0]) <= set(schema["$defs"]["SeatingModel"]["properties"])


def test_every_key_stands_in_a_valid_file() -> None:
    """A new key gets a place in one of tests/data/scenarios/valid; drawings are made by a test."""
    text = "\n".join(path.read_text(encoding="utf-8") for path in VALID.glob("*.toml"))
    for name, table in tables(scenario_schema()):
        for key in table["properties"]:
            if name != "DrawingModel":
                assert re.search(rf"\b{key}\b", text), f"{name}.{key}"
