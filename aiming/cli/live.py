"""`aiming live`: the section in the browser, under the hand."""

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from . import options as opt
from .common import UsageError, tell
from .options import option

if TYPE_CHECKING:
    from ..live.app import Start
    from ..live.server import Closed


def live(
    file: Annotated[
        str | None,
        typer.Argument(
            metavar="[FILE]", help="Scenario file; without it the page offers a few to begin from."
        ),
    ] = None,
    changes: opt.Changes = None,
    port: Annotated[int, option("--port N", "Listen here; 0 takes any.", min=0, max=65535)] = 0,
    no_browser: Annotated[
        bool, option("--no-browser", "Print the address instead of opening a browser.")
    ] = False,
) -> None:
    """Open the section in the browser and drag in it.

    What is dragged or typed is solved again at once.  Only this machine can reach it, with a key
    that is made anew each time.  Save writes the scenario file, comments kept.  It ends with
    Ctrl-C, or when the page has been closed.  A pattern file is chosen here, since the page opens
    no path: --set speaker.main.pattern.file=box.csv.
    """
    import threading

    from ..live.app import Live, live_page, starts_in
    from ..live.server import Closed

    if file is None and changes:
        raise UsageError("--set: changes the values of a FILE, and none is named")
    first = None if file is None else _start(file, changes)
    starts = [] if first is not None else starts_in(Path(), _drawn)
    house = Live(starts, first=first)
    try:
        server = Closed(live_page(), house.answer, port=port)
    except OSError as error:
        raise UsageError(f"--port: {port} cannot be listened to ({error.strerror})") from None
    threading.Thread(target=house.prepare, daemon=True).start()
    try:
        if no_browser:
            print(server.address, flush=True)
        else:
            _open(server)
        tell("Ctrl-C ends it.")
        server.serve_forever(poll_interval=0.25)
    finally:
        house.close()
        server.server_close()


def _start(file: str, changes: list[str] | None) -> "Start":
    """A file that is there, or one that an empty house is to be saved as."""
    from ..live.app import Start
    from ..report.starter import METRES, starter_text
    from ..scenario import parse_set

    path = Path(file)
    made = dict(parse_set(text) for text in changes or ())
    if file == "-":
        raise UsageError("FILE: standard input cannot be saved to; name a file")
    if not path.exists() and path.suffix == ".toml" and path.parent.is_dir():
        return Start(path.name, path, lambda: starter_text(METRES), made)
    return Start(path.name, path, changes=made)


def _drawn(drawing: Path, into: Path) -> str:
    from ..report.starter import drawn_text
    from .drawn import drawn_start

    start = drawn_start(str(drawing), into=str(into), drawing_units=None, asking=False)
    return drawn_text(start)


def _open(server: "Closed") -> None:
    """Open the browser by way of a file that nobody else can read.

    The key must not stand in a command line, where every user of the machine sees it.
    """
    import tempfile
    import threading
    import webbrowser

    handle, name = tempfile.mkstemp(prefix="aiming-", suffix=".html")
    page = Path(name)
    with open(handle, "w", encoding="utf-8") as stream:
        stream.write(
            '<!doctype html><meta charset="utf-8"><title>aiming live</title>'
            f'<meta http-equiv="refresh" content="0; url={server.address}">'
            f'<p><a href="{server.address}">Open the section</a></p>'
        )
    if not webbrowser.open(page.as_uri()):
        print(server.address, file=sys.stdout, flush=True)
    timer = threading.Timer(30.0, page.unlink, kwargs={"missing_ok": True})
    timer.daemon = True
    timer.start()
    server.forget = lambda: page.unlink(missing_ok=True)
