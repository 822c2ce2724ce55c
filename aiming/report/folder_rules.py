"""Whose an output folder is: that of an earlier answer of the same scenario, or somebody else's."""

import json
import os
import stat
from dataclasses import dataclass
from pathlib import Path

from ..errors import AimingError

LIST_NAME = "written.json"
TEMPORARY = ".aiming-"


class OutputError(AimingError):
    """What was to be written cannot be."""


@dataclass(frozen=True)
class Written:
    """What an earlier run left in a folder: its scenario, and the names of its files."""

    scenario: str
    title: str
    files: frozenset[str]


def check_folder(folder: str | Path, *, scenario: str, title: str, replace: bool = False) -> None:
    """Refuse beforehand what write_folder would refuse; nothing is touched.

    Raises OutputError.
    """
    target = Path(folder)
    if not os.path.lexists(target):
        return
    if not target.is_dir():
        raise no_folder(target)
    try:
        before = written_before(target)
        admit(target, own_names(before), before, Path(scenario).name, title, replace=replace)
    except OSError as error:
        raise cannot_write(target, error) from error


def admit(
    folder: Path,
    own: frozenset[str],
    before: Written | None,
    scenario: str,
    title: str,
    *,
    replace: bool,
) -> None:
    """Refuse a folder that holds something else than an earlier answer of this scenario."""
    if replace:
        return
    others = [
        entry
        for entry in sorted(os.listdir(folder))
        if entry not in own and not entry.startswith(TEMPORARY)
    ]
    if others:
        shown = ", ".join(others[:3]) + (", …" if len(others) > 3 else "")
        raise OutputError(
            f"{folder}: holds other files ({shown}); name another folder, or pass --replace"
        )
    if before and (before.scenario, before.title) != (scenario, title):
        raise OutputError(
            f'{folder}: holds the answer of another scenario ({before.scenario}, "{before.title}");'
            " name another folder, or pass --replace"
        )


def own_names(before: Written | None) -> frozenset[str]:
    """Names that a run may renew."""
    return (before.files if before else frozenset()) | {LIST_NAME}


def written_before(folder: Path) -> Written | None:
    """The list in this folder; None where there is none that can be believed."""
    path = folder / LIST_NAME
    try:
        if not stat.S_ISREG(path.lstat().st_mode):
            return None
        found = json.loads(path.read_text(encoding="utf-8"))
        files = frozenset(str(name) for name in found["files"] if _plain_name(str(name)))
        return Written(str(found["scenario"]), str(found["title"]), files)
    except (OSError, ValueError, KeyError, TypeError):
        return None


def _plain_name(name: str) -> bool:
    return name not in ("", ".", "..") and Path(name).name == name and "\\" not in name


def no_folder(path: Path) -> OutputError:
    return OutputError(f"{path}: not a folder; --out needs the name of a folder")


def cannot_write(path: Path, error: OSError) -> OutputError:
    reason = error.strerror or str(error)
    return OutputError(f"{path}: cannot be written ({reason})")
