"""From what the models refuse to "key: found; allowed"."""

import re
from collections.abc import Iterable
from typing import Any

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from ..base.errors import Fault, found_text
from ..files.toml_places import Path, place_of
from ..files.toml_text import parse_source
from .address import key_text
from .keys import Strict, keys_of, suggestion, under
from .root import ScenarioModel
from .scenario import Scenario

Problem = tuple[Path, str]
"""Where in the document, and "found; allowed"."""

_TABLE = "must be a table, its keys under its [name] or in { }"
_ALLOWED = {
    "float_type": "must be a number",
    "int_type": "must be a whole number",
    "int_from_float": "must be a whole number",
    "string_type": "must be a text in quotes",
    "bool_type": "must be true or false",
    "list_type": "must be a list in [ ]",
    "dict_type": _TABLE,
    "model_type": _TABLE,
    "finite_number": "must be a finite number",
    "union_tag_invalid": "must be a number, or a table",
}
_BOUNDS = {
    "greater_than": ("gt", "greater than"),
    "greater_than_equal": ("ge", "at least"),
    "less_than": ("lt", "less than"),
    "less_than_equal": ("le", "at most"),
}
_MEANT = re.compile(r'unknown key; did you mean "([^"]+)"\?')
_ALTERNATIVE = re.compile(r"constrained-|literal\[")
_KINDS = {"table": dict, "list": list}


def problems_of(error: ValidationError, document: dict[str, Any]) -> list[Problem]:
    """Every fault that the models found in the document."""
    found = [
        (path := _path_in(document, details["loc"]), _message(details, path))
        for details in error.errors(include_url=False)
    ]
    return without_echoes(_joined(found))


def _joined(problems: list[Problem]) -> list[Problem]:
    """One fault for one value that is none of what its key may be: "two; a number, or off"."""
    whole: dict[tuple[Path, str], list[str]] = {}
    for path, message in problems:
        found, _, allowed = message.partition("; ")
        whole.setdefault((path, found), []).append(allowed)
    return [
        (path, "; ".join(filter(None, (found, _either(dict.fromkeys(allowed))))))
        for (path, found), allowed in whole.items()
    ]


def _either(allowed: Iterable[str]) -> str:
    """ "must be a number, or off" of "must be a number" and "must be off"."""
    first, *others = allowed
    return ", or ".join([first, *(one.removeprefix("must be ") for one in others)])


def without_echoes(problems: list[Problem]) -> list[Problem]:
    """One fault for one slip: a key that is missing since it is misspelt beside is not told."""
    slips = {
        (*path[:-1], meant[1])
        for path, message in problems
        if path and (meant := _MEANT.fullmatch(message))
    }
    return [one for one in problems if not (one[0] in slips and one[1].startswith("missing"))]


def _path_in(document: dict[str, Any], location: tuple[str | int, ...]) -> Path:
    """The location without the names of alternatives, which are not in the document."""
    path: Path = ()
    node: Any = document
    for part in location:
        if _holds(node, part):
            node = node[part]
        elif part == "[key]" or _names_kind(part, node):
            continue
        else:
            node = None
        path = (*path, part)
    return path


def _holds(node: Any, part: str | int) -> bool:
    if isinstance(node, list):
        return isinstance(part, int) and part < len(node)
    return isinstance(node, dict) and part in node


def _names_kind(part: str | int, node: Any) -> bool:
    if not isinstance(part, str) or node is None:
        return False
    if not isinstance(node, dict) or _ALTERNATIVE.match(part):
        return True
    return part in _KINDS and isinstance(node, _KINDS[part])


def _message(details: ErrorDetails, path: Path) -> str:
    kind, found = details["type"], found_text(details["input"])
    context = details.get("ctx", {})
    if kind == "value_error":
        return str(context["error"])
    if kind == "missing":
        return f"missing; needed: {_described(path)}"
    if kind == "extra_forbidden":
        table = _table_at(path[:-1])
        return f"unknown key; {suggestion(str(path[-1]), list(keys_of(table)) if table else [])}"
    if kind == "literal_error":
        return f"{found}; must be {str(context['expected']).replace(chr(39), chr(34))}"
    if kind in _BOUNDS:
        name, words = _BOUNDS[kind]
        return f"{found}; must be {words} {context[name]:g}"
    if kind == "too_short":
        return f"{found}; must have at least {context['min_length']}"
    if kind == "too_long":
        return f"{found}; may have at most {context['max_length']}"
    if kind == "string_too_long":
        return f"{found}; may have at most {context['max_length']} characters"
    return f"{found}; {_ALLOWED.get(kind, details['msg'])}"


def _table_at(path: Path) -> type[Strict] | None:
    model: type[Strict] | None = ScenarioModel
    for part in path:
        if isinstance(part, str) and model is not None:
            model = under(model, part)[0] if part in keys_of(model) else None
    return model


def _described(path: Path) -> str:
    table = _table_at(path[:-1])
    field = keys_of(table).get(str(path[-1])) if table else None
    said = (field.description if field and field.description else "required").replace(";", ",")
    return said if said[:2].isupper() else said[0].lower() + said[1:]


# Where in the file something stands that only a later step finds fault with.


def fault_at(scenario: Scenario, path: Path, message: str) -> Fault:
    """A fault of one key of a scenario that has been read, at its line and column."""
    source = parse_source(scenario.text, file=scenario.file, folder=scenario.folder)
    line, column = place_of(source.places, path)
    return Fault(scenario.file, line, column, key_text(scenario.document, path), message)
