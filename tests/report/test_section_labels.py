"""The section as a drawing, over all shipped scenarios: labels keep clear, letters can be read."""

from dataclasses import replace
from itertools import combinations
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from answers import house_answer
from paths import ROOT

from aiming.analysis.complete import complete
from aiming.analysis.solve import solve
from aiming.base.arrays import FloatArray
from aiming.base.units import tilt_text
from aiming.field.walls import walls_of
from aiming.report.figures import style as look
from aiming.report.figures.aim import aim_figure, aim_figures
from aiming.report.figures.choices import choices_height_in, choices_shown
from aiming.report.page.view import house_view
from aiming.report.sheets.check_positions import check_sheet
from aiming.report.text.words import db_text
from aiming.results.choices import Choice
from aiming.scenario import load
from aiming.site.check_plan import check_plan

SHIPPED = sorted((ROOT / "scenarios").glob("*.toml"))
LEAST_POINTS = 7.0
MOST_IN_LEGEND = 6


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: str(path.stem))
def test_labels_keep_clear_and_can_be_read(path: Path) -> None:
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.text import Text

    answer = complete(solve(load(path), choices=False), ("section",))
    with look.style():
        figure = aim_figure(answer)
        canvas: Any = FigureCanvasAgg(figure)
        canvas.draw()
        texts = [one for one in figure.findobj(Text) if one.get_text() and one.get_visible()]
        labels = [one for one in texts if one.get_gid() == "label"]
        boxes = [(one.get_text(), one.get_window_extent(canvas.get_renderer())) for one in labels]
    told = "\n".join(one.get_text() for one in labels)
    assert all(one.name in told or len(answer.speakers) == 1 for one in answer.speakers)
    for (one, box), (other, other_box) in combinations(boxes, 2):
        assert not box.overlaps(other_box), (one, other)
    small = {one.get_text() for one in texts if one.get_fontsize() < LEAST_POINTS}
    assert not small
    assert len(figure.legends[0].get_texts()) <= MOST_IN_LEGEND
    hatched = [line for line in figure.axes[0].lines if line.get_path_effects()]
    assert len(hatched) == len(house_view(answer.scenario)["solid"])


def test_stops_stay_on_the_page() -> None:
    """Bold letters are wider; on the narrower paper too, none runs off the edge."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    text = (ROOT / "scenarios" / "quarry.toml").read_text(encoding="utf-8")
    weak = text.replace("wll_kg = 130", "wll_kg = 13")
    answer = complete(solve(load("-", stdin_text=weak), choices=False), ("section",))
    assert answer.stopped
    with look.style():
        figure = aim_figure(answer)
        figure.set_size_inches(11.0, 8.5)
        canvas: Any = FigureCanvasAgg(figure)
        canvas.draw()
        boxes = [text.get_window_extent(canvas.get_renderer()) for text in figure.texts]
    assert all(box.x0 >= 0.0 and box.x1 <= figure.bbox.width for box in boxes)


JOINT = tuple(
    Choice(name, kind, None, None, None, None, None, 7.5, 86.0, {key: value}, costs=("range",))
    for name, kind, key, value in (
        ("aimed one by one", "one by one", "together.aim", "one by one"),
        ("under-balcony delay 1 m further out", "place", 'speaker."a delay".placement.x', 17.4),
        ("without the delay of the gallery, over all rows", "fill", "together.without", ["it"]),
    )
)


@pytest.mark.parametrize("name", ["quarry", "school_auditorium", "several"])
def test_the_choices_stand_on_the_sheet(name: str) -> None:
    """Each with its figure and the change that takes it; no cell runs into the next."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    if name == "several":
        answer = replace(house_answer(), choices=(replace(JOINT[0], set={}, costs=()), *JOINT))
    else:
        answer = complete(solve(load(ROOT / "scenarios" / f"{name}.toml")), ("section",))
    shown = choices_shown(answer)
    assert 2 <= len(shown) <= 6 and shown[0] == answer.choices[0]
    with look.style():
        figure = aim_figure(answer)
        canvas: Any = FigureCanvasAgg(figure)
        canvas.draw()
        cells = [one for one in figure.texts if one.get_gid() == "choice" and one.get_text()]
        chart = figure.axes[1].get_tightbbox()
        boxes = [(one.get_text(), one.get_window_extent(canvas.get_renderer())) for one in cells]
        rest = [
            (one.get_text(), one.get_window_extent(canvas.get_renderer()))
            for one in figure.texts
            if one.get_gid() != "choice"
        ]
    told = {text for text, _ in boxes}
    for one in shown:
        assert any(text.startswith(one.name) for text in told)
        assert db_text(one.spread_db) in told
        assert one.set_text.removeprefix("--set ") in told | {""}
        assert one.tilt_deg is None or tilt_text(one.tilt_deg) in told
    for (first, box), (other, other_box) in combinations([*boxes, *rest], 2):
        assert not box.overlaps(other_box), (first, other)
    assert max(box.y1 for _, box in boxes) < chart.y0
    assert min(one.get_fontsize() for one in cells) >= LEAST_POINTS


