"""What building collects on its way besides the things built: faults and notes."""

import os
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path as FilePath
from typing import TYPE_CHECKING

from ..base.errors import Fault, MissingExtraError, ScenarioError, found_text
from ..files.toml_places import Path
from ..files.toml_text import like_named
from .rules.raw import Problem

if TYPE_CHECKING:
    from ..files.survey import SurveyNote


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
    def reading(
        self, path: Path, name: str, *, keys: Mapping[str, Path] | None = None
    ) -> Iterator[FilePath]:
        """The path of a file that the scenario names at a key; its faults are collected.

        keys: where the scenario says what the reader calls by this key; such a fault, like a file
            that is not there, stands in the scenario, any other in the file itself.
        """
        file = self.folder / name
        places = keys or {}
        try:
            if not os.path.isfile(file):
                allowed = like_named(file) or "a file, its path relative to the scenario's folder"
                found = "no ordinary file" if os.path.exists(file) else "no file"
                self.problems.append((path, f"{found} {found_text(name)}; {allowed}"))
            yield file
        except ScenarioError as error:
            if not os.path.isfile(file):
                return
            for fault in error.faults:
                if fault.key in places:
                    self.problems.append((places[fault.key], f"{name}: {fault.message}"))
                else:  # told by a path that can be opened from where the person stands
                    here = str(file) if fault.file == name else fault.file
                    self.faults.append(replace(fault, file=here))
        except MissingExtraError as error:
            self.problems.append((path, str(error)))
