"""Dotted keys: how changes, variants and sweeps name a value of the file.

`speaker.main.placement.height`; members of a table array by name, quoted where a name has a space
or a dot: `seating."lower tier".ears`.  A whole number picks a member of any list.
"""

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from ..base.errors import Fault, ScenarioError, found_text
from ..files.toml_places import Path
from .keys import Strict, keys_of, quoted, suggestion, under
from .root import ScenarioModel

Document = dict[str, Any]
VARIANT = "variant"

_PART = re.compile(r"""\s*(?:"((?:[^"\\]|\\.)*)"|'([^']*)'|([^."'\[\]=]+?))\s*(?:\.|$)""")


class AddressError(ValueError):
    """A dotted key that names nothing; the text is "found; allowed"."""


@dataclass(frozen=True)
class Change:
    """One change, found in the document.

    table: the model of the table that holds the key, None inside lists and tables by band
    """

    key: str
    path: Path
    value: Any
    table: type[Strict] | None


def parts_of(key: str) -> tuple[str, ...]:
    """The parts of a dotted key, unquoted; raises AddressError."""
    parts: list[str] = []
    at = 0
    while at < len(key) or not parts:
        found = _PART.match(key, at)
        if not found or (found.end() == len(key) and key.endswith(".")):
            raise AddressError(
                f"{found_text(key)}; must be a dotted key as speaker.NAME.placement.height"
            )
        double, single, bare = found.groups()
        if double is not None and "\\" in double:
            try:
                double = tomllib.loads(f'key = "{double}"')["key"]
            except tomllib.TOMLDecodeError:
                allowed = "must have its quoted part as TOML has it"
                raise AddressError(f"{found_text(key)}; {allowed}") from None
        parts.append(next(part for part in (double, single, bare) if part is not None))
        at = found.end()
    return tuple(parts)


def key_text(document: Document, path: Path) -> str:
    """The dotted key of a path: members of a table array by name where they have one."""
    parts: list[str] = []
    node: Any = document
    for part in path:
        shown = str(part)
        below: Any = None
        if isinstance(node, dict):
            below = node.get(str(part))
            shown = quoted(str(part))
        elif isinstance(node, list) and isinstance(part, int) and part < len(node):
            below = node[part]
            name = below.get("name") if isinstance(below, dict) else None
            same = [one for one in node if isinstance(one, dict) and one.get("name") == name]
            if isinstance(name, str) and len(same) == 1:
                shown = quoted(name)
        parts.append(shown)
        node = below
    return ".".join(parts)


def find(document: Document, key: str, value: Any = None) -> Change:
    """Where a dotted key stands in the document; raises AddressError."""
    path: Path = ()
    node: Any = document
    model: type[Strict] | None = ScenarioModel
    holder: type[Strict] | None = None
    several = False
    parts = parts_of(key)
    for position, part in enumerate(parts):
        above = ".".join(quoted(one) for one in parts[:position])
        holder = None
        if several:
            place, node = _member(node, part, above)
            path, several = (*path, place), False
        elif model is not None and (node is None or isinstance(node, dict)):
            if part not in keys_of(model):
                raise AddressError(
                    f"unknown key {found_text(part)}; {suggestion(part, list(keys_of(model)))}"
                )
            holder = model
            model, several = under(model, part)
            path, node = (*path, part), (node or {}).get(part)
        elif isinstance(node, list):
            place, node = _member(node, part, above)
            path = (*path, place)
        elif node is None or isinstance(node, dict):
            path, node = (*path, part), (node or {}).get(part)
        else:
            raise AddressError(f"{above} is {found_text(node)}; must be a table, or set as a whole")
    return Change(key=key, path=path, value=value, table=holder)


def _member(node: Any, part: str, above: str) -> tuple[int, Any]:
    members = node if isinstance(node, list) else []
    names = [one.get("name") if isinstance(one, dict) else None for one in members]
    if part in names:
        return names.index(part), members[names.index(part)]
    if part.isascii() and part.isdigit() and len(part) < 9 and int(part) < len(members):
        return int(part), members[int(part)]
    known = [name for name in names if isinstance(name, str)]
    raise AddressError(f"no {above} {found_text(part)}; {suggestion(part, known)}")


