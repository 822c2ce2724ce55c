"""A progress bar on standard error, where a person watches it."""

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager


@contextmanager
def progress_bar(label: str, *, quiet: bool = False) -> Iterator[Callable[[int, int], None]]:
    """Gives what is to be told (done, all); shows the rate and the time left."""
    if quiet or not sys.stderr.isatty():
        yield lambda _done, _all: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn

    bar = Progress(
        TextColumn(label, markup=False),
        BarColumn(),
        TextColumn("{task.percentage:>3.0f} %"),
        TextColumn("{task.fields[rate]}"),
        TimeRemainingColumn(),
        console=Console(stderr=True),
        transient=True,
    )
    with bar:
        task = bar.add_task(label, total=None, rate="")
        before: list[int] = []

        def told(done: int, every: int) -> None:
            before[:] = before or [done]
            elapsed = bar.tasks[0].elapsed or 0.0
            rate = (done - before[0]) / elapsed if elapsed > 0.0 else 0.0
            bar.update(task, completed=done, total=every, rate=f"{rate:,.0f}/s" if rate else "")

        yield told
