"""The live page under a test: started, opened, typed into, pressed and dragged as a person does."""

import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from browser import Browser

SETTLED = "!document.body.classList.contains('stale') && !here.asking && here.view && settled()"
TAKEN = "!here.asking && !here.waiting && here.view && settled()"
"""What was done is in the document, and solved as in the hand."""
EXPLAINED = "document.body.classList.contains('explained')"
PICKS = (
    '[{ name = "front", at = [-0.08, 0.3], wll = "130 kg" },'
    ' { name = "rear", at = [-0.32, 0.3], wll = "130 kg" }]'
)


@contextmanager
def live(folder: Path, *arguments: str) -> Iterator[str]:
    """The address of a live server that works in this folder."""
    command = [sys.executable, "-m", "aiming", "live", "--no-browser", *arguments]
    with subprocess.Popen(
        command, cwd=folder, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True
    ) as run:
        try:
            assert run.stdout is not None
            yield run.stdout.readline().strip()
        finally:
            run.terminate()


def opened(window: Browser, address: str, *, width: int = 1280, height: int = 800) -> None:
    """The page, with a house or with what to begin from."""
    window.visit("about:blank", width=width, height=height)
    window.complaints()  # of a house before, whose server has gone
    window.visit(address, width=width, height=height)
    window.until(
        "!document.getElementById('start').hidden || !document.getElementById('live').hidden"
    )


def entered(window: Browser, key: str, text: str) -> None:
    """Type into the field of a key, and leave it."""
    window.run(
        "const one = [...document.querySelectorAll('[data-key]')].find("
        "(of) => of.dataset.key === arguments[0]);"
        "one.closest('details').open = true; one.focus(); one.value = arguments[1];"
        "one.dispatchEvent(new Event('change', { bubbles: true }))",
        key,
        text,
    )


def typed(window: Browser, key: str, text: str, *, until: str = SETTLED) -> None:
    """The same, taken without a complaint."""
    entered(window, key, text)
    window.until(until)
    told = window.text("#told")
    assert told == "", (key, text, told)


def pressed(window: Browser, selector: str, *, until: str = SETTLED) -> None:
    """A button, and what it does is done."""
    window.click(selector)
    window.until(until)


def grip(window: Browser, label: str) -> tuple[float, float]:
    """Where on the window the handle of this label is."""
    window.run("document.getElementById('section').scrollIntoView()")
    x, y = window.run(
        'const box = document.querySelector(`[data-handle="${arguments[0]}"] .reach`)'
        ".getBoundingClientRect(); return [box.x + box.width / 2, box.y + box.height / 2]",
        label,
    )
    return x, y


def dragged(
    window: Browser, label: str, right_px: int, down_px: int, *, until: str = SETTLED
) -> None:
    """Take the handle of this label with the mouse and let it go elsewhere."""
    x, y = grip(window, label)
    window.drag((x, y), (x + right_px, y + down_px), steps=6)
    window.until(until)


def drawn_up(window: Browser, pause: Callable[[str], None] = lambda _text: None) -> None:
    """From an empty house to two loudspeakers, a balcony and a front fill.

    pause: called before each thing that a person would do, with what they would type
    """

    def fill_in(key: str, text: str) -> None:
        pause(text)
        typed(window, key, text, until=TAKEN)

    def press(selector: str) -> None:
        pause("")
        pressed(window, selector, until=TAKEN)

    def drag(label: str, right_px: int, down_px: int) -> None:
        pause("")
        dragged(window, label, right_px, down_px, until=TAKEN)

    pause("")
    pressed(window, "#starts li:first-child button", until=TAKEN)
    press("[data-add=seating]")
    fill_in("seating.rows.name", "balcony")
    fill_in("seating.balcony.line", "[[13, 4], [18, 6]]")
    press("[data-add=surface]")
    fill_in("surface.surface.line", "[[12.4, 3.2], [12.4, 4.8]]")
    press("[data-add=speaker]")
    fill_in("speaker.loudspeaker.name", "upper")
    fill_in("speaker.upper.placement.height", "[6, 9]")
    fill_in("speaker.upper.placement.x", "0.5")
    fill_in("speaker.upper.serves", '["balcony"]')
    fill_in("speaker.main.serves", '["floor"]')
    press("[data-add=fill]")
    fill_in("speaker.main.cabinet.mass", "26 kg")
    fill_in("speaker.main.cabinet.picks", PICKS)
    fill_in("speaker.main.rigging.upright.method", "two points")
    drag("main", 12, -15)
    drag("floor, last end", -20, 0)
    window.until(SETTLED)
