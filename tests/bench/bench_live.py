"""The section under the hand, in a real headless Chromium: `python tests/bench/bench_live.py`.

From a movement of the mouse to the frame that shows the optimum proven for it: a box and the last
end of the first seating dragged to and fro, every shipped scenario.  Of the live page's goals:
one loudspeaker, median and 95th percentile at most 50 and 80 ms; three together at most 120 ms in
the hand and 2 s to the joint answer once let go; at least 55 frames a second; at most 1.5 s from
the command to a page that can be used; at most 3 minutes from a blank sheet to the hang sheet at a
person's pace (PACE_S before each act, KEY_S a letter); of 10,000 attacks none accepted.
"""

import os
import random
import shutil
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from contextlib import ExitStack
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE.parent / "support"))

from browser import Browser, browser  # noqa: E402
from live_attacks import house, tried  # noqa: E402
from live_pages import SETTLED, drawn_up, grip, live, opened  # noqa: E402

SCENARIOS = HERE.parent.parent / "scenarios"
ATTACKS = 10_000
STEPS, STEP_MS = 90, 16
PACE_S, KEY_S = 1.5, 0.2
STARTS = 5
WATCH = """
window.seen = []; window.frames = [];
const plainChange = change, plainAsk = ask, plainPaint = paint;
let born = null;
change = (edits, held) => {
  if (edits.length) edits.born = edits.born || performance.now();
  return plainChange(edits, held);
};
ask = async (name, body) => {
  const told = await plainAsk(name, body);
  if (name === "change" && body.held && body.edits.born) born = body.edits.born;
  return told;
};
paint = () => {
  plainPaint();
  if (born === null) return;
  const from = born, channel = new MessageChannel();
  born = null;
  // Its message comes after this frame has been drawn.
  channel.port1.onmessage = () => { if (here.held) window.seen.push(performance.now() - from); };
  channel.port2.postMessage(null);
};
const tick = (now) => { if (here.held) window.frames.push(now); requestAnimationFrame(tick); };
requestAnimationFrame(tick);
"""


def dragged(window: Browser, label: str) -> tuple[list[float], float]:
    """Times from movement to picture, ms, and frames a second, over a drag to and fro."""
    window.run("window.seen.length = 0; window.frames.length = 0")
    x, y = grip(window, label)
    places = [
        (x + 26.0 * part, y + 14.0 * part)
        for part in (2.0 * abs((2.0 * at / STEPS) % 2.0 - 1.0) - 1.0 for at in range(STEPS))
    ]
    window.follow((x, y), places, step_ms=STEP_MS)
    window.until(SETTLED)
    seen, frames = window.run("return [window.seen, window.frames]")
    rate = 1000.0 * (len(frames) - 1) / (frames[-1] - frames[0])
    return seen, rate


def quantiles(seen: list[float]) -> tuple[float, float]:
    ordered = sorted(seen)
    return statistics.median(ordered), ordered[min(len(ordered) - 1, round(0.95 * len(ordered)))]


def scenario(
    window: Browser, folder: Path, path: Path
) -> tuple[int, dict[str, list[float]], float]:
    """How many loudspeakers; the times of both drags; the fewest frames a second."""
    with live(folder, str(path)) as address:
        opened(window, address)
        window.until(SETTLED)
        window.run(WATCH)
        count, name, seating, drawn = window.run(
            "const one = here.view.speakers.find((of) => !of.hungUnder);"
            "return [here.view.speakers.length, one.name, here.view.seatings[0].name,"
            " Boolean(here.document.seating[0].drawing)]"
        )
        found, fewest = {}, float("inf")
        for what, label in (("box", name), ("end", f"{seating}, last end")):
            if drawn and what == "end":
                continue
            found[what], rate = dragged(window, label)
            fewest = min(fewest, rate)
    return count, found, fewest


def joint_rest_s(window: Browser, folder: Path, path: Path) -> float:
    """From letting go of a box until the joint answer is on the page."""
    with live(folder, str(path)) as address:
        opened(window, address)
        window.until(SETTLED)
        x, y = grip(window, "main")
        window.follow((x, y), [(x + part, y - part) for part in range(1, 12)], step_ms=STEP_MS)
        began = time.perf_counter()
        window.until(SETTLED)
        return time.perf_counter() - began


