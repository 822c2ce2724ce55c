"""A browser for tests: Chromium through its own driver, over plain HTTP (W3C WebDriver)."""

import json
import re
import shutil
import subprocess
import urllib.error
import urllib.request
from base64 import b64decode
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

CHROMIUM, DRIVER = shutil.which("chromium"), shutil.which("chromedriver")
MISSING = None if CHROMIUM and DRIVER else "chromium and chromedriver are not installed"
_QUIET = (
    "--headless=new",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-dev-shm-usage",
    "--hide-scrollbars",
)
_ELEMENT = "element-6066-11e4-a52e-4f735466cecf"
_KEYS = {
    "right": "\ue014",
    "left": "\ue012",
    "home": "\ue011",
    "end": "\ue010",
    "tab": "\ue004",
    "up": "\ue013",
    "down": "\ue015",
    "escape": "\ue00c",
}


_PRESS, _LET_GO = {"type": "pointerDown", "button": 0}, {"type": "pointerUp", "button": 0}


def _at(x: float, y: float, *, duration_ms: int = 0) -> dict[str, Any]:
    return {"type": "pointerMove", "x": round(x), "y": round(y), "duration": duration_ms}


class Browser:
    """One window; every call is one request to the driver."""

    def __init__(self, address: str, folder: Path) -> None:
        self._address = address
        wanted = {
            "browserName": "chrome",
            "goog:loggingPrefs": {"browser": "ALL", "performance": "ALL"},
            "goog:chromeOptions": {
                "binary": CHROMIUM,
                "args": [*_QUIET, f"--user-data-dir={folder}"],
            },
        }
        made = self._ask("POST", "/session", {"capabilities": {"alwaysMatch": wanted}})
        self._address += f"/session/{made['sessionId']}"
        self._ask("POST", "/timeouts", {"script": 120_000})
        # The browser's own start page asks for its own parts; only ours may be listened to.
        self._ask("POST", "/url", {"url": "about:blank"})
        self.requests()

    def open(self, page: Path, *, width: int, height: int, text: int = 100) -> None:
        """Open a file in a window of this size, its letters grown to text per cent."""
        self._ask("POST", "/goog/cdp/execute", _metrics(width, height))
        self._ask("POST", "/url", {"url": page.as_uri()})
        self.run("document.documentElement.style.fontSize = arguments[0]", f"{text}%")
        self.until("!document.getElementById('live').hidden && settled()")

    def visit(self, address: str, *, width: int, height: int) -> None:
        """Open an address in a window of this size."""
        self._ask("POST", "/goog/cdp/execute", _metrics(width, height))
        self._ask("POST", "/url", {"url": address})

    def drag(self, start: tuple[float, float], end: tuple[float, float], *, steps: int) -> None:
        """Press the mouse at a place of the window, move it in steps, let it go."""
        places = [
            (a + (c - a) * share / steps, b + (d - b) * share / steps)
            for share in range(1, steps + 1)
            for (a, b), (c, d) in [(start, end)]
        ]
        self.follow(start, places, step_ms=30)

    def follow(
        self, start: tuple[float, float], places: list[tuple[float, float]], *, step_ms: int
    ) -> None:
        """Press the mouse, move it from place to place, a step each, let it go."""
        self._mouse(
            [_at(*start), _PRESS, *(_at(*of, duration_ms=step_ms) for of in places), _LET_GO]
        )

    def hold(self, start: tuple[float, float], end: tuple[float, float]) -> None:
        """Press the mouse at a place of the window and move it, still pressed."""
        self._mouse([_at(*start), _PRESS, _at(*end)])

    def release(self) -> None:
        """Let the mouse go."""
        self._mouse([_LET_GO])

    def _mouse(self, acts: list[dict[str, Any]]) -> None:
        mouse = {"type": "pointer", "id": "mouse", "parameters": {"pointerType": "mouse"}}
        self._ask("POST", "/actions", {"actions": [{**mouse, "actions": acts}]})

    def keys(self, *keys: str) -> None:
        """Keys, named or plain letters, to whatever has the focus."""
        acts = [
            {"type": kind, "value": _KEYS.get(key, key)}
            for key in keys
            for kind in ("keyDown", "keyUp")
        ]
        self._ask("POST", "/actions", {"actions": [{"type": "key", "id": "keys", "actions": acts}]})

    def run(self, script: str, *arguments: Any) -> Any:
        """The value of a script's body; `return` gives it."""
        return self._ask("POST", "/execute/sync", {"script": script, "args": list(arguments)})

    def until(self, condition: str) -> None:
        """Wait until an expression holds; settled() is true two frames after it was first asked."""
        script = (
            "const done = arguments[arguments.length - 1]; let frames = 0;"
            "const settled = () => (frames += 1) > 3;"
            f"const look = () => ({condition}) ? done(true) : requestAnimationFrame(look); look();"
        )
        self._ask("POST", "/execute/async", {"script": script, "args": []})

    def text(self, selector: str) -> str:
        """The text content of the first element."""
        return str(self.run("return document.querySelector(arguments[0]).textContent", selector))

    def click(self, selector: str) -> None:
        """As a mouse or a finger would, at the element's middle."""
        self._ask("POST", f"/element/{self._find(selector)}/click", {})

    def press(self, selector: str, *keys: str) -> None:
        """Keys, named or plain letters, into an element."""
        text = "".join(_KEYS.get(key, key) for key in keys)
        self._ask("POST", f"/element/{self._find(selector)}/value", {"text": text})

    def slide(self, selector: str, value: int) -> None:
        """Move a slider as a drag ends: set the value, tell the page."""
        self.run(
            "const one = document.querySelector(arguments[0]); one.value = arguments[1];"
            "one.dispatchEvent(new Event('input', { bubbles: true }))",
            selector,
            value,
        )

    def picture(self) -> bytes:
        """The whole page as PNG."""
        size = self.run(
            "return [document.documentElement.scrollWidth, document.documentElement.scrollHeight]"
        )
        clip = {"x": 0, "y": 0, "width": size[0], "height": size[1], "scale": 1}
        asked = {"captureBeyondViewport": True, "clip": clip}
        found = self._ask(
            "POST", "/goog/cdp/execute", {"cmd": "Page.captureScreenshot", "params": asked}
        )
        return b64decode(found["data"])

    def printed(self, *, width_cm: float, height_cm: float) -> bytes:
        """The page on paper, as PDF."""
        paper = {"page": {"width": width_cm, "height": height_cm}, "background": True}
        return b64decode(self._ask("POST", "/print", paper))

    def complaints(self) -> list[str]:
        """What the console said since last asked."""
        return [one["message"] for one in self._ask("POST", "/se/log", {"type": "browser"})]

    def requests(self) -> list[str]:
        """Addresses that were asked for since last asked."""
        found = []
        for one in self._ask("POST", "/se/log", {"type": "performance"}):
            message = json.loads(one["message"])["message"]
            if message["method"] == "Network.requestWillBeSent":
                found.append(str(message["params"]["request"]["url"]))
        return found

    def _find(self, selector: str) -> str:
        asked = {"using": "css selector", "value": selector}
        return str(self._ask("POST", "/element", asked)[_ELEMENT])

    def _ask(self, method: str, path: str, body: dict[str, Any]) -> Any:
        request = urllib.request.Request(
            self._address + path,
            data=json.dumps(body).encode(),
            headers={"Content-Type": "application/json"},
            method=method,
        )
        try:
            with urllib.request.urlopen(request, timeout=150) as reply:
                return json.load(reply)["value"]
        except urllib.error.HTTPError as error:
            raise AssertionError(json.load(error)["value"]["message"]) from None

    def close(self) -> None:
        """End the browser."""
        self._ask("DELETE", "", {})


def _metrics(width: int, height: int) -> dict[str, Any]:
    size = {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": False}
    return {"cmd": "Emulation.setDeviceMetricsOverride", "params": size}


@contextmanager
def browser(folder: Path) -> Iterator[Browser]:
    """A fresh browser with nothing of the person's own."""
    assert DRIVER is not None
    with subprocess.Popen([DRIVER, "--port=0"], stdout=subprocess.PIPE, text=True) as driver:
        try:
            assert driver.stdout is not None
            port = next(
                found[1]
                for line in driver.stdout
                if (found := re.search(r"started successfully on port (\d+)", line))
            )
            one = Browser(f"http://127.0.0.1:{port}", folder / "browser")
            try:
                yield one
            finally:
                one.close()
        finally:
            driver.terminate()
