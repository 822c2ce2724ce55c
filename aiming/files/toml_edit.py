"""A TOML text made to say another document: only what differs is written, comments stay.

To set single addresses, change the document first (`scenario.address.changed`); members of a table
array may be added, deleted and renamed.  tomlkit does the keeping; it is imported here alone.
"""

import tomllib
from itertools import pairwise
from typing import Any

from ..base.errors import AimingError


class TextEditError(AimingError):
    """The text cannot be made to say the document."""


def edited_text(text: str, document: dict[str, Any]) -> str:
    """The text, changed only where it says something else than the document.

    text: valid TOML.  Raises TextEditError where that does not come out right.
    """
    if tomllib.loads(text) == document:
        return text
    import tomlkit

    held = tomlkit.parse(text)
    _merge(held, tomllib.loads(text), document)
    result = _apart(text, tomlkit.dumps(held))
    if tomllib.loads(result) != document:
        raise TextEditError("the changes cannot be written into this text as it is laid out")
    return result


def _apart(before: str, after: str) -> str:
    """A blank line before each header that is new, as people write them."""
    known = before.splitlines()
    pairs = set(pairwise(known))
    lines: list[str] = []
    for line in after.splitlines(keepends=True):
        last = lines[-1].strip() if lines else ""
        new = line.startswith("[") and last and not last.startswith("#")
        if new and (lines[-1].rstrip("\r\n"), line.rstrip("\r\n")) not in pairs:
            lines.append("\r\n" if line.endswith("\r\n") else "\n")
        lines.append(line)
    # What was added at the end brought a blank line with it.
    whole = "".join(lines)
    return whole.rstrip("\n") + "\n" if known and known[-1].strip() else whole


def _merge(held: Any, before: dict[str, Any], after: dict[str, Any]) -> None:
    """Change a table that says `before` until it says `after`."""
    for key in [key for key in before if key not in after]:
        del held[key]
    for key, value in after.items():
        if key not in before:
            _add(held, key, value)
        elif value != before[key] or type(value) is not type(before[key]):
            _change(held, key, before[key], value)


def _change(held: Any, key: Any, before: Any, after: Any) -> None:
    if isinstance(before, dict) and isinstance(after, dict):
        _merge(held[key], before, after)
    elif _tables(before) and _tables(after):
        _merge_members(held, key, before, after)
    elif isinstance(before, list) and isinstance(after, list) and len(before) == len(after):
        # Value by value, so that a comment inside the list stays where it is.
        for place, (old, new) in enumerate(zip(before, after, strict=True)):
            if old != new or type(old) is not type(new):
                _change(held[key], place, old, new)
    else:
        held[key] = _item(after)


def _tables(value: Any) -> bool:
    return isinstance(value, list) and bool(value) and all(isinstance(of, dict) for of in value)


def _merge_members(held: Any, key: Any, before: list[Any], after: list[Any]) -> None:
    """Members of a table array keep their text where one of their name, or place, stays."""
    from tomlkit.items import AoT

    names = [of.get("name") for of in after]
    if not isinstance(held[key], AoT):
        held[key] = _item(after)
        return
    if len(before) == len(after):
        for place, (old, new) in enumerate(zip(before, after, strict=True)):
            _merge(held[key][place], old, new)
        return
    for place in reversed([at for at, of in enumerate(before) if of.get("name") not in names]):
        del held[key][place]
        before = [*before[:place], *before[place + 1 :]]
    known = [of.get("name") for of in before]
    for place, new in enumerate(after):
        if place < len(known) and known[place] == new.get("name"):
            _merge(held[key][place], before[place], new)
            continue
        held[key].insert(place, _table(new))
        known.insert(place, new.get("name"))
        before = [*before[:place], new, *before[place:]]


def _add(held: Any, key: str, value: Any) -> None:
    import tomlkit

    if isinstance(value, dict):
        held.add(key, _table(value))
    elif _tables(value) and isinstance(held, tomlkit.TOMLDocument):
        members = tomlkit.aot()
        for of in value:
            members.append(_table(of))
        held.add(key, members)
    else:
        _insert_value(held, key, _item(value))


def _insert_value(held: Any, key: str, item: Any) -> None:
    """A plain key before the tables of its table, where TOML wants it."""
    import tomlkit
    from tomlkit.items import AoT, InlineTable, Table

    container = held.value if isinstance(held, Table) else held
    if isinstance(held, InlineTable) or not hasattr(container, "body"):
        held[key] = item
        return
    last = None
    for name, of in container.body:
        if name is not None and not isinstance(of, Table | AoT):
            last = name
    below = [name for name, of in container.body if isinstance(of, Table | AoT)]
    if last is not None and below:
        container._insert_after(last, tomlkit.key(key), item)
        if isinstance(held, Table):
            dict.__setitem__(held, key, item)
    else:
        held.add(key, item)


def _table(value: dict[str, Any]) -> Any:
    """A table of its own, plain keys before tables, a blank line after."""
    import tomlkit

    made = tomlkit.table()
    for key, of in sorted(value.items(), key=lambda one: isinstance(one[1], dict)):
        made.add(key, _item(of))
    made.add(tomlkit.nl())
    return made


def _item(value: Any) -> Any:
    import tomlkit

    if isinstance(value, dict):
        table = tomlkit.inline_table()
        for key, of in value.items():
            table.append(key, _item(of))
        return table
    if isinstance(value, list):
        made = tomlkit.array()
        for of in value:
            made.append(_item(of))
        return made
    return tomlkit.item(value)
