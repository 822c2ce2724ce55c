"""One family of expected errors: what a person did that cannot be computed, and where.

Every message is built from place, key, what was found and what is allowed.  An expected error is
caught at one boundary, the command line; anything else is a bug and shows its traceback.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import partial
from typing import ClassVar

MOST_SHOWN = 600
"""Characters of a message's beginning, and of its end, that are shown of a longer one."""


class AimingError(Exception):
    """Something that a person can put right; the text says what and how."""

    exit_code: ClassVar[int] = 2
    """How the command line ends: 2 bad input or usage, 3 no placement meets the limits."""

    def __str__(self) -> str:
        return "\n".join(printable(line) for line in super().__str__().split("\n"))


@dataclass(frozen=True)
class Fault:
    """One fault in one place of one file.

    file: as the person named it, "-" for standard input; "--set" or 'variant "NAME"' for a change
    line, column: counted from 1
    key: dotted key, or "" where the fault is in the text itself
    message: "found; allowed"
    """

    file: str
    line: int
    column: int
    key: str
    message: str

    def __str__(self) -> str:
        if self.file.startswith(("--", 'variant "')):  # an option or a variant, no file with lines
            where = printable(self.file)
        else:
            where = f"{self.file}:{self.line}:{self.column}"
        return f"{where}: {printable(self.key) or 'text'}: {printable(self.message)}"


class ScenarioError(AimingError, ValueError):
    """Every fault of a file at once, in the order of the file."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults = tuple(faults)
        super().__init__("\n".join(str(fault) for fault in self.faults))

    def __reduce__(self) -> tuple[type["ScenarioError"], tuple[tuple[Fault, ...]]]:
        """So that an error which crosses to another process is made of its faults again."""
        return type(self), (self.faults,)


class MissingExtraError(AimingError):
    """A command needs an optional package that is not installed."""

    def __init__(self, *, package: str, extra: str, purpose: str) -> None:
        self._parts = {"package": package, "extra": extra, "purpose": purpose}
        super().__init__(f"{purpose} needs the package {package}: pip install 'aiming[{extra}]'")

    def __reduce__(self) -> tuple[Callable[[], "MissingExtraError"], tuple[()]]:
        return partial(MissingExtraError, **self._parts), ()


def printable(text: str) -> str:
    """A text on one line: what comes from a file must not steer a terminal, nor fill it."""
    if len(text) > 2 * MOST_SHOWN:
        text = f"{text[:MOST_SHOWN]}…{text[-MOST_SHOWN:]}"
    return text if text.isprintable() else "".join(c if c.isprintable() else "�" for c in text)


def found_text(value: object) -> str:
    """A value as a fault shows it: short, on one line, in the file's own notation."""
    if isinstance(value, str):
        return f'"{printable(value if len(value) <= 60 else value[:60] + "…")}"'
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, int) and value.bit_length() > 200:
        return "a number of more than 60 digits"
    if isinstance(value, int | float):
        return str(value)
    if isinstance(value, list):
        return f"a list of {len(value)}"
    if isinstance(value, dict):
        return "a table"
    return "nothing" if value is None else f"a {type(value).__name__}"
