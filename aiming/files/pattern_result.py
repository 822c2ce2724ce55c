"""What reading a pattern file gives, and how a fault in one is told."""

from dataclasses import dataclass
from typing import Literal, NoReturn

from ..base.errors import Fault, ScenarioError
from ..speaker.pattern import Pattern
from ..speaker.pattern_figures import Sphere


@dataclass(frozen=True)
class Doubt:
    """Something in the data that may be wrong.

    code: "hole" (nothing measured), "gap" (angles far apart), "step" (more than 10 dB between
        neighbouring angles), "identical" (two bands alike)
    band_hz: nominal mid-bands that it concerns; empty where it concerns all
    angle_deg: (low, high) of the place, or None where it is everywhere
    """

    code: Literal["hole", "gap", "step", "identical"]
    band_hz: tuple[float, ...]
    angle_deg: tuple[float, float] | None
    text: str


@dataclass(frozen=True)
class Resolution:
    """How finely a file was measured.

    angles: directions in the vertical plane; typical_step_deg the median between neighbours,
        widest_step_deg the largest
    frequencies: columns of a table, lines of a spectrum
    directions: over the whole file
    """

    angles: int
    typical_step_deg: float
    widest_step_deg: float
    low_deg: float
    high_deg: float
    frequencies: int
    lowest_hz: float
    highest_hz: float
    directions: int


@dataclass(frozen=True, eq=False)
class PatternFile:
    """A pattern read from a file: 0 dB on axis in every band.

    notes: what reading had to do or leave out, for people
    doubts: data that may be wrong, as data
    sphere: every direction that was measured, where the file has more than the vertical plane
    """

    pattern: Pattern
    notes: tuple[str, ...]
    doubts: tuple[Doubt, ...]
    resolution: Resolution
    sphere: Sphere | None = None


@dataclass(frozen=True)
class Place:
    """The file that is being read, as the person named it, and the line that is looked at.

    A binary file has only its first line.
    """

    display: str
    line: int = 1

    def fault(self, key: str, message: str) -> Fault:
        """A fault at this line."""
        return Fault(file=self.display, line=self.line, column=1, key=key, message=message)

    def refuse(self, key: str, message: str) -> NoReturn:
        """Raise ScenarioError with one fault."""
        raise ScenarioError([self.fault(key, message)])
