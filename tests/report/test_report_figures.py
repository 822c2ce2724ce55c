"""The drawn section and the level chart: true to the answer, whole on the sheet, same bytes."""

from dataclasses import replace
from typing import Any
from xml.etree import ElementTree

import answers
import matplotlib
import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg

from aiming.analysis.section_map import level_map
from aiming.analysis.solve import evaluate
from aiming.report.figures import style as drawing_style
from aiming.report.figures.aim import HEIGHT_IN, WIDTH_IN, aim_figure, aim_figures
from aiming.report.figures.levels import places
from aiming.report.figures.section import marked
from aiming.results.section import Extent

SCENES = {"one": (answers.hall, answers.hall_answer), "four": (answers.house, answers.house_answer)}


def texts_of(svg: bytes) -> list[str]:
    root = ElementTree.fromstring(svg)
    return [
        "".join(one.itertext()).strip() for one in root.iter("{http://www.w3.org/2000/svg}text")
    ]


@pytest.fixture(scope="module", params=sorted(SCENES))
def sheet(request: pytest.FixtureRequest) -> tuple[Any, Any]:
    make, solve = SCENES[request.param]
    scenario = make()
    return scenario, solve(scenario)


def test_same_answer_same_bytes(sheet: tuple[Any, Any]) -> None:
    first, second = aim_figures(sheet[1]), aim_figures(sheet[1])
    assert set(first) == {"section.png", "section.svg", "section.pdf"}
    assert first == second
    assert first["section.png"].startswith(b"\x89PNG")
    assert first["section.pdf"].startswith(b"%PDF")
    assert b"CreationDate" not in first["section.pdf"]
    assert b"dc:date" not in first["section.svg"]


def test_a_persons_own_settings_change_nothing(sheet: tuple[Any, Any]) -> None:
    plain = aim_figures(sheet[1], ("svg",))
    with matplotlib.rc_context({"font.size": 20.0, "lines.linewidth": 5.0, "text.usetex": False}):
        assert aim_figures(sheet[1], ("svg",)) == plain


def test_everything_lies_on_the_sheet(sheet: tuple[Any, Any]) -> None:
    with drawing_style.style():
        figure = aim_figure(sheet[1])
        FigureCanvasAgg(figure).draw()
        drawn = figure.get_tightbbox()
    assert drawn.x0 >= 0.05 and drawn.y0 >= 0.05
    assert drawn.x1 <= WIDTH_IN - 0.05 and drawn.y1 <= HEIGHT_IN - 0.05


def test_words_at_the_foot_touch_nothing(sheet: tuple[Any, Any]) -> None:
    with drawing_style.style():
        figure = aim_figure(sheet[1])
        FigureCanvasAgg(figure).draw()
        chart = figure.axes[1].get_tightbbox()
        foot = [text.get_window_extent() for text in figure.texts if text.get_fontsize() == 7.0]
    assert foot
    assert max(box.y1 for box in foot) < chart.y0


def test_section_is_to_scale(sheet: tuple[Any, Any]) -> None:
    with drawing_style.style():
        section = aim_figure(sheet[1]).axes[0]
    box = section.get_position()
    wide = box.width * WIDTH_IN / np.ptp(section.get_xlim())
    tall = box.height * HEIGHT_IN / np.ptp(section.get_ylim())
    assert wide == pytest.approx(tall, rel=1e-6)


def test_says_the_figures_a_person_needs() -> None:
    scenario = answers.hall()
    said = texts_of(aim_figures(answers.hall_answer(scenario), ("svg",))["section.svg"])
    for wanted in ("nose down 13.0°", "4.40 m", "throw 11.41 m", "datum", "floor", "17"):
        assert wanted in said
    whole = " ".join(said)
    assert "nose down 11.9° to 14.4°" in whole
    assert "No rigging design" in whole
    assert "stage front edge, hall floor" in whole
    for never in ("safe", "approved"):
        assert never not in whole.lower()


def test_speaks_feet_where_the_scenario_does() -> None:
    scenario = answers.hall("ft")
    said = texts_of(aim_figures(answers.hall_answer(scenario), ("svg",))["section.svg"])
    assert "14 ft 5 1/4 in" in said
    assert "above the datum, ft" in said


def test_a_name_with_markup_stays_text() -> None:
    name = r"<b>Tom & $\frac{1}{2}$</b> 劇場"
    scenario = replace(answers.hall(), title=name)
    found = aim_figures(answers.hall_answer(scenario))
    assert name in texts_of(found["section.svg"])


def test_unknown_levels_are_drawn_as_unknown() -> None:
    scenario = answers.hall()
    answer = answers.hall_answer(scenario)
    levels = answer.rows.levels_db.copy()
    levels[:, 5] = np.nan
    rows = replace(answer.rows, levels_db=levels, design_level_db=levels.mean(axis=0))
    unknown = answers.with_curves(replace(answer, rows=rows))
    found = unknown.curves
    assert not found.complete and np.isnan(found.design_db[5])
    svg = aim_figures(unknown, ("svg",))["section.svg"]
    assert any("unknown rows left out" in text for text in texts_of(svg))


