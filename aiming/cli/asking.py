"""Questions on a terminal: one at a time, with a usual answer and a step back."""

import sys
from collections.abc import Callable
from textwrap import wrap

from .common import tell

Check = Callable[[str], str]
"""Takes what was typed; gives what is kept; raises ValueError with what is allowed."""
_BACK = ("back", "<")


class Back(Exception):
    """The person wants the question before once more."""


class Stopped(Exception):
    """No more is typed: the end of the input, or Ctrl-C."""

    def __init__(self, by: KeyboardInterrupt | None = None) -> None:
        super().__init__()
        self.by = by


def ask(question: str, explanation: str, default: str, check: Check) -> str:
    """Ask until the answer can be used; Enter takes the default.

    explanation: "" for none
    Raises Back where the person wants the question before, and Stopped.
    """
    tell("")
    for line in wrap(explanation, 76):
        tell(f"  {line}")
    while True:
        try:
            print(f"{question} [{default}]: ", end="", file=sys.stderr, flush=True)
            typed = sys.stdin.readline()
        except KeyboardInterrupt as stopped:
            raise Stopped(stopped) from None
        if not typed:
            raise Stopped
        if typed.strip().lower() in _BACK:
            raise Back
        try:
            return check(typed.strip() or default)
        except ValueError as error:
            tell(f"  {error}")
