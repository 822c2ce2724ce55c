"""docs/api.md, the public library from its own docstrings: `python docs/make_api.py`."""

import inspect
from pathlib import Path

import aiming
from aiming.results.answer import Answer

HERE = Path(__file__).resolve().parent
FUNCTIONS = ("load", "solve", "evaluate", "compare", "choose", "what_if", "onsite")
METHODS = ("to_dict", "plot", "write")
TYPES = ("Scenario", "Answer", "SpeakerAnswer", "Case", "CoverageChoice", "Table", "Found")
ERRORS = ("AimingError", "ScenarioError", "NoPlacementError", "Fault")
HEAD = """\
# In Python

Everything public is in `aiming`. Lengths are metres, angles degrees (positive up), levels dB; rows
are arrays (rows,), levels by band (bands, rows). What an answer holds is in the
[answer](answer.md). Made by `python docs/make_api.py` from the docstrings.

## An example

"""


def _signature(of: object) -> str:
    assert callable(of)
    found = str(inspect.signature(of))
    for long in ("aiming.scenario.scenario.", "aiming.results.answer.", "collections.abc."):
        found = found.replace(long, "")
    return found


def _said(of: object) -> str:
    return inspect.getdoc(of) or ""


def markdown() -> str:
    """The whole page."""
    example = (HERE / "api_example.py").read_text(encoding="utf-8")
    parts = [f"{HEAD}```python\n{example}```\n", "## Functions\n"]
    for name in FUNCTIONS:
        of = getattr(aiming, name)
        parts.append(f"### `aiming.{name}`\n\n```\n{name}{_signature(of)}\n\n{_said(of)}\n```\n")
    parts.append("## What an answer can do\n")
    for name in METHODS:
        of = getattr(Answer, name)
        parts.append(f"### `answer.{name}`\n\n```\n{_said(of)}\n```\n")
    for heading, names in (("Types", TYPES), ("Errors", ERRORS)):
        parts.append(f"## {heading}\n")
        rows = [f"- `aiming.{of}`: {_said(getattr(aiming, of)).splitlines()[0]}" for of in names]
        parts.append("\n".join(rows) + "\n")
    return "\n".join(parts)


if __name__ == "__main__":
    (HERE / "api.md").write_text(markdown(), encoding="utf-8")