def test_a_single_row_and_no_aim_point_draw_too() -> None:
    text = answers.HALL.format(units="m").replace('row_spacing = "0.9 m"', "rows = 1")
    scenario = answers.load("-", stdin_text=text)
    answer = answers.hall_answer(scenario)
    only = replace(answer.speakers[0], aim_point=None, uniform_line=None, window=None)
    assert aim_figures(replace(answer, speakers=(only,)), ("svg",))


def test_a_stop_stands_on_the_sheet() -> None:
    scenario = answers.hall()
    answer = answers.hall_answer(scenario, cautions=(answers.STOP, *answers.CAUTIONS))
    said = texts_of(aim_figures(answer, ("svg",))["section.svg"])
    assert any(text.startswith("STOP: The front pick goes slack") for text in said)


def test_many_stops_do_not_run_off_the_sheet() -> None:
    scenario = answers.house()
    stops = tuple(replace(answers.STOP, text=f"{k}. {'stop ' * 30}") for k in range(12))
    answer = replace(answers.house_answer(scenario), cautions=(*stops, *answers.CAUTIONS))
    with drawing_style.style():
        figure = aim_figure(answer)
        FigureCanvasAgg(figure).draw()
        assert figure.get_tightbbox().y0 >= 0.05
        said = [text.get_text() for text in figure.texts]
    assert any(text.startswith("STOP: 0.") for text in said)
    assert "… more in the summary" in said


def test_curves_are_about_their_weighted_means() -> None:
    scenario = answers.house()
    found = answers.house_answer(scenario).curves
    weight = scenario.rows.weight
    assert found.complete
    assert float((found.design_db * weight).sum()) == pytest.approx(0.0, abs=1e-9)
    np.testing.assert_allclose(found.by_band_db @ weight, 0.0, atol=1e-9)


def test_level_map_reads_the_rows_levels() -> None:
    """On a grid through a row the map gives that row's own design level, shadow and all (dB)."""
    answer = evaluate(answers.house(), choices=False)
    hidden = [one.shadow_db.max(axis=0) > 6.0 for one in answer.rows.by_speaker.values()]
    assert any(of[row] for of in hidden for row in (0, 20, 49))
    for row in (0, 20, 49):
        x, z = float(answer.rows.x_m[row]), float(answer.rows.z_m[row])
        found = level_map(answer, extent=Extent(x, x + 2.0, z, z + 1.0), points=8)
        assert found.design_level_db[0, 0] == pytest.approx(
            answer.rows.design_level_db[row], abs=1e-9
        )
        assert found.design_level_db.shape == (len(found.z_m), len(found.x_m))
        # The grid's first row runs along x: its last point is read again from there.
        end = float(found.x_m[-1])
        again = level_map(answer, extent=Extent(end, end + 2.0, z, z + 1.0), points=8)
        assert found.design_level_db[0, -1] == pytest.approx(again.design_level_db[0, 0], abs=1e-9)


def test_coverage_edges_stand_beside_the_axis() -> None:
    scenario = answers.hall()
    edges = answers.hall_answer(scenario).edges["main"]
    assert edges.above_deg == pytest.approx(-13.0 + 30.0, abs=0.01)
    assert edges.below_deg == pytest.approx(-13.0 - 30.0, abs=0.01)


def test_marks_part_the_rows() -> None:
    louder, within, softer = (mask for _, mask in marked(np.array([3.1, 3.0, -3.0, -3.1, np.nan])))
    assert louder.tolist() == [True, False, False, False, False]
    assert within.tolist() == [False, True, True, False, False]
    assert softer.tolist() == [False, False, False, True, False]


def test_chart_parts_the_seatings() -> None:
    place, blocks = places(answers.house_answer())
    assert [last - first + 1 for first, last in blocks] == [25, 13, 12]
    assert place[25] - place[24] == 2.0


def test_extent_holds_everything(sheet: tuple[Any, Any]) -> None:
    _, answer = sheet
    extent = answer.extent
    for x, z in [
        *((one.x_m, one.height_m) for one in answer.speakers),
        *zip(answer.rows.x_m, answer.rows.z_m, strict=True),
        (0.0, 0.0),
    ]:
        assert extent.x_from < x < extent.x_to and extent.z_from < z < extent.z_to
    wide = extent.widened(5.0)
    assert wide.width_m / wide.height_m == pytest.approx(5.0)
    joined = wide.joined(extent)
    assert joined.width_m == pytest.approx(wide.width_m)
    assert joined.height_m == pytest.approx(wide.height_m)
