"""Axes of a sweep: a key of the scenario file and the values that it takes.

Values are in the file's own unit, as the file would have them.  A range is (low, high, step), high
included where it lies on a whole number of steps.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any

import numpy as np

from ..base.arrays import FloatArray
from ..base.errors import Fault, ScenarioError, found_text
from ..base.units import FOOT_M, Unit, parse_length_m
from ..scenario.address import parse_set, plain

MOST_VALUES = 10**9
_MOST_DECIMALS = 12
_ALLOWED = "must be (low, high, step) with low ≤ high and step > 0, or a list of values"


@dataclass(frozen=True)
class Axis:
    """One key and its values.

    listed: the values themselves, or () for first + k·step, k < count, rounded to decimals
    unit: of its numbers, as people write it; "" where they have none
    """

    key: str
    count: int
    listed: tuple[Any, ...] = ()
    first: float = 0.0
    step: float = 0.0
    decimals: int = _MOST_DECIMALS
    unit: str = ""

    def value(self, index: int) -> Any:
        """One value as the file would have it; some keys take whole numbers alone."""
        if self.listed:
            return self.listed[index]
        value = float(self.numbers(index, index + 1)[0])
        return int(value) if self.decimals == 0 else value

    def numbers(self, start: int, stop: int) -> FloatArray:
        """The values of a range or of a list of numbers, exact to the last decimal."""
        if self.listed:
            return np.array(self.listed[start:stop], dtype=np.float64)
        exact = self.first + self.step * np.arange(start, stop, dtype=np.float64)
        return np.asarray(np.round(exact, self.decimals) + 0.0)

    @property
    def numeric(self) -> bool:
        """Whether every value is a number."""
        return all(isinstance(v, int | float) and not isinstance(v, bool) for v in self.listed)

    @property
    def least_and_largest(self) -> tuple[float, float]:
        """Of an axis of numbers, in the file's own unit and notation."""
        if self.listed:
            return float(min(self.listed)), float(max(self.listed))
        return self.value(0), self.value(self.count - 1)

    @property
    def ends(self) -> tuple[Any, ...]:
        """The values that have to be checked before a sweep starts."""
        return self.listed or tuple(dict.fromkeys((self.value(0), self.value(self.count - 1))))


_LENGTHS = ("x", "height", "trim", "base", "ears", "row_spacing", "depth", "control_height")
_UNITS = {
    "tilt": "°", "coverage": "°", "splay": "°", "above": "°", "below": "°", "gain_db": "dB",
    "ceiling_db": "dB", "delay_ms": "ms", "behind_ms": "ms", "control_from_hz": "Hz",
    "mass_kg": "kg", "temperature_c": "°C", "humidity_percent": "%",
}  # fmt: skip


def unit_of_key(key: str, unit: Unit) -> str:
    """The unit of the numbers of a key, by its last part; unit: the file's own of lengths."""
    last = key.rsplit(".", 1)[-1]
    return unit if last in _LENGTHS else _UNITS.get(last, "")


def axis_of(key: str, values: object, *, unit: Unit = "m") -> Axis:
    """The axis of (low, high, step), a tuple of three numbers or lengths, or of a list of values.

    unit: the scenario's, which lengths written as text are turned into

    Raises ScenarioError.
    """
    if isinstance(values, tuple):
        if len(values) != 3:
            raise _refused(key, f"a tuple of {len(values)}; {_ALLOWED}")
        found = _range(key, *(_number(key, value, unit) for value in values))
        return replace(found, unit=unit_of_key(key, unit))
    listed = plain(values)
    if not isinstance(listed, list):
        raise _refused(key, f"{found_text(listed)}; {_ALLOWED}")
    if not listed:
        raise _refused(key, f"an empty list; {_ALLOWED}")
    for value in listed:
        if isinstance(value, float) and not math.isfinite(value):
            raise _refused(key, f"{value}; finite numbers")
    numbers = all(isinstance(value, int | float) for value in listed)
    return Axis(
        key=key,
        count=len(listed),
        listed=tuple(listed),
        unit=unit_of_key(key, unit) if numbers else "",
    )


