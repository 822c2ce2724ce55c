"""One run at a time in one folder, to its end, without leaving anything behind."""

import os
import signal
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from ..errors import AimingError

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
