"""Worker processes, and chunks sent to any executor and taken back in order."""

import multiprocessing
import os
import signal
import sys
import threading
import time
import warnings
from collections import deque
from collections.abc import Generator, Iterator
from concurrent.futures import Executor, Future, ProcessPoolExecutor
from contextlib import contextmanager

from ..base.arrays import FloatArray
from .candidates import Work, run_chunk

_WATCH_S = 0.5
_AHEAD = 2


def core_count() -> int:
    """Cores that this process may use."""
    if sys.platform == "linux":
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


@contextmanager
def own_workers(count: int) -> Iterator[Executor]:
    """A pool of worker processes that ends with this process, however that ends."""
    # Forked workers need no guard in a script's main module; elsewhere forking is not dependable.
    method = "fork" if sys.platform == "linux" else "spawn"
    pool = ProcessPoolExecutor(
        count,
        mp_context=multiprocessing.get_context(method),
        initializer=_begin,
        initargs=(os.getpid(),),
    )
    try:
        with warnings.catch_warnings():
            # Python warns when a process with threads forks.  Workers compute chunks and nothing
            # else, so a lock that some other thread held is of no use to them.
            warnings.filterwarnings("ignore", category=DeprecationWarning, message=".*fork.*")
            for waiting in [pool.submit(_ready) for _ in range(count)]:
                waiting.result()
        yield pool
    except BaseException:
        pool.shutdown(wait=False, cancel_futures=True)
        raise
    pool.shutdown()


def _begin(parent: int) -> None:
    """Leave Ctrl-C to the parent, and end when it has ended."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    for name in ("SIGTERM", "SIGHUP"):
        if hasattr(signal, name):  # without the parent's own way of ending
            signal.signal(getattr(signal, name), signal.SIG_DFL)

    def watch() -> None:
        while os.getppid() == parent:
            time.sleep(_WATCH_S)
        os._exit(1)

    threading.Thread(target=watch, daemon=True).start()


def _ready() -> None:
    time.sleep(0.01)


def serially(work: Work, first: int) -> Generator[FloatArray, None, None]:
    """Every chunk from the first on, in this process."""
    for chunk in range(first, work.grid.chunks):
        yield run_chunk(work, chunk)


def in_order(
    work: Work, first: int, executor: Executor, *, ahead: int | None = None
) -> Generator[FloatArray, None, None]:
    """Every chunk from the first on, computed by an executor, in the table's order.

    ahead: how many chunks may be waiting or at work at once; so many are in memory at most
    """
    most = ahead or _AHEAD * _width(executor)
    waiting: deque[Future[FloatArray]] = deque()
    chunk = first
    try:
        while chunk < work.grid.chunks or waiting:
            while chunk < work.grid.chunks and len(waiting) < most:
                waiting.append(executor.submit(run_chunk, work, chunk))
                chunk += 1
            yield waiting.popleft().result()
    finally:
        for future in waiting:
            future.cancel()


def _width(executor: Executor) -> int:
    """How many workers an executor has, as far as it says so."""
    count = getattr(executor, "_max_workers", None)
    return count if isinstance(count, int) and count > 0 else max(4, core_count())
