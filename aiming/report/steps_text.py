"""A calculation's steps as text: name, formula, numbers put in, result."""

from collections.abc import Iterable
from textwrap import wrap

from .terminal import WIDTH

_INDENT = "    "


def step_lines(steps: Iterable[tuple[str, str, str, str]]) -> list[str]:
    """Each step (name, formula, numbers, result) in two or three lines of 80 columns."""
    lines = []
    for name, formula, numbers, result in steps:
        lines.append(f"{name}: {result}")
        for text in (formula, numbers):
            lines += wrap(text, WIDTH - 1, initial_indent=_INDENT, subsequent_indent=_INDENT + "  ")
    return lines