def axes_of(over: Mapping[str, object], *, unit: Unit = "m") -> tuple[Axis, ...]:
    """Every axis, the first varying slowest.  Raises ScenarioError with all faults."""
    if not over:
        raise _refused("", "no axis; at least one key to vary")
    axes: list[Axis] = []
    faults: list[Fault] = []
    for key, values in over.items():
        try:
            axes.append(axis_of(key, values, unit=unit))
        except ScenarioError as error:
            faults += error.faults
    if faults:
        raise ScenarioError(faults)
    return tuple(axes)


def parse_over(texts: Sequence[str], *, unit: Unit = "m") -> dict[str, object]:
    """KEY=LOW:HIGH:STEP and KEY=a,b,c, as a command line has them.  Raises ScenarioError."""
    over: dict[str, object] = {}
    for text in texts:
        key, _ = parse_set(text)
        body = text[text.index(key) + len(key) :].strip().lstrip("=").strip()
        if key in over:
            raise _refused(key, "twice; each key once")
        parts = body.split(":")
        if len(parts) == 3 and all(_like_length(part, unit) for part in parts):
            over[key] = tuple(_scalar(part) for part in parts)
        elif len(parts) == 2 and all(_like_length(part, unit) for part in parts):
            raise _refused(key, f'"{body}" without a step; LOW:HIGH:STEP, such as {body}:1')
        elif body:
            over[key] = [_scalar(part) for part in _split(body)]
        else:
            raise _refused(key, "nothing; KEY=LOW:HIGH:STEP or KEY=a,b,c")
    return over


def _scalar(text: str) -> Any:
    return parse_set(f"key={text.strip()}")[1]


def _like_length(text: str, unit: Unit) -> bool:
    try:
        parse_length_m(text.strip(), unit)
    except ValueError:
        try:
            float(text)
        except ValueError:
            return False
    return True


def _split(text: str) -> list[str]:
    """At commas outside quotes, brackets and braces."""
    parts, depth, quote, begin = [], 0, "", 0
    for at, char in enumerate(text):
        if quote:
            quote = "" if char == quote else quote
        elif char in "\"'":
            quote = char
        elif char in "[{":
            depth += 1
        elif char in "]}":
            depth -= 1
        elif char == "," and depth == 0:
            parts.append(text[begin:at])
            begin = at + 1
    return [*parts, text[begin:]]


def _number(key: str, value: object, unit: Unit) -> float:
    value = plain(value)
    if isinstance(value, str):
        try:
            length_m = parse_length_m(value, unit)
        except ValueError as error:
            raise _refused(key, str(error)) from None
        return length_m if unit == "m" else round(length_m / FOOT_M, _MOST_DECIMALS)
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise _refused(key, f"{found_text(value)}; {_ALLOWED}")
    if not math.isfinite(value):
        raise _refused(key, f"{value}; {_ALLOWED}")
    return float(value)


def _range(key: str, low: float, high: float, step: float) -> Axis:
    if step <= 0.0 or high < low:
        raise _refused(key, f"{low:g} to {high:g} by {step:g}; {_ALLOWED}")
    steps = (high - low) / step
    count = math.floor(steps + 1e-9 * max(1.0, steps)) + 1
    if count > MOST_VALUES:
        raise _refused(key, f"{count:g} values; at most {MOST_VALUES:,}")
    decimals = min(_MOST_DECIMALS, max(_decimals(low), _decimals(step)))
    return Axis(key=key, count=count, first=low, step=step, decimals=decimals)


def _decimals(number: float) -> int:
    exponent = Decimal(repr(number)).normalize().as_tuple().exponent
    return max(0, -exponent) if isinstance(exponent, int) else _MOST_DECIMALS


def _refused(key: str, message: str) -> ScenarioError:
    return ScenarioError([Fault("--over", 1, 1, key, message)])
