"""Surveys: a floor line from a list of points, or from laser shots."""

from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from ..arrays import FloatArray


@dataclass(frozen=True)
class SurveyNote:
    """Something a person should know about a survey; becomes a caution of the answer.

    value, limit: in unit; limit is None where nothing is compared
    """

    code: str
    severity: Literal["caution", "note"]
    text: str
    value: float
    unit: str
    limit: float | None = None


@dataclass(frozen=True, eq=False)
class SurveyFloor:
    """A floor line that was measured on the spot.

    points_m: (n, 2) x, z; x never decreases
    """

    points_m: FloatArray
    notes: tuple[SurveyNote, ...] = ()


def floor_from_survey(
    path: Path, *, unit: str = "m", display: str | None = None, line: str | None = None
) -> SurveyFloor:
    """One floor line of a survey file; line names it where the file holds several."""
    raise NotImplementedError