def changed(
    document: Document, changes: Mapping[str, object]
) -> tuple[Document, list[Change], list[tuple[str, str]]]:
    """A copy of the document with the changes made, where they are, and the faults by key.

    variant = "NAME" stands for all that this variant sets, "" for nothing; other changes come
    after it.  A change removes what says the same thing another way (trim, where height is set),
    unless that is set in the same breath.
    """
    found: list[Change] = []
    changes, faults = _with_variant(document, changes)
    for key, value in changes.items():
        try:
            found.append(find(document, key, plain(value)))
        except AddressError as error:
            faults.append((key, str(error)))
    result = copied(document)
    set_now = {change.path for change in found}
    for change in found:
        node = _holder(result, change.path)
        if node is None:
            faults.append((change.key, "lies in what another change sets; give one of the two"))
            continue
        last = change.path[-1]
        if change.table is not None:
            for rival in change.table.displaced_by(str(last), change.value):
                if (*change.path[:-1], rival) not in set_now:
                    node.pop(rival, None)
        if change.value is None and isinstance(node, dict):
            node.pop(last, None)
        else:
            node[last] = change.value
    return result, found, faults


def _holder(document: Document, path: Path) -> Any:
    """The table or list that a path ends in, tables made on the way; None where there is none."""
    node: Any = document
    for part in path[:-1]:
        if isinstance(node, dict):
            node = node.setdefault(part, {})
        elif isinstance(node, list) and isinstance(part, int) and part < len(node):
            node = node[part]
        else:
            return None
    last = path[-1]
    fits = isinstance(node, list) and isinstance(last, int) and last < len(node)
    return node if fits or isinstance(node, dict) else None


def _with_variant(
    document: Document, changes: Mapping[str, object]
) -> tuple[Mapping[str, object], list[tuple[str, str]]]:
    """The changes, those of a variant that they name before all others."""
    name = changes.get(VARIANT)
    if not isinstance(name, str):
        return changes, []
    others = {key: value for key, value in changes.items() if key != VARIANT}
    variants = document.get(VARIANT)
    known: dict[str, object] = {"": {}}
    for one in variants if isinstance(variants, list) else ():
        if isinstance(one, dict) and isinstance(one.get("name"), str):
            known[one["name"]] = one.get("set", {})
    chosen = known.get(name)
    if not isinstance(chosen, dict):
        return others, [(VARIANT, f"{found_text(name)}; {suggestion(name, list(known)[1:])}")]
    return {**chosen, **others}, []


def copied(value: Any) -> Any:
    """A deep copy of a plain document."""
    if isinstance(value, dict):
        return {key: copied(one) for key, one in value.items()}
    if isinstance(value, list):
        return [copied(one) for one in value]
    return value


def plain(value: Any) -> Any:
    """A value from Python as the file would have it: lists for tuples and arrays, own numbers."""
    if isinstance(value, Mapping):
        return {str(key): plain(one) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [plain(one) for one in value]
    if hasattr(value, "tolist"):
        return plain(value.tolist())
    return str(value) if hasattr(value, "__fspath__") else value


def parse_set(text: str) -> tuple[str, Any]:
    """KEY and value of "KEY=VALUE"; VALUE is read as TOML, and is a text where that fails.

    Raises ScenarioError where there is no KEY or no "=".
    """
    found = re.match(r"""((?:"(?:[^"\\]|\\.)*"|'[^']*'|[^"'=])+)=(.*)""", text, re.DOTALL)
    if not found or not found[1].strip():
        raise ScenarioError(
            [Fault("--set", 1, 1, "", f"{found_text(text)}; must be KEY=VALUE, as units=ft")]
        )
    key, value = found[1].strip(), found[2].strip()
    try:
        parsed = tomllib.loads(f"value = {value}")
    except (ValueError, RecursionError):
        return key, value
    return key, parsed["value"] if len(parsed) == 1 else value
