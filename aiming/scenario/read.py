"""One way in: a file and changes to it become a scenario, or every fault at once."""

from collections.abc import Mapping
from pathlib import Path as FilePath
from typing import Any

from pydantic import ValidationError

from ..errors import Fault, ScenarioError
from ..units import Unit
from .address import Change, changed, key_text
from .build import build
from .faults import problems_of
from .gather import Gathered
from .models.root import ScenarioModel
from .places import place_of
from .rules import rule_problems
from .rules.raw import Problem, Raw
from .scenario import Scenario
from .text import Source, parse_source, read_source

CHANGES_FROM = "--set"


def load(
    path: str | FilePath,
    *,
    changes: Mapping[str, object] | None = None,
    stdin_text: str | None = None,
    changes_from: str = CHANGES_FROM,
) -> Scenario:
    """The scenario in a file, or on standard input where the path is "-", after changes.

    changes: dotted keys and new values, as the file would have them
    stdin_text: what standard input holds, where it has been read already
    changes_from: how faults in the changes name their place

    Raises ScenarioError with every fault of the file and the changes.
    """
    source = read_source(path, stdin_text=stdin_text)
    return _scenario(source, source.document, changes or {}, changes_from)


def rebuilt(
    scenario: Scenario, changes: Mapping[str, object], *, changes_from: str = CHANGES_FROM
) -> Scenario:
    """The scenario after further changes.  Raises ScenarioError."""
    source = parse_source(scenario.text, file=scenario.file, folder=scenario.folder)
    return _scenario(source, scenario.document, changes, changes_from)


def variant(scenario: Scenario, name: str) -> Scenario:
    """The scenario with the changes of its variant of this name; KeyError where there is none."""
    for one in scenario.variants:
        if one.name == name:
            return rebuilt(scenario, one.changes, changes_from=f'variant "{name}"')
    raise KeyError(name)


def check(path: str | FilePath, *, stdin_text: str | None = None) -> tuple[Fault, ...]:
    """Every fault of a file, in its order; empty where there is none."""
    try:
        load(path, stdin_text=stdin_text)
    except ScenarioError as error:
        return error.faults
    return ()


def scenario_schema() -> dict[str, Any]:
    """The JSON Schema of the scenario file, for editors."""
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        **ScenarioModel.model_json_schema(by_alias=True),
    }


def _scenario(
    source: Source,
    before: dict[str, Any],
    changes: Mapping[str, object],
    changes_from: str,
) -> Scenario:
    document, made, unknown = changed(before, changes)
    model, problems = _checked(document)
    faults = [Fault(changes_from, 1, 1, key, message) for key, message in unknown]
    faults += _placed(source, before, document, made, problems, changes_from)
    if model is not None and not faults:
        faults += _variant_faults(source, document)
    if model is None or faults:
        raise ScenarioError(_in_order(faults, source.file))
    gathered = Gathered(source.folder)
    scenario = build(model, gathered, file=source.file, document=document, text=source.text)
    faults = _placed(source, before, document, made, gathered.problems, changes_from)
    if scenario is None or faults or gathered.faults:
        raise ScenarioError(_in_order([*faults, *gathered.faults], source.file))
    return scenario


def _checked(document: dict[str, Any]) -> tuple[ScenarioModel | None, list[Problem]]:
    """The model, None where it has faults, and all faults of models and rules."""
    unit: Unit = "ft" if document.get("units") == "ft" else "m"
    problems = rule_problems(Raw(document, unit))
    try:
        model = ScenarioModel.model_validate(document, context={"unit": unit})
    except ValidationError as error:
        # What the models say of a key comes first; a rule adds only what they do not know.
        told = problems_of(error, document)
        known = {path for path, _ in told}
        return None, told + [one for one in problems if one[0] not in known]
    return model, problems


def _placed(
    source: Source,
    before: dict[str, Any],
    document: dict[str, Any],
    made: list[Change],
    problems: list[Problem],
    changes_from: str,
) -> list[Fault]:
    """Faults at their places: in the file where it has them without the changes too."""
    old = set(_checked(before)[1]) if made and problems else set()
    faults = []
    for path, message in problems:
        key = key_text(document, path)
        if not made or (path, message) in old:
            line, column = place_of(source.places, path)
            faults.append(Fault(source.file, line, column, key, message))
        else:
            faults.append(Fault(changes_from, 1, 1, key, message))
    return faults


def _variant_faults(source: Source, document: dict[str, Any]) -> list[Fault]:
    """Changes of variants that name nothing, or that lead to faults."""
    faults = []
    for index, one in enumerate(document.get("variant", [])):
        after, _, unknown = changed(document, one.get("set", {}))
        told = unknown + [(key_text(after, path), text) for path, text in _checked(after)[1]]
        for key, message in told:
            path = ("variant", index, "set", key)
            line, column = place_of(source.places, path)
            faults.append(Fault(source.file, line, column, key_text(document, path), message))
    return faults


def _in_order(faults: list[Fault], file: str) -> list[Fault]:
    """By file, the scenario's own first, then by place."""
    return sorted(faults, key=lambda one: (one.file != file, one.file, one.line, one.column))
