"""What the page shows and what the command that it prints gives, for every shipped scenario.

The page's own scripts run in the browser: places, gains and delays are set at random, the figures
are read off, and the command line that the page prints is evaluated.
"""

import os
import random
import re
import shlex
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from browser import MISSING, Browser, browser
from paths import ROOT

import aiming
from aiming.analysis import page_table
from aiming.analysis.complete import complete
from aiming.base.units import length_text, tilt_text
from aiming.report.page import page_html
from aiming.report.text.words import db_text, mass_of_text
from aiming.results.answer import Answer
from aiming.scenario import parse_set

pytestmark = pytest.mark.skipif(MISSING is not None, reason=MISSING or "")
SCENARIOS = sorted((ROOT / "scenarios").glob("*.toml"))
POSITIONS = 20 if os.environ.get("EVERY_FIGURE") else 4
SEARCHED = {"narrow-window", "tilt-sign"}
"""Cautions about what the file leaves open, not about one place."""
EXACT_DB = 2e-4
"""What five decimals of a place may move a level by."""

_MOVE = """
const [shares, everyone] = arguments;
const pick = (count, share) => Math.min(count - 1, Math.floor(share * count));
now.at = ownAt();
plan.speakers.forEach((one, number) => {
  if (!everyone && number !== pick(plan.speakers.length, shares[0][5])) return;
  const to = now.at[number], [x, vertical, tilt, turn, gain, delay] = shares[number];
  Object.assign(to, { x: pick(one.x.length, x), vertical: pick(one.vertical.length, vertical),
    tilt: pick(one.tilt.length, tilt), orientation: pick(one.turned.length, turn) });
  const along = ([low, high], share) => Math.round(10 * (low + share * (high - low))) / 10;
  if (everyone && one.gainRange) to.gain = along(one.gainRange, gain);
  if (everyone && one.delayRange) to.delay = along(one.delayRange, delay);
});
if (!everyone) now.speaker = pick(plan.speakers.length, shares[0][5]);
show();
"""
_TOLD = """
const known = (value) => (Number.isFinite(value) ? value : null);
const plain = (of) => of && { spread: of.spread.map(known), worst: of.worst, within: of.within };
const names = (number) => {
  now.speaker = number;
  chosen();
  return Object.fromEntries([...document.querySelectorAll('#hang div')]
    .map((of) => [of.firstChild.textContent, of.lastChild.textContent]));
};
const before = now.speaker;
const listed = plan.speakers.map((_, number) => names(number));
now.speaker = before; chosen();
return { command: commandText(), link: linkText(), listed,
  together: plain(heardNow.together), alone: heardNow.alone.map(plain),
  hold: cautionsHold(), headline: byId('headline').innerText,
  cautions: [...document.querySelectorAll('#cautions li')].map((of) => of.textContent) };
"""


@pytest.fixture(scope="module")
def window(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    with browser(tmp_path_factory.mktemp("browser")) as one:
        yield one


def evaluated(command: str) -> Answer:
    """What the printed command gives."""
    words = shlex.split(command)
    assert words[:2] == ["aiming", "evaluate"]
    pairs = zip(words[3::2], words[4::2], strict=True)
    changes = dict(parse_set(text) for option, text in pairs if option == "--set")
    return aiming.evaluate(aiming.load(words[2], changes=changes))


def hold(told: dict[str, Any], answer: Answer) -> None:
    """Everything told against the answer."""
    unit = answer.scenario.units
    if answer.together is not None and len(answer.speakers) > 1:
        found, shown = answer.together, told["together"]
        near(shown["spread"][0], found.spread_db)
        near(shown["worst"], found.worst_band_spread_db)
        assert shown["within"] == pytest.approx(found.rows_within_3db_percent, abs=1e-9)
        assert f"Spread {db_text(found.spread_db)}" in " ".join(told["headline"].split())
        for channel, band in enumerate(found.by_band.values(), start=1):
            near(shown["spread"][channel], band.spread_db)
    for place, one in enumerate(answer.speakers):
        shown, listed = told["alone"][place], told["listed"][place]
        near(shown["spread"][0], one.spread_db)
        if one.spread_db is not None:
            near(shown["worst"], one.worst_band_spread_db)
            assert shown["within"] == pytest.approx(one.rows_within_3db_percent, abs=1e-9)
        for channel, band in enumerate(one.by_band.values(), start=1):
            near(shown["spread"][channel], band.spread_db)
        assert listed["Tilt"] == tilt_text(one.tilt_deg)
        assert listed["Acoustic centre"].startswith(f"{length_text(one.height_m, unit)} above")
        meets = listed["Axis meets"]
        assert meets.startswith("no seating") == (one.aim_row is None)
        if one.aim_row is not None:
            assert f"row {answer.rows.name[one.aim_row]}" in meets
        if one.loads is not None:
            for point in one.loads.points:
                text = listed[f"Load, {point.name}"]
                assert text.startswith(mass_of_text(point.tension_n, unit)), text
    if told["hold"]:
        words = {"stop": "STOP", "caution": "Caution", "note": "Note"}
        several = len(answer.speakers) > 1
        for of in answer.cautions:
            if of.code in SEARCHED:
                continue
            mine = [one for one in told["cautions"] if one.endswith(of.text)]
            assert mine and mine[0].startswith(words[of.severity]), of.text
            assert not several or of.speaker is None or of.speaker in mine[0]


def near(shown: float | None, wanted: float | None) -> None:
    if wanted is None:
        assert shown is None
    else:
        assert shown == pytest.approx(wanted, abs=EXACT_DB)


@pytest.mark.parametrize("path", SCENARIOS, ids=lambda path: path.stem)
def test_the_printed_command_gives_what_is_shown(
    path: Path, window: Browser, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(page_table, "MOST_POINTS", 300)
    answer = complete(aiming.solve(aiming.load(path), choices=False), ("page",))
    page = tmp_path / "aim.html"
    page.write_text(page_html(answer), encoding="utf-8")
    window.complaints()
    window.open(page, width=1280, height=800)
    told = window.run(_TOLD)
    hold(told, answer)
    draw = random.Random(path.stem)
    for position in range(POSITIONS):
        shares = [[draw.random() for _ in range(6)] for _ in answer.speakers]
        window.run(_MOVE, shares, position % 2 == 0)
        told = window.run(_TOLD)
        assert not re.search(r"\.\d{6}|\de-", told["command"])
        hold(told, evaluated(told["command"]))
        window.open(Path(f"{page}"), width=1280, height=800)
        window.run("location.hash = arguments[0]; readLink(arguments[0]); chosen()", told["link"])
        again = window.run(_TOLD)
        assert again["command"] == told["command"]
        np.testing.assert_allclose(again["alone"][0]["worst"], told["alone"][0]["worst"])
    assert window.complaints() == []
