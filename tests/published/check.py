"""One published value beside what the tool computes."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

Status = Literal["V", "V2", "C", "M"]

MEANING: dict[Status, str] = {
    "V": "read in the published text, or recomputed by at least two independent codes",
    "V2": "read in a secondary text only",
    "C": "computed from the closed form, by a code other than the tool's",
    "M": "from memory",
}


@dataclass(frozen=True)
class Check:
    """published must be met by compute() within tolerance, all in unit.

    A tolerance is mostly half the last printed digit; it always rejects zero and a flipped sign.
    """

    topic: str
    quantity: str
    source: str
    status: Status
    published: float
    tolerance: float
    unit: str
    compute: Callable[[], float]

    @property
    def difference(self) -> float:
        return self.compute() - self.published

    @property
    def holds(self) -> bool:
        return abs(self.difference) <= self.tolerance * (1.0 + 1e-9)
