"""Commands in processes of their own, kept from filling the memory and from waiting for ever.

One helper process has everything imported and forks for each command, so that each takes as long
as its own work.
"""

import ctypes
import gc
import importlib
import json
import os
import resource
import signal
import struct
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import Any

LIMIT_BYTES = 3_000_000_000
"""Of address space; beyond it Python raises MemoryError, which no command may."""
LONGEST_S = 30.0
"""Of processor time, so that a busy machine finds no fault of its own."""
PATIENCE_S = 300.0
"""Of the clock, before something is taken to hang."""
BROKEN = "broken pipe"
IMPORTED = (
    "aiming.cli.main",
    "aiming.site.run",
    "aiming.report.json_text",
    "aiming.files.drawing",
    "aiming.scenario.pattern_report",
    "aiming.scenario.read",
    "aiming.sweep.run",
    "ezdxf",
    "h5py",
    "matplotlib.backends.backend_agg",
    "matplotlib.backends.backend_pdf",
    "matplotlib.backends.backend_svg",
    "matplotlib.figure",
    "scipy.optimize",
    "scipy.spatial",
)


@dataclass(frozen=True)
class Ended:
    """How a command ended; code is minus the signal where one ended it."""

    code: int
    out: str
    err: str
    peak_bytes: int
    in_time: bool

    @property
    def faults(self) -> list[str]:
        """The lines on standard error."""
        return self.err.splitlines()


class Commands:
    """The helper process, for as long as its `with` lasts."""

    def __enter__(self) -> "Commands":
        self._helper = subprocess.Popen(
            [sys.executable, __file__],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            env={**os.environ, "OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"},
        )
        return self

    def __exit__(
        self,
        _kind: type[BaseException] | None,
        _error: BaseException | None,
        _trace: TracebackType | None,
    ) -> None:
        self._helper.communicate()

    def run(
        self,
        folder: Path,
        *arguments: str | Path,
        stdin: Path | None = None,
        stdout: str | None = None,
        most_bytes: int | None = None,
        signals: tuple[int, str] | None = None,
    ) -> Ended:
        """`aiming` with these arguments, in this folder.

        stdout: a device instead, or BROKEN for a pipe that nobody reads
        most_bytes: no file may become larger, as on a full disk
        signals: a signal's number and the function at whose first call it comes, "module.name"
        """
        asked = {
            "folder": str(folder),
            "arguments": [str(one) for one in arguments],
            "stdin": os.devnull if stdin is None else str(stdin),
            "stdout": stdout,
            "most_bytes": most_bytes,
            "signals": signals,
        }
        assert self._helper.stdin is not None and self._helper.stdout is not None
        self._helper.stdin.write(json.dumps(asked).encode() + b"\n")
        self._helper.stdin.flush()
        return Ended(**json.loads(self._helper.stdout.readline()))


def _serve() -> None:
    for name in IMPORTED:
        importlib.import_module(name)
    gc.freeze()  # a collection would copy every page that a fork shares
    replies = os.fdopen(os.dup(1), "w")
    for line in sys.stdin.buffer:
        replies.write(json.dumps(_ended(json.loads(line))) + "\n")
        replies.flush()


def _ended(asked: dict[str, Any]) -> dict[str, Any]:
    """Fork, wait, and tell."""
    texts = [os.memfd_create(name) for name in ("out", "err")]
    child = os.fork()
    if child == 0:
        _work(asked, *texts)
    until = time.monotonic() + PATIENCE_S
    while True:
        pid, status, used = os.wait4(child, os.WNOHANG)
        if pid:
            break
        if time.monotonic() > until:
            os.kill(child, signal.SIGKILL)
        time.sleep(0.002)
    in_time = time.monotonic() <= until and used.ru_utime + used.ru_stime <= LONGEST_S
    told = []
    for text in texts:
        os.lseek(text, 0, os.SEEK_SET)
        with os.fdopen(text, "rb") as stream:
            told.append(stream.read().decode("utf-8", "replace"))
    return {
        "code": os.waitstatus_to_exitcode(status),
        "out": told[0],
        "err": told[1],
        "peak_bytes": used.ru_maxrss * 1024,
        "in_time": in_time,
    }


def _work(asked: dict[str, Any], out: int, err: int) -> None:
    """The child: one command, and the end of this process."""
    from aiming.cli.main import main

    try:
        usual_signals()
        _no_privileges()
        if asked["stdout"] == BROKEN:
            reader, out = os.pipe()
            os.close(reader)
        elif asked["stdout"]:
            out = os.open(asked["stdout"], os.O_WRONLY)
        given = os.open(asked["stdin"], os.O_RDONLY | os.O_NONBLOCK)
        os.set_blocking(given, True)
        for number, handle in enumerate((given, out, err)):
            os.dup2(handle, number)
        sys.stdin = os.fdopen(0, closefd=False)
        os.chdir(asked["folder"])
        resource.setrlimit(resource.RLIMIT_AS, (LIMIT_BYTES, LIMIT_BYTES))
        if asked["most_bytes"]:
            resource.setrlimit(resource.RLIMIT_FSIZE, (asked["most_bytes"],) * 2)
        if asked["signals"]:
            _signal_at(*asked["signals"])
        sys.argv = ["aiming", *asked["arguments"]]
        main()
    except BaseException:
        import traceback

        traceback.print_exc()
    sys.stderr.flush()
    os._exit(1)


def usual_signals() -> None:
    """Signals as a person's shell leaves them, however the tests themselves were started."""
    signal.signal(signal.SIGINT, signal.default_int_handler)
    for number in (signal.SIGTERM, signal.SIGHUP):
        signal.signal(number, signal.SIG_DFL)


def _signal_at(number: int, name: str) -> None:
    """The signal comes when this function is called for the first time, before it does anything."""
    module, _, attribute = name.rpartition(".")
    home = importlib.import_module(module)
    true = getattr(home, attribute)

    def called(*arguments: Any, **options: Any) -> Any:
        setattr(home, attribute, true)
        os.kill(os.getpid(), number)
        return true(*arguments, **options)

    setattr(home, attribute, called)


def _no_privileges() -> None:
    """The administrator may read and write all; a test of permissions needs somebody else."""
    if os.geteuid() == 0:
        version_3, nothing = struct.pack("=Ii", 0x20080522, 0), bytes(24)
        if ctypes.CDLL(None, use_errno=True).capset(version_3, nothing) != 0:
            raise OSError(ctypes.get_errno(), "capset")


if __name__ == "__main__":
    _serve()