def test_no_choices_take_no_room() -> None:
    assert choices_height_in(house_answer()) == 0.0


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: str(path.stem))
def test_every_wall_that_no_line_says_is_drawn(path: Path) -> None:
    """What reaches into the deep begins at an end of what the section and the page hatch."""
    scenario = load(path)
    walls = walls_of(scenario.seatings, scenario.surfaces)
    low, high = walls.start_m, walls.end_m
    swapped = low[:, 1:] > high[:, 1:]
    low, high = np.where(swapped, high, low), np.where(swapped, low, high)
    guessed = high[low[:, 1] < -1e4]
    hatched = house_view(scenario)["solid"]
    ends = np.array([end for top in hatched for end in (top[0], top[-1])])
    assert len(guessed) >= 2
    for foot in guessed:
        assert np.hypot(*(ends - foot).T).min() < 0.06


@pytest.mark.parametrize("name", ["school_auditorium", "field_with_delays"])
def test_check_positions_keep_clear_and_can_be_read(name: str) -> None:
    """In feet, and with names that fill their column: no cell runs into the next."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.text import Text

    answer = solve(load(ROOT / "scenarios" / f"{name}.toml"), choices=False)
    for one in answer.speakers:
        with look.style():
            figure = check_sheet(answer.scenario, check_plan(answer, speaker=one.name))
            canvas: Any = FigureCanvasAgg(figure)
            canvas.draw()
            texts = [text for text in figure.findobj(Text) if text.get_text().strip()]
            boxes = [
                (text.get_text(), text.get_window_extent(canvas.get_renderer()))
                for text in figure.texts
            ]
        for (first, box), (other, other_box) in combinations(boxes, 2):
            assert not box.overlaps(other_box), (first, other)
        assert not {text.get_text() for text in texts if text.get_fontsize() < LEAST_POINTS}


def test_the_map_is_darker_where_it_is_louder_in_grey_too() -> None:
    def lightness(colour: str) -> FloatArray:
        red, green, blue = (int(colour[at : at + 2], 16) for at in (1, 3, 5))
        return np.asarray(0.299 * red + 0.587 * green + 0.114 * blue)

    grey = [float(lightness(one)) for one in look.TONES]
    assert all(np.diff(grey) < -2.0)
    assert grey[-1] > 140.0  # lines and letters in ink stay readable on the darkest tone


def test_an_svg_has_a_title_and_fonts_to_fall_back_on() -> None:
    answer = solve(load(ROOT / "scenarios" / "quarry.toml"), choices=False)
    answer = complete(answer, ("section",))
    svg = aim_figures(answer, ("svg",))["section.svg"].decode()
    assert f"<title>{answer.title}</title>" in svg
    assert "sans-serif" in svg
    assert svg.count("'DejaVu Sans'") == svg.count("'DejaVu Sans', Verdana, sans-serif")
