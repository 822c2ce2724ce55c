"""One way in: a file and changes to it become a scenario, or every fault at once."""

from collections.abc import Iterator, Mapping
from pathlib import Path as FilePath
from typing import Any

from pydantic import ValidationError

from ..base.errors import Fault, ScenarioError
from ..base.units import Unit
from ..files.toml_places import Path, place_of
from ..files.toml_text import Source, parse_source, read_source
from .address import changed, copied, key_text
from .faults import problems_of, without_echoes
from .raw import Gathered, Problem, Raw
from .root import ScenarioModel, build, rule_problems
from .scenario import Scenario

CHANGES_FROM = "--set"
MOST_FAULTS = 500
"""Nobody reads more; a file of the wrong kind can have one in every line."""


def load(
    path: str | FilePath,
    *,
    changes: Mapping[str, object] | None = None,
    stdin_text: str | None = None,
    changes_from: str = CHANGES_FROM,
) -> Scenario:
    """The scenario in a file, or on standard input where the path is "-", after changes.

    Parameters
    ----------
    path : str or path
        A TOML file in UTF-8, or "-".
    changes : mapping of str to object, optional
        Dotted keys and new values, in the unit that the file uses.
    stdin_text : str, optional
        What standard input holds, where it has been read already.
    changes_from : str
        How faults in the changes name their place.

    Returns
    -------
    Scenario
        Lengths in m and angles in degrees, whatever the file is written in.

    Raises
    ------
    ScenarioError
        With every fault of the file and of the changes.
    """
    source = read_source(path, stdin_text=stdin_text)
    return _scenario(source, source.document, changes or {}, changes_from, with_variants=True)


def rebuilt(
    scenario: Scenario, changes: Mapping[str, object], *, changes_from: str = CHANGES_FROM
) -> Scenario:
    """The scenario after further changes.  Raises ScenarioError."""
    source = parse_source(scenario.text, file=scenario.file, folder=scenario.folder)
    return _scenario(source, scenario.document, changes, changes_from, with_variants=False)


def of_document(scenario: Scenario, document: dict[str, Any]) -> Scenario:
    """The scenario of another plain document in the same place; its faults stand at no line.

    Raises ScenarioError.
    """
    source = Source(
        file=scenario.file,
        folder=scenario.folder,
        text=scenario.text,
        document=document,
        places={},
    )
    return of_source(source)


def of_source(source: Source) -> Scenario:
    """The scenario of a document that was read before.  Raises ScenarioError."""
    return _scenario(source, source.document, {}, CHANGES_FROM, with_variants=False)


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


def bare_lengths(document: dict[str, Any]) -> list[Path]:
    """Where a valid document has numbers that are lengths in its own unit.

    Found by trying: a length may be given as a text with its unit, another number may not.
    """
    numbers = list(_numbers(document, ()))
    unit = document.get("units", "m")
    tried: dict[str, Any] = copied(document)
    for path in numbers:
        node: Any = tried
        for part in path[:-1]:
            node = node[part]
        node[path[-1]] = f"{node[path[-1]]!r} {unit}"
    _, problems = _checked(tried)
    others = [path for path, _ in problems]
    return [path for path in numbers if not any(path[: len(one)] == one for one in others)]


def _numbers(node: Any, path: Path) -> Iterator[Path]:
    if isinstance(node, dict | list):
        for key, one in node.items() if isinstance(node, dict) else enumerate(node):
            yield from _numbers(one, (*path, key))
    elif isinstance(node, int | float) and not isinstance(node, bool):
        yield path


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
    *,
    with_variants: bool,
) -> Scenario:
    document, made, unknown = changed(before, changes)
    model, problems = _checked(document)
    # What was wrong before the changes is the file's fault, not theirs.
    own = set(problems)
    if made and (problems or with_variants):
        own = set(_checked(before)[1])
    faults = [Fault(changes_from, 1, 1, key, message) for key, message in unknown]
    faults += _placed(source, document, [one for one in problems if one in own])
    faults += _blamed(changes_from, document, [one for one in problems if one not in own])
    if with_variants and not own:
        faults += _variant_faults(source, before)
    if model is None or faults:
        raise ScenarioError(_in_order(faults, source.file))
    gathered = Gathered(source.folder)
    scenario = build(model, gathered, file=source.file, document=document, text=source.text)
    if scenario is not None:
        return scenario
    own = {one for one in gathered.problems if _at(before, one[0]) == _at(document, one[0])}
    faults = list(gathered.faults)
    faults += _placed(source, document, [one for one in gathered.problems if one in own])
    faults += _blamed(changes_from, document, [one for one in gathered.problems if one not in own])
    raise ScenarioError(_in_order(faults, source.file))


def _at(document: dict[str, Any], path: Path) -> Any:
    """What the document has at a path; None where it has nothing."""
    node: Any = document
    for part in path:
        if isinstance(node, list) and isinstance(part, int) and part < len(node):
            node = node[part]
        else:
            node = node.get(part) if isinstance(node, dict) else None
    return node


def _blamed(changes_from: str, document: dict[str, Any], problems: list[Problem]) -> list[Fault]:
    """Faults that came with the changes."""
    return [
        Fault(changes_from, 1, 1, key_text(document, path), message)
        for path, message in problems[:MOST_FAULTS]
    ]


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
        return None, without_echoes(told + [one for one in problems if one[0] not in known])
    return model, problems


def _placed(source: Source, document: dict[str, Any], problems: list[Problem]) -> list[Fault]:
    """The first MOST_FAULTS at their places in the file, and how many more there are."""
    placed = sorted(
        (place_of(source.places, path), position) for position, (path, _) in enumerate(problems)
    )
    faults = []
    for (line, column), position in placed[:MOST_FAULTS]:
        path, message = problems[position]
        faults.append(Fault(source.file, line, column, key_text(document, path), message))
    if more := len(placed) - len(faults):
        (line, column), _ = placed[MOST_FAULTS]
        text = f"{more} more faults from here on; put the first ones right"
        faults.append(Fault(source.file, line, column, "", text))
    return faults


def _variant_faults(source: Source, document: dict[str, Any]) -> list[Fault]:
    """Changes of variants that name nothing, or that lead to faults."""
    faults: list[Fault] = []
    for index, one in enumerate(document.get("variant", [])):
        after, _, unknown = changed(document, one.get("set", {}))
        told = unknown + [(key_text(after, path), text) for path, text in _checked(after)[1]]
        found: list[Problem] = [(("variant", index, "set", key), text) for key, text in told]
        faults.extend(_placed(source, document, found))
    return faults


def _in_order(faults: list[Fault], file: str) -> list[Fault]:
    """By file, the scenario's own first, then by place."""
    return sorted(faults, key=lambda one: (one.file != file, one.file, one.line, one.column))
