"""What building collects on its way besides the things built: faults and notes."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path as FilePath
from typing import TYPE_CHECKING

from ..errors import Fault, MissingExtraError, ScenarioError
from .places import Path
from .rules.raw import Problem

if TYPE_CHECKING:
    from .survey_shots import SurveyNote


@dataclass
class Gathered:
    """Faults at keys of the scenario, faults of other files, and notes.

    folder: what file names are relative to
    """

    folder: FilePath
    problems: list[Problem] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    survey_notes: "list[SurveyNote]" = field(default_factory=list)

    @property
    def clean(self) -> bool:
        return not self.problems and not self.faults

    @contextmanager
    def reading(self, path: Path, name: str) -> Iterator[FilePath]:
        """The path of a file that the scenario names at a key; its faults are collected.

        A fault of the whole file stands at the key that names it.
        """
        try:
            yield self.folder / name
        except ScenarioError as error:
            self.faults.extend(error.faults)
        except MissingExtraError as error:
            self.problems.append((path, str(error)))
