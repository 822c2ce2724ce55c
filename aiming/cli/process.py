"""What the command owes the system it runs in: its streams, and the signals that ask it to end."""

import errno
import os
import signal
import sys
from types import FrameType

INTERRUPTED, PIPE_CLOSED, NOT_TOLD = 130, 141, 2
"""As a shell reports an end by SIGINT or SIGPIPE; an answer that nobody could be told."""
_STREAM_FULL = {errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EIO}


class Ended(KeyboardInterrupt):
    """Somebody other than the keyboard asks to end; everything then ends as on Ctrl-C."""

    def __init__(self, number: int) -> None:
        super().__init__()
        self.code = 128 + number


def end_cleanly() -> None:
    """SIGTERM and a terminal that is closed give every temporary file the time to go."""
    for name in ("SIGTERM", "SIGHUP"):
        number = getattr(signal, name, None)
        # What was started with the signal ignored (nohup) keeps ignoring it.
        if number is not None and signal.getsignal(number) is signal.SIG_DFL:
            signal.signal(number, _end)


def code_of(stopped: KeyboardInterrupt) -> int:
    """The exit code of a command that was stopped."""
    return stopped.code if isinstance(stopped, Ended) else INTERRUPTED


def fill_streams() -> None:
    """Streams that were closed read and write nothing; no other file may take their numbers."""
    for number, name, mode in ((0, "stdin", "r"), (1, "stdout", "w"), (2, "stderr", "w")):
        if getattr(sys, name) is None:
            try:
                os.fstat(number)
            except OSError:
                handle = os.open(os.devnull, os.O_RDWR)
                if handle != number:
                    os.dup2(handle, number)
                    os.close(handle)
            setattr(sys, name, os.fdopen(number, mode, encoding="utf-8", closefd=False))


def is_of_a_stream(error: OSError) -> bool:
    """Whether a standard stream took no more; files of our own have errors of their own."""
    return error.filename is None and error.errno in _STREAM_FULL


def pipe_was_closed() -> bool:
    """Whether the library for command lines met a closed pipe outside of any command."""
    return type(sys.stdout).__name__ == "PacifyFlushWrapper"


def _end(number: int, _frame: FrameType | None) -> None:
    raise Ended(number)
