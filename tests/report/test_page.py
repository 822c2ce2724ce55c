"""The page as a file: whole, small, escaped, the same bytes twice, and readable colours."""

import json
import re
import tomllib
import zlib
from base64 import b64decode
from functools import lru_cache
from itertools import product
from typing import Any

import numpy as np
import pytest
from answers import FOUR, HOUSE, SPEAKER
from paths import ROOT

from aiming.analysis.complete import complete
from aiming.analysis.solve import solve
from aiming.base.units import length_text
from aiming.report.page import page_html
from aiming.report.page.plan import UNKNOWN, Packer, changed, eighths, tenths
from aiming.results.answer import Answer
from aiming.scenario import Scenario, load

SCENARIOS = ROOT / "scenarios"
NASTY = '</script><script>alert(1)</script><b>Hall & "Sons"</b> {{plan}} <!--'
CSS = ROOT / "aiming" / "report" / "page" / "page.css"


@lru_cache
def solved(name: str) -> tuple[Scenario, Answer, str]:
    """An example, its answer and its page."""
    scenario = load(SCENARIOS / f"{name}.toml")
    answer = complete(solve(scenario), ("page",))
    return scenario, answer, page_html(answer)


def plan_of(page: str) -> dict[str, Any]:
    """The plan that a page carries, its tables still packed."""
    found = re.search(r'<script type="text/plain" id="plan">([A-Za-z0-9+/=]*)</script>', page)
    assert found is not None
    raw = zlib.decompress(b64decode(found[1]))
    size = int.from_bytes(raw[:4], "little")
    plan: dict[str, Any] = json.loads(raw[4 : 4 + size])
    return plan


@pytest.mark.parametrize("name", ["quarry", "school_gym", "hillside_feet", "field_with_delays"])
def test_one_to_three_loudspeakers_take_at_most_400_kilobytes(name: str) -> None:
    assert 30_000 < len(solved(name)[2].encode()) <= 400_000


def test_a_large_house_stays_small_too() -> None:
    """400 rows, both orientations: the lattice grows coarser instead of the page larger."""
    changes = {
        'seating."floor".row_spacing': 0.05,
        'seating."bleachers".row_spacing': 0.05,
    }
    scenario = load(SCENARIOS / "school_gym.toml", changes=changes)
    page = page_html(complete(solve(scenario), ("page",)))
    assert len(page.encode()) <= 400_000
    plan = plan_of(page)
    drawn = plan["rows"]["drawn"]
    assert len(plan["rows"]["name"]) > 350
    assert 100 < len(drawn) <= 130
    assert drawn[-1] == len(plan["rows"]["name"]) - 1


def test_the_same_answer_gives_the_same_bytes() -> None:
    _, answer, page = solved("quarry")
    assert page_html(answer) == page


def test_nothing_is_loaded_from_anywhere() -> None:
    page = solved("quarry")[2]
    outside = re.sub(r'<script type="text/plain".*?</script>', "", page, flags=re.DOTALL)
    addresses = re.findall(r"https?://[^\"'\s)]+", outside)
    assert addresses == ["http://www.w3.org/2000/svg"]  # the name of SVG, not an address
    assert "default-src 'none'" in page
    assert not re.search(r"<(link|img|iframe)[^>]+(src|href)=\"(?!data:,)", page)
    assert "@import" not in page
    assert "url(#${id})" in page
    assert len(re.findall(r"url\(", page)) == 1


def test_what_the_user_wrote_stays_text() -> None:
    changes = {"title": NASTY, "datum.name": NASTY, "seating.'lower tier'.name": NASTY}
    scenario = load(SCENARIOS / "quarry.toml", changes=changes)
    page = page_html(complete(solve(scenario), ("page",)))
    assert "<b>Hall" not in page
    assert page.count("<script") == 2
    assert "alert(1)&lt;/script&gt;" in page
    assert page.count("{{plan}}") >= 1  # the title's own
    assert plan_of(page)["house"]["seatings"][0]["name"] == NASTY