def start_s(window: Browser, folder: Path, path: Path) -> float:
    """From the command to a page that shows what it would do."""
    window.visit("about:blank", width=1280, height=800)
    began = time.perf_counter()
    with live(folder, str(path)) as address:
        window.visit(address, width=1280, height=800)
        window.until("here.view && document.querySelector('#section .handle')")
        return time.perf_counter() - began


def blank_to_hang_s(window: Browser, folder: Path) -> float:
    """From a blank sheet to a saved file and its hang sheet, at a person's pace."""

    def pause(text: str) -> None:
        time.sleep(PACE_S + KEY_S * len(text))

    began = time.perf_counter()
    with live(folder) as address:
        opened(window, address)
        drawn_up(window, pause)
        pause("")
        window.click("#save")
        window.until("document.getElementById('kept').textContent.startsWith('Saved')")
        pause("")
        window.until("!document.getElementById('export').disabled")
        window.click("#export")
        window.until("document.getElementById('kept').textContent.startsWith('Written')")
    assert list((folder / "hall").glob("hang_sheet*.pdf"))
    return time.perf_counter() - began


def attacked(folder: Path) -> str:
    path = folder / "attacked.toml"
    shutil.copy(SCENARIOS / "quarry.toml", path)
    with house(path) as (server, open_house):
        outcome = tried(server, open_house, times=ATTACKS, chance=random.Random(19))
    kinds = ", ".join(f"{name.replace('_', ' ')} {n:,}" for name, n in outcome.tries.items())
    return (
        f"attacks: {ATTACKS:,} tries, {len(outcome.accepted)} accepted, "
        f"{len(outcome.stumbled)} crashes ({kinds})"
    )


def told(text: str) -> None:
    print(text, flush=True)


def main(only: list[str]) -> None:
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
    with ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory()))
        window = stack.enter_context(browser(folder))

        def part(name: str, made: Callable[[], None]) -> None:
            if not only or name in only:
                made()

        part("drags", lambda: drags(window, folder))
        part("start", lambda: starts(window, folder))
        part(
            "sheet",
            lambda: told(f"blank sheet to hang sheet: {blank_to_hang_s(window, folder):.0f} s"),
        )
        part("attacks", lambda: told(attacked(folder)))


def copied(folder: Path) -> Path:
    """The shipped scenarios, copied: a journal lies beside whatever is moved and not saved."""
    return Path(shutil.copytree(SCENARIOS, folder / "scenarios", dirs_exist_ok=True))


def drags(window: Browser, folder: Path) -> None:
    scenarios = copied(folder)
    alone: list[float] = []
    slowest = float("inf")
    for path in sorted(scenarios.glob("*.toml")):
        count, found, rate = scenario(window, folder, path)
        slowest = min(slowest, rate)
        parts = []
        for what, seen in found.items():
            median, high = quantiles(seen)
            parts.append(f"{what} {median:4.0f} / {high:4.0f} ms")
            alone += seen if count == 1 else []
        many = f"{count} loudspeaker{'s' if count > 1 else ''}"
        told(f"{path.stem:24} {many} {', '.join(parts)}; {rate:.0f} frames/s")
    median, high = quantiles(alone)
    told(f"one loudspeaker, all: median {median:.0f} ms, 95 % {high:.0f} ms")
    told(f"frames while dragging: at least {slowest:.0f} a second")
    rest = joint_rest_s(window, folder, scenarios / "field_with_delays.toml")
    told(f"three loudspeakers, let go until the joint answer: {rest:.2f} s")


def starts(window: Browser, folder: Path) -> None:
    path = copied(folder) / "quarry.toml"
    start_s(window, folder, path)
    found = [start_s(window, folder, path) for _ in range(STARTS)]
    told(f"start to a usable page: {statistics.median(found):.2f} s, least {min(found):.2f} s")


if __name__ == "__main__":
    main(sys.argv[1:])
