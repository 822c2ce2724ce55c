"""The file that is edited: written whole, comments kept, and never over what somebody else wrote.

A journal beside the file holds what is not saved yet; it is written within a second of each change,
and goes when the file is saved.
"""

import json
import os
import tempfile
import threading
from contextlib import suppress
from hashlib import sha256
from pathlib import Path
from typing import Any

from ..base.errors import AimingError
from ..base.regular_file import open_ordinary
from ..files.toml_edit import edited_text
from ..scenario.address import copied
from ..scenario.read import load
from ..scenario.scenario import Scenario

JOURNAL_S = 0.8
"""A crash loses at most what was done in this time and the writing's own."""
LARGEST_BYTES = 8 * 1024 * 1024
_MOST_BESIDE = 1000


class KeepingError(AimingError):
    """The file cannot be written; the text says why."""


class Keeping:
    """Where the house is kept: a file, and what it held when it was last read or written.

    path: None never; a house that has no file yet gets the first free name in the folder
    """

    def __init__(self, path: Path, *, text: str, document: dict[str, Any], exists: bool) -> None:
        self.path, self.text = path, text
        self._document = copied(document)
        self._exists = exists
        self._seen = sha256(text.encode()).digest()

    @property
    def shown(self) -> str:
        """The file's name as the page shows it."""
        return self.path.name

    def differs(self, document: dict[str, Any]) -> bool:
        """Whether there is something to save."""
        return not self._exists or document != self._document

    def changed_outside(self) -> bool:
        """Whether the file is no longer what was read or written here."""
        try:
            raw = _bytes(self.path)
        except FileNotFoundError:
            return self._exists
        except OSError:
            return True
        return not self._exists or sha256(_plain(raw)).digest() != self._seen

    def theirs(self) -> Scenario:
        """The file as it is now.  Raises ScenarioError."""
        scenario = load(self.path)
        self._took(scenario.text, scenario.document)
        return scenario

    def save(self, scenario: Scenario, *, how: str) -> dict[str, Any]:
        """Write it; where the file was changed outside, only "mine" or "beside" write."""
        text = edited_text(self.text, scenario.document)
        if how == "beside":
            path = _beside(self.path)
            _write_new(path, text)
            self.path = path
            self._took(text, scenario.document)
            return {"saved": path.name, "file": path.name}
        if self.changed_outside() and how != "mine":
            return {"saved": None, "outside": True, "file": self.shown}
        _write_over(self.path, text)
        self._took(text, scenario.document)
        return {"saved": self.shown, "file": self.shown}

    def _took(self, text: str, document: dict[str, Any]) -> None:
        self.text, self._document, self._exists = text, copied(document), True
        self._seen = sha256(text.encode()).digest()


def _bytes(path: Path) -> bytes:
    with open_ordinary(path) as stream:
        return stream.read(LARGEST_BYTES)


def _plain(raw: bytes) -> bytes:
    return raw.removeprefix(b"\xef\xbb\xbf")


def _beside(path: Path) -> Path:
    """The first free name like this one."""
    for number in range(2, _MOST_BESIDE):
        other = path.with_name(f"{path.stem}-{number}{path.suffix}")
        if not other.exists():
            return other
    raise KeepingError(f"{path.name}: no free name beside it")


def free_name(folder: Path, stem: str) -> Path:
    """The first name in a folder that is not taken."""
    path = folder / f"{stem}.toml"
    return _beside(path) if path.exists() else path


def _write_new(path: Path, text: str) -> None:
    try:
        with path.open("x", encoding="utf-8", newline="") as stream:
            stream.write(text)
    except OSError as error:
        raise KeepingError(f"{path.name}: cannot be written ({error.strerror})") from None


def _write_over(path: Path, text: str) -> None:
    """Whole or not at all: a new file takes the old one's place, its permissions kept."""
    target = Path(os.path.realpath(path))
    try:
        handle, name = tempfile.mkstemp(dir=target.parent, prefix=".aiming-", suffix=".toml")
        try:
            with os.fdopen(handle, "w", encoding="utf-8", newline="") as stream:
                stream.write(text)
                stream.flush()
                os.fsync(stream.fileno())
            mode = target.stat().st_mode & 0o7777 if target.exists() else 0o666 & ~_umask()
            Path(name).chmod(mode)
            Path(name).replace(target)
        except BaseException:
            Path(name).unlink(missing_ok=True)
            raise
    except OSError as error:
        raise KeepingError(f"{path.name}: cannot be written ({error.strerror})") from None


def _umask() -> int:
    mask = os.umask(0o077)
    os.umask(mask)
    return mask


class Journal:
    """What is not saved, in a hidden file beside the house's own.

    Where it cannot be written nothing else suffers: it is a help, not the file.
    """

    def __init__(self, keeping: Keeping) -> None:
        self._keeping = keeping
        self._lock = threading.Lock()
        self._waiting: dict[str, Any] | None = None
        self._timer: threading.Timer | None = None
        self._earlier = self._read()

    @property
    def path(self) -> Path:
        """A hidden file beside the house's own."""
        own = self._keeping.path
        return own.with_name(f".{own.name}.unsaved")

    def _read(self) -> dict[str, Any] | None:
        try:
            held = json.loads(_bytes(self.path))
        except (OSError, ValueError, RecursionError):
            return None
        document = held.get("document") if isinstance(held, dict) else None
        return document if isinstance(document, dict) else None

    def found(self) -> dict[str, Any] | None:
        """The document that an earlier run left, where it differs from the file; until answered,
        whatever is changed meanwhile."""
        if self._earlier is None or not self._keeping.differs(self._earlier):
            return None
        return self._earlier

    def answered(self) -> None:
        """What an earlier run left was taken or let go."""
        self._earlier = None

    def later(self, document: dict[str, Any]) -> None:
        """Keep this within JOURNAL_S."""
        with self._lock:
            self._waiting = document
            if self._timer is None:
                self._timer = threading.Timer(JOURNAL_S, self._write)
                self._timer.daemon = True
                self._timer.start()

    def _write(self) -> None:
        with self._lock:
            document, self._waiting, self._timer = self._waiting, None, None
            if document is None:
                return
            with suppress(OSError, KeepingError, TypeError, ValueError):
                _write_over(self.path, json.dumps({"document": document}))

    def done(self, path: Path) -> None:
        """Saved: nothing is left to keep, and what was written under this path goes."""
        with self._lock:
            self._waiting = None
            if self._timer is not None:
                self._timer.cancel()
                self._timer = None
            with suppress(OSError):
                path.unlink(missing_ok=True)

    def stop(self) -> None:
        """Write what waits, at once."""
        with self._lock:
            if self._timer is not None:
                self._timer.cancel()
        self._write()
