"""One run at a time in one folder, to its end, without leaving anything behind."""

import hashlib
import json
import os
import re
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
TEMPORARY = re.compile(r"\.aiming-(\d+)-\d+")
"""Name of a file that is not finished: the process that writes it, and a number."""
OURS = re.compile(
    r"(?:aim|answer|calculation|checks|choose|compare|job|loads|onsite|page|pattern|section|summary"
    r"|what_if|hang_sheet(?:_\d+_\w+)?)\.(?:csv|html|json|parquet|pdf|png|svg|txt)",
    re.ASCII,
)
"""Every name that a folder of answers is written with; no other is ever deleted."""
STALE_S = 60.0
"""A file that is not finished after this, and whose process is gone, was left by a kill."""


class OutputError(AimingError):
    """What was to be written cannot be."""


@dataclass(frozen=True)
class Written:
    """What an earlier run left in a folder: its scenario, and its files by name.

    hashes: SHA-256 of what each file may hold: one, or two where a run was cut short
    """

    scenario: str
    title: str
    hashes: Mapping[str, tuple[str, ...]]

    def unchanged(self, path: Path) -> bool:
        """Whether a file is as it was written."""
        return _sha256(path.read_bytes()) in self.hashes.get(path.name, ())


def _sha256(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


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
        if entry not in own and not TEMPORARY.fullmatch(entry)
    ]
    if others:
        raise OutputError(
            f"{folder}: holds other files ({_some(others)}); name another folder, or pass --replace"
        )
    changed = [
        name
        for name in sorted(own - {LIST_NAME})
        if before and (folder / name).is_file() and not before.unchanged(folder / name)
    ]
    if changed:
        raise OutputError(
            f"{folder}: somebody has changed {_some(changed)} since; name another folder, or pass "
            "--replace to lose that"
        )
    if before and (before.scenario, before.title) != (scenario, title):
        raise OutputError(
            f'{folder}: holds the answer of another scenario ({before.scenario}, "{before.title}");'
            " name another folder, or pass --replace"
        )


def _some(names: list[str]) -> str:
    return ", ".join(names[:3]) + (", …" if len(names) > 3 else "")


def own_names(before: Written | None) -> frozenset[str]:
    """Names that a run may renew."""
    return frozenset(before.hashes if before else ()) | {LIST_NAME}


def written_before(folder: Path) -> Written | None:
    """The list in this folder; None where there is none that can be believed."""
    path = folder / LIST_NAME
    try:
        if not stat.S_ISREG(path.lstat().st_mode):
            return None
        found = json.loads(path.read_text(encoding="utf-8"))
        hashes = found.get("sha256", {})
        files = {
            str(name): tuple(map(str, hashes.get(name, ())))
            for name in found["files"]
            if OURS.fullmatch(str(name))
        }
        return Written(str(found["scenario"]), str(found["title"]), files)
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return None


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
        _sweep(target.parent)
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
    for entry in [one for one in os.listdir(folder) if TEMPORARY.fullmatch(one)]:
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
        new = {name: (_sha256(content),) for name, content in files.items()}
        old = before.hashes if before else {}
        both = {name: (*old.get(name, ()), *new.get(name, ())) for name in {*old, *new}}
        _keep_list(folder, Written(scenario, title, both))
        for name, temporary in kept.items():
            temporary.replace(folder / name)
        for name in own - set(files) - {LIST_NAME}:
            if before and (folder / name).is_file() and before.unchanged(folder / name):
                (folder / name).unlink(missing_ok=True)
        _keep_list(folder, Written(scenario, title, new))
    finally:
        for temporary in kept.values():
            temporary.unlink(missing_ok=True)


def _sweep(folder: Path) -> None:
    """Remove what a kill has left half written; what a running process writes stays."""
    for entry in os.listdir(folder):
        made_by = TEMPORARY.fullmatch(entry)
        if made_by is None or _running(int(made_by[1])):
            continue
        with suppress(OSError):
            if time.time() - (folder / entry).lstat().st_mtime > STALE_S:
                (folder / entry).unlink()


def _running(process: int) -> bool:
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except (OSError, OverflowError):
        return True
    return True


def _keep_list(folder: Path, written: Written) -> None:
    text = json.dumps(
        {
            "scenario": written.scenario,
            "title": written.title,
            "files": sorted(written.hashes),
            "sha256": {name: written.hashes[name] for name in sorted(written.hashes)},
        },
        ensure_ascii=False,
        indent=1,
    )
    _kept(folder, text.encode() + b"\n").replace(folder / LIST_NAME)


def _kept(folder: Path, content: bytes) -> Path:
    """A finished temporary file in this folder, on the disk."""
    temporary = folder / f".aiming-{os.getpid()}-{next(_NUMBERS)}"
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
