"""What each question of the page is answered with, and what it can begin from."""

import json
import subprocess
import sys
import threading
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from http import HTTPStatus
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ..base.errors import AimingError, printable
from ..report.page.page import part
from ..report.starter import FEET, METRES, starter_text
from ..scenario.read import load, rebuilt
from ..scenario.scenario import Scenario
from .keeping import Keeping, free_name
from .rest import Resting
from .server import Page

if TYPE_CHECKING:
    from .session import Session

SHARED = ("draw.js", "section.js", "chart.js")
"""Scripts that the page that travels has too."""
MOST_STARTS = 60
_JSON = json.JSONEncoder(ensure_ascii=False, allow_nan=False, separators=(",", ":"))


@dataclass(frozen=True)
class Start:
    """Something to begin from: what it is called, and where its text and its file come from.

    text: None for a file that is there
    changes: dotted keys and values, made to it at once and not saved yet
    """

    label: str
    path: Path
    text: Callable[[], str] | None = None
    changes: Mapping[str, object] = field(default_factory=dict)


def live_page() -> Page:
    """The page with its scripts and style in it."""
    own = files(__package__)
    style = part("page.css") + own.joinpath("live.css").read_text(encoding="utf-8")
    scripts = [part(name) for name in SHARED]
    script = "\n".join([*scripts, own.joinpath("live.js").read_text(encoding="utf-8")])
    html = own.joinpath("live.html").read_text(encoding="utf-8")
    return Page(
        html.replace("{{style}}", style).replace("{{script}}", script), script=script, style=style
    )


def starts_in(folder: Path, drawn: Callable[[Path, Path], str]) -> list[Start]:
    """An empty house, and the scenarios, drawings and surveys of a folder."""
    hall = free_name(folder, "hall")
    found = [
        Start("An empty hall, in metres", hall, lambda: starter_text(METRES)),
        Start("An empty hall, in feet", hall, lambda: starter_text(FEET)),
    ]
    for place in (folder, folder / "scenarios"):
        shown = "" if place == folder else "scenarios/"
        found += [Start(f"{shown}{path.name}", path) for path in sorted(place.glob("*.toml"))]
    for path in sorted([*folder.glob("*.dxf"), *folder.glob("drawings/*.dxf")]):
        into = free_name(folder, path.stem)
        found.append(Start(f"From the drawing {path.name}", into, _drawn(drawn, path, into)))
    for path in sorted([*folder.glob("*survey*.csv"), *folder.glob("surveys/*.csv")]):
        into = free_name(folder, path.stem)
        found.append(Start(f"From the survey {path.name}", into, _surveyed(path, folder)))
    return found[:MOST_STARTS]


def _drawn(drawn: Callable[[Path, Path], str], path: Path, into: Path) -> Callable[[], str]:
    return lambda: drawn(path, into)


def _surveyed(path: Path, folder: Path) -> Callable[[], str]:
    """The starter file with the survey's line as its floor."""

    def text() -> str:
        lines = starter_text(METRES).splitlines(keepends=True)
        at = next(n for n, line in enumerate(lines) if line.startswith("line = "))
        lines[at] = f"survey = {json.dumps(path.relative_to(folder).as_posix())}\n"
        return "".join(lines)

    return text


