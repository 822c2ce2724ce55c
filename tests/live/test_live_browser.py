"""The live page in a real browser: from an empty house to a saved hang, without touching a file."""

import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from browser import MISSING, Browser, browser
from paths import ROOT

from aiming.analysis.solve import solve
from aiming.report.text.words import db_text
from aiming.scenario import load

pytestmark = pytest.mark.skipif(MISSING is not None, reason=MISSING or "")
SETTLED = "!document.body.classList.contains('stale') && !here.asking && here.view && settled()"


@pytest.fixture(scope="module")
def window(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    with browser(tmp_path_factory.mktemp("browser")) as one:
        yield one


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


def opened(window: Browser, address: str) -> None:
    window.visit("about:blank", width=1280, height=800)
    window.visit(address, width=1280, height=800)
    window.until(
        "!document.getElementById('start').hidden || !document.getElementById('live').hidden"
    )


def typed(window: Browser, key: str, text: str) -> None:
    """Type into the field of a key, as a person does, and leave it."""
    window.run(
        "const one = [...document.querySelectorAll('[data-key]')].find("
        "(of) => of.dataset.key === arguments[0]);"
        "one.closest('details').open = true; one.focus(); one.value = arguments[1];"
        "one.dispatchEvent(new Event('change', { bubbles: true }))",
        key,
        text,
    )
    window.until(SETTLED)
    assert window.text("#told") == "", (key, text)


def pressed(window: Browser, selector: str) -> None:
    window.click(selector)
    window.until(SETTLED)


def dragged(window: Browser, label: str, right_px: int, down_px: int) -> None:
    """Take the handle of this label with the mouse and let it go elsewhere."""
    window.run("document.getElementById('section').scrollIntoView()")
    x, y = window.run(
        'const box = document.querySelector(`[data-handle="${arguments[0]}"] .reach`)'
        ".getBoundingClientRect(); return [box.x + box.width / 2, box.y + box.height / 2]",
        label,
    )
    window.drag((x, y), (x + right_px, y + down_px), steps=6)
    window.until(SETTLED)


def test_from_an_empty_house_to_a_saved_hang(window: Browser, tmp_path: Path) -> None:
    with live(tmp_path) as address:
        opened(window, address)
        window.click("#starts li:first-child button")
        window.until(SETTLED)
        pressed(window, "[data-add=seating]")
        typed(window, "seating.rows.name", "balcony")
        typed(window, "seating.balcony.line", "[[13, 4], [18, 6]]")
        pressed(window, "[data-add=surface]")
        typed(window, "surface.surface.line", "[[12.4, 3.2], [12.4, 4.8]]")
        pressed(window, "[data-add=speaker]")
        typed(window, "speaker.loudspeaker.name", "upper")
        typed(window, "speaker.upper.placement.height", "[6, 9]")
        typed(window, "speaker.upper.placement.x", "0.5")
        typed(window, "speaker.upper.serves", '["balcony"]')
        typed(window, "speaker.main.serves", '["floor"]')
        pressed(window, "[data-add=fill]")
        assert window.run("return here.view.speakers.map((one) => one.name)") == [
            "main",
            "upper",
            "front fill",
        ]
        before = window.run("return here.view.speakers[0].height")
        dragged(window, "main", 12, -15)
        assert window.run("return here.view.speakers[0].height") > before
        assert window.run("return here.pinned") == ["main"]
        dragged(window, "floor, last end", -20, 0)
        window.until("document.body.classList.contains('explained')")
        told = window.run("return here.view.together.spread")
        tilts = window.run("return here.view.speakers.map((one) => one.text.tilt)")
        window.click("#save")
        window.until("document.getElementById('kept').textContent !== ''")
        assert "hall.toml" in window.text("#kept")
        assert window.complaints() == []
        picture = window.printed(width_cm=21.0, height_cm=29.7)
        assert picture.startswith(b"%PDF")
    answer = solve(load(tmp_path / "hall.toml"))
    assert answer.together is not None
    assert db_text(answer.together.spread_db) == told
    from aiming.base.units import tilt_text

    assert [tilt_text(one.tilt_deg) for one in answer.speakers] == tilts
    text = (tmp_path / "hall.toml").read_text(encoding="utf-8")
    assert "# What follows is worth adding" in text
    assert sorted(path.name for path in tmp_path.iterdir()) == ["hall.toml"]


@pytest.fixture
def house(tmp_path: Path) -> Path:
    text = (ROOT / "scenarios" / "quarry.toml").read_text(encoding="utf-8")
    (tmp_path / "quarry.toml").write_text(text, encoding="utf-8")
    return tmp_path


def test_the_keyboard_moves_undoes_and_gives_back(window: Browser, house: Path) -> None:
    with live(house, "quarry.toml") as address:
        opened(window, address)
        window.until(SETTLED)
        start = window.run("return here.view.speakers[0].height")
        window.run("document.querySelector('[data-handle=main]').focus()")
        window.keys("up")
        window.until(SETTLED)
        assert window.run("return here.view.speakers[0].height") == pytest.approx(
            start + 0.1, abs=0.006
        )
        assert window.run("return document.activeElement.dataset.handle") == "main"
        window.click("#undo")
        window.until(SETTLED)
        assert window.run("return here.view.speakers[0].height") == pytest.approx(start)
        window.click("#redo")
        window.until(SETTLED)
        pressed(window, "#give-back")
        assert window.run("return here.pinned") == []


def test_the_key_is_in_no_address_and_no_cookie(window: Browser, house: Path) -> None:
    with live(house, "quarry.toml") as address:
        opened(window, address)
        window.until(SETTLED)
        window.requests()
        key = address.split("#")[1]
        seen: dict[str, Any] = window.run(
            "return { address: location.href, cookie: document.cookie,"
            " text: document.documentElement.outerHTML }"
        )
        assert all(key not in of for of in seen.values())
        window.visit(address.split("#")[0], width=1280, height=800)
        window.until(SETTLED)
        assert all(key not in one for one in window.requests())


def test_a_second_page_takes_the_house_over(window: Browser, house: Path) -> None:
    with live(house, "quarry.toml") as address:
        opened(window, address)
        window.until(SETTLED)
        window.run(
            "fetch('/begin', { method: 'POST', headers: { 'Content-Type': 'application/json',"
            " 'X-Aiming-Key': here.key }, body: '{}' }).then(() => { window.taken = true })"
        )
        window.until("window.taken")
        window.run("document.querySelector('[data-handle=main]').focus()")
        window.keys("up")
        window.until("!document.getElementById('shut').hidden")


def test_an_impossible_place_keeps_the_last_picture(window: Browser, house: Path) -> None:
    with live(house, "quarry.toml") as address:
        opened(window, address)
        window.until(SETTLED)
        before = window.run("return document.querySelector('#section .box').outerHTML")
        window.run("here.open.add('speaker main'); fields()")
        window.run(
            "const one = [...document.querySelectorAll('[data-key]')].find("
            "(of) => of.dataset.key === 'speaker.main.placement.tilt');"
            "one.value = '40'; one.dispatchEvent(new Event('change', { bubbles: true }))"
        )
        window.until("document.getElementById('told').textContent.includes('would have to')")
        assert before == window.run("return document.querySelector('#section .box').outerHTML")
        assert window.run("return document.body.classList.contains('stale')")


@pytest.mark.parametrize("width", [390, 1280])
def test_it_fits_a_phone_and_fingers(window: Browser, house: Path, width: int) -> None:
    with live(house, "quarry.toml") as address:
        opened(window, address)
        window.visit(address, width=width, height=800)
        window.until(SETTLED)
        assert window.run("return document.documentElement.scrollWidth") <= width
        sizes = window.run(
            "return [...document.querySelectorAll('main button, main select, main input[type=text],"
            " .pick span, main summary')].filter((one) => one.offsetParent)"
            ".map((one) => [one.textContent, one.offsetWidth, one.offsetHeight])"
        )
        assert all(wide >= 44 and high >= 44 for _, wide, high in sizes), sizes
