"""Plain data as JSON text: full precision, one line for each loudspeaker, row and caution."""

import json
from typing import Any


def json_text(data: dict[str, Any]) -> str:
    """The JSON text of plain data, keys in their given order, with a line break at its end.

    Lists of tables get a line for each member, so that two answers can be compared line by line.
    Raises ValueError for NaN and infinity, which have no place in JSON.
    """
    members = [f"{_compact(name)}: {_value(value)}" for name, value in data.items()]
    return "{\n" + ",\n".join(members) + "\n}\n"


def _value(value: Any) -> str:
    if isinstance(value, list) and value and all(isinstance(one, dict) for one in value):
        return "[\n  " + ",\n  ".join(_compact(one) for one in value) + "\n]"
    return _compact(value)


def _compact(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, allow_nan=False)