def test_tables_come_back_as_they_went_in() -> None:
    """The page's own unpacking is held by the browser tests; this is the same in Python."""
    rng = np.random.default_rng(7)
    for shape in [(3, 4), (2, 3, 5), (1, 1), (4, 1)]:
        table = rng.integers(-40_000, 70_000, size=shape)
        table.flat[0] = UNKNOWN
        pack = Packer()
        pack.add(table)
        planes = np.frombuffer(pack.data[0], dtype=np.uint8).reshape(pack.planes[0], -1)
        zigzag = sum(plane.astype(np.int64) << (8 * place) for place, plane in enumerate(planes))
        step = np.where(zigzag % 2, -(zigzag + 1) // 2, zigzag // 2).reshape(-1, shape[-1])
        step[:, 0] = np.cumsum(step[:, 0])
        assert (np.cumsum(step, axis=1).reshape(shape) == table).all()


def test_roundings_are_those_of_the_texts() -> None:
    values = np.array([4.3449, 4.35, -0.04, 12.25, -3.05, 7.649999])
    for value, found in zip(values, tenths(values), strict=True):
        assert float(f"{value:.1f}") * 10 == pytest.approx(found)
    lengths = np.linspace(-3.0, 40.0, 777)
    for length, parts in zip(lengths, eighths(lengths), strict=True):
        feet, inches = divmod(abs(int(parts)) // 8, 12)
        assert length_text(float(length), "ft").lstrip("-").startswith(f"{feet} ft ")
        assert 0 <= inches < 12


def test_the_other_loudspeakers_are_there_too() -> None:
    four = [dict(one) for one in FOUR[:2]]
    four[0]["tilt"] = "[-40, 5]"
    text = HOUSE.format(speakers="".join(SPEAKER.format(**of) for of in four))
    scenario = load("-", stdin_text=text)
    plan = plan_of(page_html(complete(solve(scenario), ("page",))))
    assert [one["name"] for one in plan["speakers"]] == ["stalls main", "circle"]
    assert plan["file"] == "-"


def test_what_was_changed_on_the_command_line_goes_with_the_page() -> None:
    before = {"a": 1, "speaker": [{"name": "left box", "gain_db": 0, "x": 1}, {"name": "b"}]}
    after = {"a": 1, "speaker": [{"name": "left box", "gain_db": [-3, 0.5], "x": 1}, {"name": "b"}]}
    assert changed(before, after) == ['speaker."left box".gain_db=[-3, 0.5]']
    assert changed(before, before) == []
    answer = solved("quarry")[1]
    moved = load(SCENARIOS / "quarry.toml", changes={"speaker.main.pattern.coverage": 75})
    assert changed(tomllib.loads(moved.text), moved.document) == [
        "speaker.main.pattern.coverage=75"
    ]
    assert changed(tomllib.loads(answer.scenario.text), answer.scenario.document) == []


def luminance(colour: str) -> float:
    """Relative luminance, WCAG 2.2."""
    parts = [int(colour[place : place + 2], 16) / 255.0 for place in (1, 3, 5)]
    linear = [of / 12.92 if of <= 0.04045 else ((of + 0.055) / 1.055) ** 2.4 for of in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """Contrast ratio, WCAG 2.2."""
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_contrast_of_the_formula() -> None:
    """Black on white is 21, and #767676 is the lightest grey that text may have (WCAG 2.2)."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0, abs=0.01)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.01)


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_colours_can_be_told_apart(theme: str) -> None:
    """Text 4.5 to 1 (WCAG 2.2, 1.4.3), lines and controls 3 to 1 (1.4.11)."""
    css = CSS.read_text(encoding="utf-8")
    light, dark = css.split("prefers-color-scheme: dark", 1)
    part = light if theme == "light" else dark
    colour = dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6})", part))
    grounds = ("paper", "card", "even")
    for text, ground in product(("ink", "quiet", "act", "stop", "amber"), grounds):
        assert contrast(colour[text], colour[ground]) >= 4.5, (text, ground)
    for filled in ("act", "stop"):
        assert contrast(colour["on-act"], colour[filled]) >= 4.5
    for line, ground in product(("rule", "warm"), grounds):
        assert contrast(colour[line], colour[ground]) >= 3.0, (line, ground)
