"""The JSON Schema for editors: every key is described, and it agrees with the reader."""

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from aiming.scenario import load, scenario_schema

VALID = Path(__file__).parent / "data" / "scenarios" / "valid"


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


def test_the_file_of_every_key_has_every_key() -> None:
    """tests/data/scenarios/valid/everything.toml, but for what excludes something else in it."""
    excluded = {
        "SeatingModel": {"line", "drawing"},
        "SurfaceModel": {"drawing"},
        "RiggingModel": {"holes", "bar", "holes_w", "pull_elevation_deg", "pulling_point"},
        "RiggingsModel": {"flipped"},
        "PlacementModel": {"height"},
        "CoverageModel": {"above", "below"},
        "DrawingModel": {"file", "layer"},
        "PatternModel": {"control_from_hz"},
    }
    text = (VALID / "everything.toml").read_text(encoding="utf-8")
    for name, table in tables(scenario_schema()):
        for key in table["properties"]:
            if key not in excluded.get(name, set()):
                assert key in text, f"{name}.{key}"
