"""One run at a time in one folder, to its end, without leaving anything behind."""

import json
import os
import signal
import stat
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from itertools import count
from pathlib import Path

from ..base.errors import AimingError

LONGEST_WAIT_S = 30.0
_AGAIN_S = 0.05


class BusyError(AimingError):
    """Another run is writing into the same folder and does not come to an end."""


@contextmanager
def locked(folder: Path, *, longest_wait_s: float = LONGEST_WAIT_S) -> Iterator[None]:
    """Hold the folder for this run; wait while another run holds it.

    The hold ends with the process, however that ends.  Systems without such holds (and network
    folders that refuse them) go without.  Raises BusyError after the longest wait.
    """
    try:
        import fcntl
    except ImportError:
        yield
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        until = time.monotonic() + longest_wait_s
        while True:
            try:
                fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
                break
            except BlockingIOError:
                if time.monotonic() > until:
                    raise BusyError(
                        f"{folder}: another run is writing into this folder; try again, "
                        "or name another folder"
                    ) from None
                time.sleep(_AGAIN_S)
            except OSError:
                break
        yield
    finally:
        os.close(handle)


@contextmanager
def undisturbed() -> Iterator[None]:
    """Hold back what asks this run to end until a few files are in place, all old or all new.

    Systems that cannot hold signals back go without.
    """
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    asked = {signal.SIGINT, signal.SIGTERM, signal.SIGHUP}
    before = signal.pthread_sigmask(signal.SIG_BLOCK, asked)
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


# Whose an output folder is: that of an earlier answer of the same scenario, or somebody else's.

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


# Files written whole or not at all, singly or as a folder.
#
# A folder of answers carries a short list of what was written there and for which scenario.  So a
# later run of the same scenario may renew its own files, and nobody else's are touched.

_NUMBERS = count()


def write_folder(
    folder: str | Path,
    files: Mapping[str, bytes],
    *,
    scenario: str,
    title: str,
    replace: bool = False,
) -> None:
    """Write files (plain names and their bytes) into a folder, all of them or none.

    scenario, title: whose answer this is (the scenario file's own name, and its title)
    replace: also into a folder that holds something else; what is not ours stays there

    Files of an earlier answer that this one does not renew are removed.  Raises OutputError.
    """
    target = Path(folder)
    made = _made(target)
    try:
        with locked(target), undisturbed():
            _write_all(target, files, Path(scenario).name, title, replace=replace)
    except BaseException as error:
        for one in made:
            with suppress(OSError):
                one.rmdir()
        if isinstance(error, OSError):
            raise cannot_write(target, error) from error
        raise


def check_file(path: str | Path, *, replace: bool = False) -> None:
    """Refuse beforehand what write_file would refuse.  Raises OutputError."""
    target = Path(path)
    try:
        _ordinary_or_absent(target)
        if not replace and os.path.lexists(target):
            raise OutputError(f"{target}: exists already, and was left as it is")
    except OSError as error:
        raise cannot_write(target, error) from error


def write_file(path: str | Path, content: bytes, *, replace: bool = False) -> None:
    """Write one file whole or not at all; an existing one only where replace says so.

    Raises OutputError.
    """
    target = Path(path)
    check_file(target, replace=replace)
    try:
        with undisturbed():
            kept = _kept(target.parent, content)
            try:
                if replace:
                    kept.replace(target)
                else:
                    _put_new(kept, target)
            finally:
                kept.unlink(missing_ok=True)
    except OSError as error:
        raise cannot_write(target, error) from error


def _write_all(
    folder: Path, files: Mapping[str, bytes], scenario: str, title: str, *, replace: bool
) -> None:
    before = written_before(folder)
    own = own_names(before)
    for entry in [one for one in os.listdir(folder) if one.startswith(TEMPORARY)]:
        # Left by a run that was killed; under the lock nobody else is writing.
        (folder / entry).unlink(missing_ok=True)
    admit(folder, own, before, scenario, title, replace=replace)
    for name in files:
        _ordinary_or_absent(folder / name)
    kept: dict[str, Path] = {}
    try:
        for name, content in files.items():
            kept[name] = _kept(folder, content)
        # Until all is in place the list names old and new, so that a run cut short here leaves
        # nothing that a later one takes for somebody else's.
        _keep_list(folder, Written(scenario, title, own | set(files)))
        for name, temporary in kept.items():
            temporary.replace(folder / name)
        for name in own - set(files) - {LIST_NAME}:
            (folder / name).unlink(missing_ok=True)
        _keep_list(folder, Written(scenario, title, frozenset(files)))
    finally:
        for temporary in kept.values():
            temporary.unlink(missing_ok=True)


def _keep_list(folder: Path, written: Written) -> None:
    text = json.dumps(
        {
            "scenario": written.scenario,
            "title": written.title,
            "files": sorted(written.files - {LIST_NAME}),
        },
        ensure_ascii=False,
        indent=1,
    )
    _kept(folder, text.encode() + b"\n").replace(folder / LIST_NAME)


def _kept(folder: Path, content: bytes) -> Path:
    """A finished temporary file in this folder, on the disk."""
    temporary = folder / f"{TEMPORARY}{os.getpid()}-{next(_NUMBERS)}"
    handle = os.open(temporary, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o666)
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(content)
            stream.flush()
            os.fsync(stream.fileno())
    except BaseException:
        temporary.unlink(missing_ok=True)
        raise
    return temporary


def _put_new(temporary: Path, target: Path) -> None:
    """Give a finished file its name, but never over another one."""
    try:
        os.link(temporary, target)
    except FileExistsError:
        raise OutputError(f"{target}: exists already, and was left as it is") from None
    except OSError:
        # A file system without links (memory sticks): the check above has to do.
        temporary.replace(target)


def _ordinary_or_absent(path: Path) -> None:
    if os.path.lexists(path) and not stat.S_ISREG(path.lstat().st_mode):
        raise OutputError(f"{path}: a link, folder or device; an ordinary file, or a new name")


def _made(folder: Path) -> list[Path]:
    """Make the folder and what leads to it; what was made, innermost first."""
    made: list[Path] = []
    missing = []
    here = folder
    while not os.path.lexists(here) and here != here.parent:
        missing.append(here)
        here = here.parent
    try:
        for one in reversed(missing):
            with suppress(FileExistsError):
                one.mkdir()
                made.insert(0, one)
        if not folder.is_dir():
            raise no_folder(folder)
    except OSError as error:
        for one in made:
            with suppress(OSError):
                one.rmdir()
        raise cannot_write(folder, error) from error
    return made