class Live:
    """Answers questions; every name that is not in here gets nothing."""

    def __init__(self, starts: list[Start], *, first: Start | None = None) -> None:
        """first: what is open from the beginning.  Raises ScenarioError where it has faults."""
        self._starts = starts
        self._resting = Resting()
        self._lock = threading.Lock()
        self._export: Export | None = None
        self._opened = None if first is None else _opened(first)
        self._session: Session | None = None

    def prepare(self) -> None:
        """Load what solves, while the browser loads the page; and begin what waits for rest."""
        from . import session

        del session
        self._resting.start()

    def close(self) -> None:
        """The end: nothing that was not saved is lost."""
        if self._session is not None:
            self._session.leave()
        self._resting.stop()

    @property
    def document(self) -> dict[str, Any]:
        """What is open, as it stands."""
        return self._held().scenario.document

    def answer(self, name: str, body: dict[str, Any]) -> tuple[int, bytes]:
        """Status and JSON."""
        known = {
            "begin": self._begin,
            "open": self._open,
            "change": self._change,
            "step": self._step,
            "rest": self._rest,
            "explain": self._rest,
            "save": self._save,
            "found": self._found,
            "export": self._exported,
            "alive": self._alive,
            "leave": self._alive,
        }
        made = known.get(name)
        if made is None:
            return HTTPStatus.NOT_FOUND, b'{"refused": "no such question"}'
        if name not in ("begin", "open", "leave") and not self._mine(body):
            return HTTPStatus.CONFLICT, b'{"refused": "another page has this house open"}'
        try:
            told = made({**body, "question": name})
        except AimingError as error:
            told = {"refused": str(error)}
        return HTTPStatus.OK, _JSON.encode(told).encode()

    def _mine(self, body: dict[str, Any]) -> bool:
        return not self._is_open or self._held().mine(body)

    @property
    def _is_open(self) -> bool:
        return self._session is not None or self._opened is not None

    def _held(self) -> "Session":
        if self._session is None and self._opened is not None:
            from .session import Session

            self._session = Session(*self._opened)
        if self._session is None:
            raise UnfitError("nothing is open")
        return self._session

    def _begin(self, _body: dict[str, Any]) -> dict[str, Any]:
        with self._lock:
            if not self._is_open:
                return {"page": "", "starts": [one.label for one in self._starts]}
            return self._held().begin()

    def _open(self, body: dict[str, Any]) -> dict[str, Any]:
        number = body.get("start")
        with self._lock:
            if self._is_open or not isinstance(number, int):
                raise UnfitError("something is open already")
            if not 0 <= number < len(self._starts):
                raise UnfitError("no such beginning")
            self._opened = _opened(self._starts[number])
            return self._held().begin()

    def _change(self, body: dict[str, Any]) -> dict[str, Any]:
        with self._lock:
            session = self._held()
            if not session.newer(body):
                return {"overtaken": True}
            self._resting.overtaken()
            return session.change(body)

    def _step(self, body: dict[str, Any]) -> dict[str, Any]:
        with self._lock:
            session = self._held()
            if not session.newer(body):
                return {"overtaken": True}
            self._resting.overtaken()
            return session.step(-1 if body.get("by") == -1 else 1, held=body.get("held"))

    def _rest(self, body: dict[str, Any]) -> dict[str, Any]:
        with self._lock:
            session = self._held()
            if body.get("number") != session.number:
                return {"overtaken": True}
            question = session.question()
        stage = "explained" if body["question"] == "explain" else "whole"
        found = self._resting.asked({**question, "stage": stage})
        if found is None:
            return {"overtaken": True}
        told: dict[str, Any] = json.loads(found)
        with self._lock:
            # Asked for before the next change, so it is about what stands.
            if "settings" in told and body.get("number") == session.number:
                session.rested(told.pop("settings"))
        return told

    def _save(self, body: dict[str, Any]) -> dict[str, Any]:
        how = body.get("how")
        if how not in ("save", "mine", "beside", "theirs"):
            raise UnfitError("no such way to save")
        with self._lock:
            return self._held().save(how=how)

    def _found(self, body: dict[str, Any]) -> dict[str, Any]:
        with self._lock:
            session = self._held()
            session.newer(body)
            return session.found(take=body.get("take") is True)

    def _alive(self, _body: dict[str, Any]) -> dict[str, Any]:
        return {}

    def _exported(self, body: dict[str, Any]) -> dict[str, Any]:
        """What `--out` writes, from the saved file, in a process of its own."""
        with self._lock:
            session = self._held()
            folder = session.keeping.path.with_suffix("")
            if body.get("begin") is True and self._export is None:
                if session.keeping.differs(session.scenario.document):
                    raise UnfitError("save first: the drawings are made from the file")
                self._export = Export(session.keeping.path, folder)
            if self._export is None:
                return {"told": "nothing is being drawn"}
            if stage := self._export.stage:
                return {"running": stage}
            told = self._export.ended()
            self._export = None
        return {"told": told}


class Export:
    """What `--out` writes, in a process of its own.

    stage: "solving", then "drawing"; None once it has ended
    """

    def __init__(self, path: Path, folder: Path) -> None:
        self.stage: str | None = "solving"
        self._folder, self._said = folder, ""
        command = [sys.executable, "-m", "aiming", "solve", str(path), "--quiet", "--out"]
        self._process = subprocess.Popen(
            [*command, str(folder)], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
        )
        threading.Thread(target=self._watch, daemon=True).start()

    def _watch(self) -> None:
        assert self._process.stdout is not None
        # The answer is printed before anything is drawn.
        self._process.stdout.readline()
        self.stage = "drawing"
        _, self._said = self._process.communicate()
        self.stage = None

    def ended(self) -> str:
        """How it ended."""
        code = self._process.returncode
        if code in (0, 3):
            stop = "; a caution of severity STOP stands" if code == 3 else ""
            return f"Written into the folder {self._folder.name}{stop}."
        lines = self._said.strip().splitlines()
        return f"Not written: {printable(lines[-1]) if lines else 'no reason given'}"


class UnfitError(AimingError):
    """A question that does not fit what is open; the text says why."""


def _opened(start: Start) -> tuple[Scenario, Keeping]:
    """The scenario and its file.  Raises ScenarioError."""
    if start.text is None:
        scenario = load(start.path)
        exists = True
    else:
        text = start.text()
        # Read where it is to lie, so that what it names is found from there.
        scenario = load_text(text, start.path)
        exists = False
    keeping = Keeping(start.path, text=scenario.text, document=scenario.document, exists=exists)
    return rebuilt(scenario, start.changes) if start.changes else scenario, keeping


def load_text(text: str, path: Path) -> Scenario:
    """The scenario of a text that is to be kept under this name.  Raises ScenarioError."""
    from ..files.toml_text import parse_source
    from ..scenario.read import of_source

    return of_source(parse_source(text, file=str(path), folder=path.parent))
