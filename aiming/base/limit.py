"""A limit that figures are held against: its value, what it is for, and whose it is."""

from dataclasses import dataclass
from typing import Literal

Kind = Literal["published rule", "common practice", "ours"]


@dataclass(frozen=True)
class Limit:
    """One threshold.

    code: its key in the scenario's [cautions] table, where `span` lets that move it
    kind, source: what kind of rule it is, and whose
    span: least and greatest value that a scenario may give; None where it may not move it
    """

    code: str
    value: float
    unit: str
    text: str
    kind: Kind
    source: str
    span: tuple[float, float] | None = None

    @property
    def basis(self) -> str:
        """What kind of rule it is, and whose."""
        plain = self.source.startswith(("our own", self.kind))
        return self.source if plain else f"{self.kind}: {self.source}"

    @property
    def mark(self) -> str:
        """The unit as a figure of the answer has it: "deg above horizontal" is "°"."""
        return "°" if self.unit.startswith("deg") else self.unit
