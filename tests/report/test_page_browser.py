"""The page in a real browser, opened from a file: looked at, moved, printed."""

import math
import re
import shlex
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from answers import FOUR, HOUSE, SPEAKER
from browser import MISSING, Browser, browser
from paths import ROOT
from pypdf import PdfReader

from aiming.analysis.complete import complete
from aiming.analysis.solve import evaluate, solve
from aiming.base.units import length_text, tilt_text
from aiming.report.figures.section import uniform_shown_m
from aiming.report.page import page_html
from aiming.report.text.words import mass_of_text
from aiming.results.answer import Answer
from aiming.scenario import Scenario, load, parse_set

pytestmark = pytest.mark.skipif(MISSING is not None, reason=MISSING or "")
SCENARIOS = ROOT / "scenarios"
NASTY = '</script><script>alert(1)</script><b>Hall & "Sons"</b> <!--'
LOPSIDED = {"speaker.main.cabinet.outline": [[-0.4, -0.2], [0.05, -0.2], [0.05, 0.6], [-0.4, 0.5]]}
DESKTOP, PHONE = (1280, 800), (390, 844)


@pytest.fixture(scope="module")
def window(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    with browser(tmp_path_factory.mktemp("browser")) as one:
        yield one


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Pages by name, each made once."""
    folder = tmp_path_factory.mktemp("pages")
    four = [dict(one) for one in FOUR[:3]]
    four[0] |= {"tilt": "[-40, 5]", "height": "[6.5, 9]"}
    house = HOUSE.format(speakers="".join(SPEAKER.format(**of) for of in four))
    named = {"title": NASTY, "datum.name": NASTY, "seating.'lower tier'.name": NASTY}
    scenarios = {
        "quarry": load(SCENARIOS / "quarry.toml"),
        "feet": load(SCENARIOS / "hillside_feet.toml"),
        "gym": load(SCENARIOS / "school_gym.toml", changes=LOPSIDED),
        "club": load(SCENARIOS / "basement_club.toml"),
        "nasty": load(SCENARIOS / "quarry.toml", changes=named),
        "four": load("-", stdin_text=house),
    }
    made = {}
    for name, scenario in scenarios.items():
        made[name] = folder / f"{name}.html"
        made[name].write_text(page_html(complete(solve(scenario), ("page",))), encoding="utf-8")
    return made


def opened(window: Browser, page: Path, size: tuple[int, int] = DESKTOP, text: int = 100) -> None:
    window.open(page, width=size[0], height=size[1], text=text)


def hang(window: Browser) -> dict[str, str]:
    """The hang's figures as the page lists them."""
    script = (
        "return [...document.querySelectorAll('#hang div')].map("
        "one => [one.firstChild.textContent, one.lastChild.textContent])"
    )
    return dict(window.run(script))


def evaluated(window: Browser, file: str) -> tuple[Scenario, Answer]:
    """What `evaluate` gives for the placement that the page names as a command."""
    words = shlex.split(window.text("#command"))
    assert words[:2] == ["aiming", "evaluate"]
    pairs = zip(words[3::2], words[4::2], strict=True)
    changes = dict(parse_set(text) for option, text in pairs if option == "--set")
    if "school_gym" in file:
        changes = {**LOPSIDED, **changes}
    scenario = load(SCENARIOS / file, changes=changes)
    return scenario, evaluate(scenario)


def plain(text: str) -> str:
    """With the hyphen instead of the minus sign."""
    return text.replace("\u2212", "-")


def hold(window: Browser, file: str) -> None:
    """Everything shown against `evaluate`, to the rounding shown."""
    scenario, answer = evaluated(window, file)
    one, shown = answer.speakers[0], hang(window)
    unit: Any = window.run("return document.querySelector('input[name=unit]:checked').value")
    assert shown["Tilt"] == tilt_text(one.tilt_deg)
    assert shown["Acoustic centre"].startswith(length_text(one.height_m, unit) + " above")
    if scenario.speakers[0].cabinet is not None:
        assert shown["Trim, lowest point"].startswith(length_text(one.trim_m, unit) + " above")
    if one.aim_point is None or one.aim_row is None:
        assert shown["Axis meets"] == "no seating that it serves"
    else:
        away = ((one.aim_point[0] - one.x_m) ** 2 + (one.aim_point[1] - one.height_m) ** 2) ** 0.5
        assert f"the ears of row {answer.rows.name[one.aim_row]}" in shown["Axis meets"]
        assert f"{length_text(away, unit)} away" in shown["Axis meets"]
    alone = answer.curves.alone[one.name]
    rows, level = alone.rows, alone.level_db
    assert plain(shown["Spread"]).startswith(f"{one.spread_db:.1f} dB, from row ")
    assert f"row {answer.rows.name[rows[level.argmax()]]}" in shown["Spread"]
    assert shown["Worst band"] == f"{one.worst_band_spread_db:.1f} dB"
    assert shown["Within ±3 dB"] == f"{one.rows_within_3db_percent:.0f} % of the rows"
    for band, figures in zip(("1", "2", "4", "8"), one.by_band.values(), strict=True):
        assert f"{band} kHz {figures.spread_db:.1f}" in shown["By band"]
    for load_ in one.loads.points if one.loads else ():
        text = plain(shown[f"Load, {load_.name}"])
        assert text.startswith(plain(mass_of_text(load_.tension_n, unit)))
        assert f"{100 * load_.share:.0f} % of the weight" in text
    for row, cell in zip(level, table(window), strict=True):
        assert plain(cell) == f"{row:+.1f} dB".replace("+0.0", "0.0").replace("-0.0", "0.0")
    told = window.run(
        "return [...document.querySelectorAll('#cautions li')].map(one => one.textContent)"
    )
    words = {"stop": "STOP", "caution": "Caution", "note": "Note"}
    wanted = dict.fromkeys(f"{words[of.severity]} {of.text}" for of in answer.cautions)
    assert set(told) >= {of for of in wanted if "may be set" not in of}


def table(window: Browser) -> list[str]:
    """The design level of every row."""
    window.run("document.getElementById('all-rows').open = true")
    window.until("document.querySelector('#rows td') !== null")
    script = (
        "return [...document.querySelectorAll('#rows tbody tr')]"
        ".map(one => one.cells[1].textContent)"
    )
    return [str(one) for one in window.run(script)]


def test_it_opens_from_a_file_and_asks_for_nothing(window: Browser, pages: dict[str, Path]) -> None:
    window.requests()
    window.complaints()
    for name, page in pages.items():
        opened(window, page)
        asked = {of for of in window.requests() if not of.startswith("data:")}
        assert asked == {page.as_uri()}, name
        assert window.complaints() == [], name
        assert window.run("return document.getElementById('words').hidden"), name


def test_figures_are_those_of_evaluate(window: Browser, pages: dict[str, Path]) -> None:
    opened(window, pages["quarry"])
    hold(window, "quarry.toml")
    own = hang(window)
    for tilt, vertical in ((3, 2), (22, 9), (50, 0)):
        window.slide("#tilt", tilt)
        window.slide("#vertical", vertical)
        assert hang(window)["Tilt"] != own["Tilt"]
        hold(window, "quarry.toml")
    window.click("input[value=ft]")
    hold(window, "quarry.toml")
    window.click("#back")
    window.click("input[value=m]")
    assert hang(window) == own


def test_trims_feet_and_orientations_too(window: Browser, pages: dict[str, Path]) -> None:
    opened(window, pages["feet"])
    assert window.text("#vertical-name") == "Trim"
    window.slide("#vertical", 4)
    window.slide("#tilt", 11)
    hold(window, "hillside_feet.toml")
    window.click("input[value=m]")
    hold(window, "hillside_feet.toml")
    opened(window, pages["gym"])
    window.click("#orientation input:not(:checked)")
    assert hang(window)["Hung"] == "flown, flipped"
    assert_answer = evaluated(window, "school_gym.toml")[1].speakers[0]
    assert hang(window)["Spread"].startswith(f"{assert_answer.spread_db:.1f} dB")


def test_everything_moves_at_once(window: Browser, pages: dict[str, Path]) -> None:
    opened(window, pages["quarry"])

    def seen() -> list[str]:
        parts = ("#section .axis.is", "#section .edge", "#section .box")
        parts += ("#section .aim", "#chart .mark", "#chart .curve")
        script = "return arguments[0].map(one => document.querySelector(one).outerHTML)"
        return [str(one) for one in window.run(script, list(parts))]

    before = seen()
    assert window.run("return document.querySelectorAll('.was').length") == 0
    window.slide("#tilt", 5)
    after = seen()
    assert all(one != other for one, other in zip(before, after, strict=True))
    assert window.run("return document.querySelectorAll('.was').length") == 3  # one in the key
    assert re.search(r"Spread \+\d+\.\d dB against the solved aim", window.text("#moved"))
    curve = window.run("return document.querySelector('#chart .curve:not(.was)').outerHTML")
    window.click("input[name=band][value='4']")
    assert curve != window.run("return document.querySelector('#chart .curve:not(.was)').outerHTML")
    assert "dB at 8 kHz, from" in hang(window)["Spread"]


def drawn(window: Browser, answer: Answer) -> dict[str, Any]:
    """What the section draws, read back into metres from where it puts first and last row."""
    script = """
    const numbers = (text) => text.match(/-?[0-9.]+/g).map(Number);
    const one = (kind) => document.querySelector(`#section ${kind}`);
    const marks = [...document.querySelectorAll('#section .mark')];
    const pairs = (kind) => one(kind) ? numbers(one(kind).getAttribute('d')) : [];
    return {
      rows: marks.map((of) => numbers(of.getAttribute('transform')).slice(0, 2)),
      centre: ['cx', 'cy'].map((of) => Number(one('.centre').getAttribute(of))),
      axis: pairs('.axis.is'), uniform: pairs('.uniform'), box: pairs('.box'),
      edges: [...document.querySelectorAll('#section .edge')]
        .map((of) => numbers(of.getAttribute('d'))),
    };
    """
    found: dict[str, Any] = window.run(script)
    (x0, y0), (x1, _) = found["rows"][0], found["rows"][-1]
    rows = answer.rows
    scale = (x1 - x0) / float(rows.x_m[-1] - rows.x_m[0])

    def metres(pixels: list[float]) -> list[tuple[float, float]]:
        return [
            (float(rows.x_m[0]) + (x - x0) / scale, float(rows.z_m[0]) - (y - y0) / scale)
            for x, y in zip(pixels[::2], pixels[1::2], strict=True)
        ]

    flat = {name: metres(found[name]) for name in ("centre", "axis", "uniform", "box")}
    return flat | {"edges": [metres(one) for one in found["edges"]], "pixel_m": 1.0 / scale}


@pytest.mark.parametrize("name", ["quarry", "gym"])
def test_what_is_drawn_is_where_it_is(window: Browser, pages: dict[str, Path], name: str) -> None:
    opened(window, pages[name])
    window.slide("#tilt", 3)
    if name == "gym":
        window.click("#orientation input:not(:checked)")
    file = {"quarry": "quarry.toml", "gym": "school_gym.toml"}[name]
    _, answer = evaluated(window, file)
    one, seen = answer.speakers[0], drawn(window, answer)
    near = 1.0 * seen["pixel_m"]
    assert seen["centre"][0] == pytest.approx((one.x_m, one.height_m), abs=near)
    assert one.aim_point is not None
    assert seen["axis"][-1] == pytest.approx(one.aim_point, abs=near)
    edges = answer.edges[one.name]
    for line, elevation in zip(seen["edges"], (edges.below_deg, edges.above_deg), strict=True):
        angle = math.degrees(math.atan2(line[1][1] - line[0][1], line[1][0] - line[0][0]))
        assert angle == pytest.approx(elevation, abs=0.2)
    assert min(z for _, z in seen["box"]) == pytest.approx(one.trim_m, abs=near)


@pytest.mark.parametrize("steps", [(0, 0), (30, 0), (50, 3)])
@pytest.mark.parametrize("name", ["quarry", "feet", "gym", "club"])
def test_the_uniform_line_is_drawn_where_the_section_has_it(
    window: Browser, pages: dict[str, Path], name: str, steps: tuple[int, int]
) -> None:
    opened(window, pages[name])
    for axis, step in zip(("#tilt", "#vertical"), steps, strict=True):
        if not window.run(f"return document.querySelector('{axis}-box').hidden"):
            window.slide(axis, step)
    file = {"feet": "hillside_feet", "gym": "school_gym", "club": "basement_club"}.get(name, name)
    _, answer = evaluated(window, f"{file}.toml")
    one = answer.speakers[0]
    seen = drawn(window, answer)["uniform"]
    assert bool(seen) == (uniform_shown_m(answer, one) is not None)
    if seen:
        assert one.uniform_line is not None and one.aim_point is not None
        assert seen[0] == pytest.approx(one.aim_point, abs=0.05)
        assert seen[-1] == pytest.approx(one.uniform_line.edge, abs=0.05)


def test_the_keyboard_is_enough(window: Browser, pages: dict[str, Path]) -> None:
    opened(window, pages["quarry"])
    tilt = window.text("#tilt-words")
    window.press("#tilt", "right")
    assert window.text("#tilt-words") != tilt
    window.press("#tilt", "left")
    assert window.text("#tilt-words") == tilt
    window.press("#tilt", "home")
    assert window.run("return document.querySelector('#tilt').value") == "0"
    valued = window.run("return document.querySelector('#tilt').getAttribute('aria-valuetext')")
    assert valued == window.text("#tilt-words")
    window.press("#back", " ")
    assert window.text("#tilt-words") == tilt
    window.press("input[name=band]:checked", "right")
    assert window.run("return document.querySelector('input[name=band]:checked').value") == "1"
    window.press("#all-rows summary", " ")
    assert window.run("return document.querySelector('#all-rows').open")


@pytest.mark.parametrize("name", ["feet", "nasty", "four"])
@pytest.mark.parametrize(
    ("size", "text"), [(DESKTOP, 100), (DESKTOP, 200), (PHONE, 100), (PHONE, 200)]
)
def test_nothing_runs_out_of_the_window(
    window: Browser, pages: dict[str, Path], name: str, size: tuple[int, int], text: int
) -> None:
    opened(window, pages[name], size, text)
    window.slide("#tilt", 1)
    assert window.run("return document.documentElement.scrollWidth") <= size[0]
    beyond = (
        "return [...document.querySelectorAll('main *')].filter(one => "
        "!one.closest('.wide') && !one.closest('.unseen') && !one.closest('svg') && "
        "one.getBoundingClientRect().right > innerWidth + 0.5).map(one => one.outerHTML)"
    )
    assert window.run(beyond) == []
    letters = window.run(
        "return [...document.querySelectorAll('svg text')]"
        ".map(one => parseFloat(getComputedStyle(one).fontSize))"
    )
    assert min(letters) >= 0.12 * text - 0.01


def test_fingers_find_what_they_press(window: Browser, pages: dict[str, Path]) -> None:
    """At least 44 by 44 px (WCAG 2.2, 2.5.5)."""
    opened(window, pages["gym"], PHONE)
    sizes = window.run(
        "return [...document.querySelectorAll("
        "'main button, main select, .pick span, main input[type=range], summary')]"
        ".filter(one => one.offsetParent).map(one => [one.offsetWidth, one.offsetHeight])"
    )
    assert len(sizes) >= 10
    assert all(width >= 44 and height >= 44 for width, height in sizes)
    tilt = window.text("#tilt-words")
    window.click("#tilt-more")
    assert window.text("#tilt-words") != tilt


def test_what_the_user_wrote_stays_text(window: Browser, pages: dict[str, Path]) -> None:
    opened(window, pages["nasty"])
    assert window.text("h1") == NASTY
    assert window.run("return document.querySelectorAll('main b, header b').length") == 0
    assert window.run("return document.querySelectorAll('script').length") == 2
    assert NASTY in window.run(
        "return [...document.querySelectorAll('#chart text')].map(one => one.textContent)"
    )


def test_one_of_several_is_moved(window: Browser, pages: dict[str, Path]) -> None:
    opened(window, pages["four"])
    assert window.run("return document.querySelectorAll('#section .box').length") == 3
    together = window.text("#headline")
    window.click("#heard input[value=alone]")
    assert window.text("#headline") != together
    window.run(
        "const one = document.getElementById('speaker'); one.value = '2';"
        "one.dispatchEvent(new Event('change'))"
    )
    assert hang(window)["Loudspeaker"] == "gallery"
    window.slide("#tilt", 0)
    assert "Moved" in window.text("#moved") or "against" in window.text("#moved")


@pytest.mark.parametrize("name", ["quarry", "feet", "four"])
@pytest.mark.parametrize(("width_cm", "height_cm"), [(21.0, 29.7), (21.59, 27.94)])
def test_it_prints_on_one_page(
    window: Browser, pages: dict[str, Path], name: str, width_cm: float, height_cm: float
) -> None:
    opened(window, pages[name])
    window.slide("#tilt", 9)
    printed = PdfReader(BytesIO(window.printed(width_cm=width_cm, height_cm=height_cm)))
    assert len(printed.pages) == 1
    text = printed.pages[0].extract_text()
    assert "Acoustic centre" in text
    assert "No rigging design" in text
    assert window.text("#tilt-words") in text


def test_without_scripts_the_answer_is_still_there(pages: dict[str, Path]) -> None:
    page = pages["quarry"].read_text(encoding="utf-8")
    shown = page[page.index('<section id="words">') :]
    assert "nose down 8.6" in shown[: shown.index("</section>")]
    assert '<main id="live" hidden>' in page


@pytest.mark.parametrize("name", ["quarry", "feet"])
def test_a_choice_is_a_button_that_gives_what_it_says(
    window: Browser, pages: dict[str, Path], name: str
) -> None:
    opened(window, pages[name])
    offered = window.run(
        "return [...document.querySelectorAll('#choice-list li')].filter((one) => "
        "one.querySelector('button')).map((one) => one.querySelector('.hint').textContent)"
    )
    assert len(offered) >= 2
    for place, told in enumerate(offered):
        script = "document.querySelectorAll('#choice-list button')[arguments[0]].click()"
        window.run(script, place)
        assert f"Spread {told.split(', ')[0]}" in " ".join(window.text("#headline").split())
        assert "--set" in window.text("#command")


def test_choices_about_all_together_come_with_what_takes_them(
    window: Browser, pages: dict[str, Path]
) -> None:
    opened(window, pages["four"])
    commands = window.run(
        "return [...document.querySelectorAll('#choice-list code')].map((one) => one.textContent)"
    )
    assert commands
    for command in commands:
        option, change = shlex.split(command)[:2]
        assert option == "--set" and parse_set(change)


def test_a_link_shows_the_same_again(window: Browser, pages: dict[str, Path]) -> None:
    opened(window, pages["quarry"])
    own = window.run("return location.hash")
    assert own == ""
    window.slide("#tilt", 5)
    window.click("input[name=band][value='2']")
    shown, link = hang(window), window.run("return location.hash")
    assert link
    opened(window, pages["quarry"])
    window.run("location.hash = arguments[0]", link)
    window.until("document.querySelector('input[name=band]:checked').value === '2'")
    assert hang(window) == shown


@pytest.mark.parametrize("size", [DESKTOP, PHONE])
def test_the_result_stays_in_view_while_the_sliders_are_used(
    window: Browser, pages: dict[str, Path], size: tuple[int, int]
) -> None:
    opened(window, pages["quarry"], size)
    window.run("document.getElementById('tilt').scrollIntoView({ block: 'center' })")
    top, bottom = window.run(
        "const of = document.getElementById('headline').getBoundingClientRect();"
        "return [of.top, of.bottom]"
    )
    assert top >= 0 and bottom <= size[1]
