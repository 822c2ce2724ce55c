"""What breaks a TOML document as a document: values, keys, tables; and how it is written down."""

import datetime
import math
from collections.abc import Callable
from copy import deepcopy
from random import Random
from typing import Any

from .texts import WORDS

Spot = tuple[Any, Any]
"""The table or list that holds a value, and its key there."""
_VALUES: tuple[Any, ...] = (
    0, 1, -1, 0.0, -0.0, 0.5, 1e-320, 1e-12, 1e5, 100_001, 1e9, 1e300, 1e308, -1e308, math.nan,
    math.inf, -math.inf, 2**63, 10**60, 10**4999, True, False, [], {}, [[]], [{}], [1, 2], [2, 1],
    [1, 1], [[0, 0], [1, 0]], [0, 0, 0], {"a": 1}, datetime.date(2000, 1, 1), datetime.time(1, 2),
    datetime.datetime(2000, 1, 1, tzinfo=datetime.UTC), "m", "ft", "1 m", "-3 ft 2 in", "1e400 m",
    "main", "stacked", "flown", "either", "piston", "worst band", 90, -90, 180, 360, 359.999, 1000,
    45, "seated", [-90, 90], [0, 1e5], [[0, 0], [0, 0]], [[5, 0], [0, 0]],
)  # fmt: skip


def toml_text(document: dict[str, Any]) -> str:
    """The document as TOML: tables of its top level with headings, the rest in line."""
    plain = [f"{_key(key)} = {_value(one)}" for key, one in document.items() if not _headed(one)]
    parts = ["\n".join(plain)]
    for key, one in document.items():
        if _headed(one):
            several = isinstance(one, list)
            for table in one if several else [one]:
                heading = f"[[{_key(key)}]]" if several else f"[{_key(key)}]"
                body = [f"{_key(name)} = {_value(inner)}" for name, inner in table.items()]
                parts.append("\n".join([heading, *body]))
    return "\n\n".join(parts) + "\n"


def _headed(value: Any) -> bool:
    if isinstance(value, dict):
        return True
    return isinstance(value, list) and bool(value) and all(isinstance(one, dict) for one in value)


def _key(key: str) -> str:
    bare = key.isascii() and key.replace("_", "a").replace("-", "a").isalnum()
    return key if bare else _quoted(key)


def _quoted(text: str) -> str:
    return '"' + "".join(
        one if one.isprintable() and one not in '"\\' else f"\\U{ord(one):08x}" for one in text
    ) + '"'  # fmt: skip


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return _quoted(value)
    if isinstance(value, int):
        return str(value) if value.bit_length() < 10_000 else "1" + "0" * 4999
    if isinstance(value, float):
        return repr(value)
    if isinstance(value, list):
        return "[" + ", ".join(map(_value, value)) + "]"
    if isinstance(value, dict):
        return "{" + ", ".join(f"{_key(key)} = {_value(one)}" for key, one in value.items()) + "}"
    return str(value.isoformat())


def spots_of(node: Any) -> list[Spot]:
    """Every place of the document that holds something."""
    keys = node.keys() if isinstance(node, dict) else range(len(node))
    found: list[Spot] = []
    for key in keys:
        found.append((node, key))
        if isinstance(node[key], dict | list):
            found += spots_of(node[key])
    return found


def _another_value(holder: Any, key: Any, chance: Random) -> None:
    before = holder[key]
    number = isinstance(before, int | float) and not isinstance(before, bool)
    if number and abs(before) < 1e300 and chance.random() < 0.7:
        scale = chance.choice((-1, 0, 0.5, 0.9, 1.001, 1.1, 2, 10, 1e-3, 1e3, 1e-9))
        moved = before * scale + chance.choice((0, 0, 0.1, -5))
        holder[key] = int(moved) if isinstance(before, int) else moved
    elif isinstance(before, str) and chance.random() < 0.5:
        holder[key] = chance.choice((*WORDS, before + " ", before.upper(), before[:-1]))
    else:
        holder[key] = deepcopy(chance.choice((*_VALUES, chance.choice(WORDS))))


def _without(holder: Any, key: Any, _chance: Random) -> None:
    del holder[key]


def _another_key(holder: Any, key: Any, chance: Random) -> None:
    if isinstance(holder, dict):
        name = chance.choice((key + "s", key[:-1], key.upper(), *WORDS, "name", "file", "line"))
        holder[name[:500]] = holder.pop(key)


def _wrapped(holder: Any, key: Any, chance: Random) -> None:
    for _ in range(chance.choice((1, 1, 2, 8, 30, 60))):
        holder[key] = [holder[key]] if chance.random() < 0.5 else {"a": holder[key]}


def _unwrapped(holder: Any, key: Any, chance: Random) -> None:
    inner = holder[key]
    if isinstance(inner, dict | list) and inner:
        holder[key] = chance.choice(list(inner.values()) if isinstance(inner, dict) else inner)


def _another_list(holder: Any, key: Any, chance: Random) -> None:
    held = holder[key]
    if not isinstance(held, list) or not held:
        return
    what = chance.randrange(5)
    if what == 0:
        holder[key] = [*held, chance.choice(held)]
    elif what == 1:
        chance.shuffle(held)
    elif what == 2:
        held.reverse()
    elif what == 3:
        holder[key] = held * chance.choice((2, 5, 40))
    else:
        del held[chance.randrange(len(held)) :]


_CHANGES: tuple[Callable[[Any, Any, Random], None], ...] = (
    _another_value, _another_value, _another_value, _another_value, _another_value,
    _without, _another_key, _wrapped, _unwrapped, _another_list, _another_list,
)  # fmt: skip


def break_document(document: dict[str, Any], others: list[dict[str, Any]], chance: Random) -> None:
    """One to four changes in place.

    others: documents of the same kind, from which tables and values are taken over
    """
    for _ in range(chance.choice((1, 1, 1, 2, 2, 3, 4))):
        holder, key = chance.choice(spots_of(document) or [(document, "title")])
        way = chance.random()
        if key not in holder if isinstance(holder, dict) else key >= len(holder):
            holder[key] = 1
        elif way < 0.15:
            other = chance.choice(others)
            taken = chance.choice(list(other))
            document[taken] = deepcopy(other[taken])
        elif way < 0.25:
            from_holder, from_key = chance.choice(spots_of(chance.choice(others)))
            holder[key] = deepcopy(from_holder[from_key])
        else:
            chance.choice(_CHANGES)(holder, key, chance)
