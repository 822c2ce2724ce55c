"""The section as a drawing, over all shipped scenarios: labels keep clear, letters can be read."""

from itertools import combinations
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from paths import ROOT

from aiming.analysis.complete import complete
from aiming.analysis.solve import solve
from aiming.base.arrays import FloatArray
from aiming.report.figures import style as look
from aiming.report.figures.aim import aim_figure, aim_figures
from aiming.report.sheets.check_positions import check_sheet
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
