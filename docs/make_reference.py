"""docs/reference.md from the scenario's models and the commands: `python docs/make_reference.py`.

Nothing is said here that the models and the commands do not say themselves.
"""

import inspect
import json
from pathlib import Path
from typing import Any, get_args, get_type_hints

from typer.models import ArgumentInfo, OptionInfo

from aiming.cli.main import app
from aiming.scenario import scenario_schema
from aiming.scenario.keys import Strict, keys_of, under
from aiming.scenario.root import ScenarioModel

HERE = Path(__file__).parent
HEAD = """\
# Reference

Every key of the scenario file and every command, made from the program itself by
`python docs/make_reference.py`. The words are those of the [conventions](conventions.md); every
caution, its threshold and its source stand in [cautions](cautions.md). Nothing here is a rigging
design.

## The scenario file

TOML, version 1. Keys that are not listed are faults. A **length** is a bare number in the file's
`units`, or a text such as `"3.8 m"`, `"240 mm"`, `"12 ft 6 in"`; default lengths are in metres.
An **angle** is in degrees, or a text such as `"nose down 12"`.
`aiming check FILE` lists every fault of a file with its line, `aiming schema` prints a JSON Schema
for editors. `--set`, `--over` and variants name a key by its tables, members of a `[[table]]` by
name: `speaker.main.placement.height`, `seating."lower tier".ears`.
"""
COMMANDS = """\
## The commands

Answers go to standard output, progress and cautions to standard error; `--json` prints JSON alone.
`aiming --install-completion` teaches a shell the commands; `NO_COLOR` is honoured.

| exit code | meaning |
|---|---|
| 0 | the answer stands |
| 1 | a bug; what is printed is worth reporting |
| 2 | bad input or usage: every fault is on standard error as \
`file:line:column: key: what was found; what is allowed`, \
and nothing was written |
| 3 | an answer, but a caution that stops stands, or no placement meets the limits |
| 130, 141 | interrupted; nobody read on |
"""


def cell(text: str) -> str:
    """Text for a cell of a table."""
    return " ".join(text.split()).replace("|", "\\|")


def bounds(schema: dict[str, Any]) -> str:
    """ ", 0 to 1", ", above 0", or nothing."""
    low, high = schema.get("minimum"), schema.get("maximum")
    above, below = schema.get("exclusiveMinimum"), schema.get("exclusiveMaximum")
    said = [
        f"from {low:g}" if low is not None else f"above {above:g}" if above is not None else "",
        f"to {high:g}" if high is not None else f"below {below:g}" if below is not None else "",
    ]
    text = " ".join(one for one in said if one)
    return f", {text}" if text else ""


def kind(schema: dict[str, Any]) -> str:
    """What a value may be, in words."""
    if comment := schema.get("$comment"):
        return str(comment) + bounds(schema)
    options = schema.get("anyOf") or schema.get("oneOf")
    if options:
        kept = [one for one in options if one.get("type") != "null"]
        return " or ".join(dict.fromkeys(kind(one) for one in kept))
    if "const" in schema:
        return json.dumps(schema["const"])
    if "enum" in schema:
        return ", ".join(json.dumps(one) for one in schema["enum"])
    if "$ref" in schema:
        return "table"
    what = schema.get("type", "any value")
    if what == "array":
        inside = kind(schema["items"])
        if schema.get("minItems") == schema.get("maxItems") == 2:
            plain = inside.split(",")[0]
            return f"[{plain}, {plain}]"
        return f"list of {inside}"
    if what == "object":
        return "table by band" if "patternProperties" in schema else "table"
    words = {"string": "text", "boolean": "true or false", "integer": "whole number"}
    return words.get(what, what) + bounds(schema)


def default(field: Any) -> str:
    """What holds where the key is not given."""
    if field.is_required():
        return "required"
    value = field.get_default(call_default_factory=True)
    if value is None or isinstance(value, Strict) or value in ([], {}):
        return ""
    return f"`{json.dumps(value, ensure_ascii=False)}`"


def tables(model: type[Strict], name: str, several: bool) -> list[str]:
    """A table's keys, and after it the tables under it."""
    definitions = scenario_schema()["$defs"]
    schema = definitions.get(model.__name__) or scenario_schema()
    head = "Top level" if not name else f"`[[{name}]]`" if several else f"`[{name}]`"
    lines = [f"### {head}", "", inspect.cleandoc(model.__doc__ or ""), ""]
    lines += ["| key | value | default | meaning |", "|---|---|---|---|"]
    further: list[str] = []
    for key, field in keys_of(model).items():
        inner, many = under(model, key)
        what = kind(schema["properties"][key])
        what = "tables, by name" if many and key != "also" else "tables" if many else what
        lines.append(
            f"| `{key}` | {cell(what)} | {cell(default(field))} | {cell(field.description or '')} |"
        )
        if inner is not None:
            further += tables(inner, f"{name}.{key}" if name else key, many)
    return [*lines, "", *further]


def unlike(lines: list[str]) -> list[str]:
    """A table's description once, where two tables have the same keys (upright, flipped)."""
    text = "\n".join(lines)
    upright, flipped = "`[speaker.rigging.upright]`", "`[speaker.rigging.flipped]`"
    start = text.index(f"### {flipped}")
    end = text.index("### `[speaker.stack]`")
    again = text[start:end].replace(".flipped", ".upright")
    assert again.strip() in text[:start], "the two orientations' tables differ"
    whole = text[:start] + text[end:]
    return whole.replace(f"### {upright}", f"### {upright}, {flipped}").splitlines()


def _is_flag(value: object) -> bool:
    return isinstance(value, str) and value.startswith("--")


def options(callback: Any) -> list[tuple[str, str, str]]:
    """(how it is written, default, help) of each argument and option."""
    found = []
    hints = get_type_hints(callback, include_extras=True)
    for name, parameter in inspect.signature(callback).parameters.items():
        plain, *extras = get_args(hints[name]) or (hints[name],)
        info = next(one for one in extras if isinstance(one, OptionInfo | ArgumentInfo))
        if isinstance(info, ArgumentInfo):
            written = info.metavar or name.upper()
        else:
            # In an annotation the first of the option's own names stands where a default would.
            names = [one for one in (info.default, *(info.param_decls or ())) if _is_flag(one)]
            flag = next(iter(names), "--" + name.replace("_", "-"))
            written = flag if plain is bool else f"{flag} {info.metavar or 'TEXT'}"
        value = parameter.default
        usual = "required" if value is inspect.Parameter.empty else ""
        if isinstance(value, str | int | float) and value != "" and value is not False:
            usual = f"`{value}`"
        found.append((written, usual, info.help or ""))
    return found


def commands() -> list[str]:
    """Every command with its help and its options."""
    lines: list[str] = []
    for one in app.registered_commands:
        assert one.callback is not None
        name = one.name or one.callback.__name__.replace("_", "-")
        lines += [f"### `aiming {name}`", "", inspect.cleandoc(one.callback.__doc__ or ""), ""]
        asked = options(one.callback)
        if asked:
            lines += ["| option | default | meaning |", "|---|---|---|"]
            lines += [f"| `{cell(a)}` | {b} | {cell(c)} |" for a, b, c in asked]
            lines.append("")
    return lines


def markdown() -> str:
    """docs/reference.md."""
    keys = unlike(tables(ScenarioModel, "", False))
    return "\n".join([HEAD, *keys, "", COMMANDS, *commands()]).rstrip() + "\n"


if __name__ == "__main__":
    (HERE / "reference.md").write_text(markdown(), encoding="utf-8")
