"""Drawings: what is drawn in any unit, block or bulge comes back in metres to 0.1 mm."""

import sys
from pathlib import Path
from typing import Any

import ezdxf
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from aiming.base.errors import MissingExtraError, ScenarioError
from aiming.files.drawing import drawing_summary, floor_from_drawing, surfaces_from_drawing
from aiming.files.dxf import METRES_PER_UNIT, joined

TIER_M = np.array([[4.0, 0.0], [9.5, 0.62], [9.5, 0.87], [13.0, 1.31], [18.0, 2.4]])
CODES = {"mm": 4, "cm": 5, "m": 6, "ft": 2, "in": 1, "yd": 10, "us-ft": 21}
CLOSE_M = 1e-4


def drawing(units: int = 6) -> tuple[Any, Any]:
    document = ezdxf.new("R2010", units=units)
    return document, document.modelspace()


def saved(document: Any, folder: Path, name: str = "section.dxf") -> Path:
    path = folder / name
    document.saveas(path)
    return path


def on(layer: str) -> dict[str, str]:
    return {"layer": layer}


def message(path: Path, **options: Any) -> str:
    options.setdefault("layer", "tier")
    with pytest.raises(ScenarioError) as caught:
        floor_from_drawing(path, display="section.dxf", **options)
    assert len(caught.value.faults) == 1
    assert str(caught.value).startswith("section.dxf:1:1: ")
    return str(caught.value)


@pytest.mark.parametrize("unit", sorted(CODES))
@pytest.mark.parametrize("kind", ["lwpolyline", "polyline2d", "polyline3d", "lines"])
def test_round_trip_in_every_unit(unit: str, kind: str, tmp_path: Path) -> None:
    document, space = drawing(CODES[unit])
    points = [tuple(p) for p in TIER_M / METRES_PER_UNIT[unit]]
    if kind == "lwpolyline":
        space.add_lwpolyline(points, dxfattribs=on("tier"))
    elif kind == "polyline2d":
        space.add_polyline2d(points, dxfattribs=on("tier"))
    elif kind == "polyline3d":
        space.add_polyline3d([(x, y, 0.0) for x, y in points], dxfattribs=on("tier"))
    else:
        for index in (2, 0, 3, 1):  # in no order, and every other one backwards
            ends = points[index : index + 2]
            space.add_line(*(ends if index % 2 else ends[::-1]), dxfattribs=on("tier"))
    floor = floor_from_drawing(saved(document, tmp_path), layer="tier")
    np.testing.assert_allclose(floor, TIER_M, atol=CLOSE_M, rtol=0)


def test_stated_unit_takes_precedence_and_the_origin_is_taken_off(tmp_path: Path) -> None:
    document, space = drawing(units=6)
    space.add_lwpolyline([tuple(p) for p in TIER_M * 1000.0], dxfattribs=on("tier"))
    floor = floor_from_drawing(
        saved(document, tmp_path), layer="TIER", drawing_units="mm", origin_m=(1.5, -0.2)
    )
    np.testing.assert_allclose(floor, TIER_M - [1.5, -0.2], atol=CLOSE_M, rtol=0)


def test_drawn_from_the_last_row_or_mirrored(tmp_path: Path) -> None:
    document, space = drawing()
    space.add_lwpolyline([tuple(p) for p in TIER_M[::-1]], dxfattribs=on("tier"))
    space.add_lwpolyline([(-x, y) for x, y in TIER_M], dxfattribs=on("left"))
    path = saved(document, tmp_path)
    np.testing.assert_allclose(floor_from_drawing(path, layer="tier"), TIER_M, atol=CLOSE_M)
    turned = floor_from_drawing(path, layer="left", mirrored=True)
    np.testing.assert_allclose(turned, TIER_M, atol=CLOSE_M)


def test_bulge_is_the_arc_it_stands_for(tmp_path: Path) -> None:
    # A half circle of radius 5 about (5, 0), below the chord: bulge +1 turns left.
    document, space = drawing(units=4)
    space.add_lwpolyline(
        [(0, 0, 1.0), (10_000, 0, 0.0), (12_000, 500, 0.0)], format="xyb", dxfattribs=on("tier")
    )
    space.add_polyline2d(
        [(0, 0, 1.0), (10_000, 0, 0.0), (12_000, 500, 0.0)],
        format="xyb",
        dxfattribs=on("old"),
    )
    space.add_arc((5000, 0), 5000, 180, 360, dxfattribs=on("arc"))
    space.add_line((12_000, 500), (10_000, 0), dxfattribs=on("arc"))
    path = saved(document, tmp_path)
    for layer in ("tier", "old", "arc"):
        floor = floor_from_drawing(path, layer=layer)
        arc = floor[floor[:, 0] < 10.0 - 1e-9]
        assert arc[:, 1].min() == pytest.approx(-5.0, abs=1e-3)
        np.testing.assert_allclose(np.hypot(arc[:, 0] - 5.0, arc[:, 1]), 5.0, atol=CLOSE_M)
        middle = 0.5 * (arc[:-1] + arc[1:])
        inside = 5.0 - np.hypot(middle[:, 0] - 5.0, middle[:, 1])
        assert 0.0 < inside.max() <= 1e-3 + 1e-9  # a chord's sagitta
        np.testing.assert_allclose(floor[-1], [12.0, 0.5], atol=CLOSE_M)


@settings(deadline=None, derandomize=True, max_examples=25)
@given(bulge=st.floats(-3.0, 3.0).filter(lambda b: abs(b) > 0.01), x=st.floats(2.0, 50.0))
def test_bulge_against_the_reader_librarys_own_arc(bulge: float, x: float) -> None:
    from ezdxf.math import bulge_to_arc

    from aiming.files.dxf import points_of

    _, space = drawing()
    line = space.add_lwpolyline([(0, 0, bulge), (x, 1.0, 0.0)], format="xyb")
    points = points_of(line, sagitta=1e-3)
    assert points is not None
    centre, _, _, radius = bulge_to_arc((0, 0), (x, 1.0), bulge)
    off = np.hypot(points[:, 0] - centre.x, points[:, 1] - centre.y)
    np.testing.assert_allclose(off, radius, rtol=1e-9)
    length = np.hypot(*np.diff(points[:, :2], axis=0).T).sum()
    assert length == pytest.approx(radius * 4.0 * np.arctan(abs(bulge)), rel=1e-2)


def test_blocks_turned_scaled_nested_take_the_layer_of_their_insertion(tmp_path: Path) -> None:
    document, space = drawing(units=4)
    step = document.blocks.new("step")  # 1 wide and 1 high, on layer 0
    step.add_line((0, 0), (1, 0))
    step.add_line((1, 0), (1, 1))
    pair = document.blocks.new("pair")
    pair.add_blockref("step", (0, 0))
    pair.add_blockref("step", (1, 1))
    pair.add_line((0, 5), (1, 5), dxfattribs=on("other"))
    space.add_blockref(
        "pair", (4000, 100), dxfattribs={**on("tier"), "xscale": 900.0, "yscale": 200.0}
    )
    # Drawn as a section through a house that lies on its side: turned by 90 degrees.
    side = document.blocks.new("side")
    side.add_line((0, 0), (0, -2000))
    space.add_blockref("side", (5800, 500), dxfattribs={**on("tier"), "rotation": 90.0})
    path = saved(document, tmp_path)
    expected = [[4.0, 0.1], [4.9, 0.1], [4.9, 0.3], [5.8, 0.3], [5.8, 0.5], [7.8, 0.5]]
    np.testing.assert_allclose(
        floor_from_drawing(path, layer="tier"), expected, atol=CLOSE_M, rtol=0
    )
    np.testing.assert_allclose(
        floor_from_drawing(path, layer="other"), [[4.0, 1.1], [4.9, 1.1]], atol=CLOSE_M, rtol=0
    )


def test_block_repeated_in_rows_and_mirrored(tmp_path: Path) -> None:
    document, space = drawing()
    step = document.blocks.new("step")
    step.add_line((0, 0), (1, 0))
    space.add_blockref(
        "step", (2, 0), dxfattribs={**on("tier"), "column_count": 4, "column_spacing": 1.0}
    )
    space.add_blockref("step", (9, 3), dxfattribs={**on("wall"), "xscale": -1.0})
    path = saved(document, tmp_path)
    floor = floor_from_drawing(path, layer="tier")
    np.testing.assert_allclose(floor[[0, -1]], [[2.0, 0.0], [6.0, 0.0]], atol=CLOSE_M)
    np.testing.assert_allclose(floor_from_drawing(path, layer="wall"), [[8.0, 3.0], [9.0, 3.0]])


def test_arc_in_a_block_squeezed_to_an_ellipse(tmp_path: Path) -> None:
    document, space = drawing()
    dish = document.blocks.new("dish")
    dish.add_arc((0, 0), 1.0, 180, 360)
    space.add_blockref("dish", (5, 0), dxfattribs={**on("tier"), "xscale": 4.0, "yscale": 1.0})
    floor = floor_from_drawing(saved(document, tmp_path), layer="tier")
    np.testing.assert_allclose(floor[[0, -1]], [[1.0, 0.0], [9.0, 0.0]], atol=CLOSE_M)
    equation = ((floor[:, 0] - 5.0) / 4.0) ** 2 + floor[:, 1] ** 2
    np.testing.assert_allclose(equation, 1.0, atol=CLOSE_M)


def test_spline_and_mirrored_axes(tmp_path: Path) -> None:
    document, space = drawing()
    space.add_spline([(0, 0), (4, 0.5), (9, 2.0)], dxfattribs=on("spline"))
    space.add_lwpolyline([(-4, 0), (-9, 1)], dxfattribs={**on("mirrored"), "extrusion": (0, 0, -1)})
    path = saved(document, tmp_path)
    np.testing.assert_allclose(
        floor_from_drawing(path, layer="spline")[[0, -1]], [[0, 0], [9, 2]], atol=CLOSE_M
    )
    np.testing.assert_allclose(floor_from_drawing(path, layer="mirrored"), [[4, 0], [9, 1]])


def test_twice_drawn_and_zero_length_lines_do_no_harm(tmp_path: Path) -> None:
    document, space = drawing()
    for start, end in [((0, 0), (5, 0)), ((5, 0), (0, 0)), ((5, 0), (5, 0)), ((5, 0), (9, 1))]:
        space.add_line(start, end, dxfattribs=on("tier"))
    floor = floor_from_drawing(saved(document, tmp_path), layer="tier")
    np.testing.assert_allclose(floor, [[0, 0], [5, 0], [9, 1]], atol=CLOSE_M)


def test_riser_that_leans_back_by_rounding_stands_upright(tmp_path: Path) -> None:
    document, space = drawing()
    space.add_lwpolyline([(0, 0), (5, 0), (4.9996, 0.4), (9, 0.4)], dxfattribs=on("tier"))
    floor = floor_from_drawing(saved(document, tmp_path), layer="tier")
    assert floor[2, 0] == floor[1, 0] == 5.0


def test_surfaces_may_be_many_closed_and_branching(tmp_path: Path) -> None:
    document, space = drawing()
    space.add_lwpolyline([(0, 0), (1, 0), (1, 1)], close=True, dxfattribs=on("walls"))
    space.add_line((5, 0), (5, 7), dxfattribs=on("walls"))
    space.add_line((5, 7), (5, 9), dxfattribs=on("walls"))
    space.add_line((5, 7), (2, 7), dxfattribs=on("walls"))
    lines = surfaces_from_drawing(saved(document, tmp_path), layer="walls")
    assert [len(line) for line in lines] == [2, 4, 2, 2]
    np.testing.assert_allclose(lines[0], [[5, 0], [5, 7]])
    np.testing.assert_allclose(lines[1][0], lines[1][-1])


def test_missing_layer_lists_the_layers_there_are(tmp_path: Path) -> None:
    document, space = drawing()
    space.add_line((0, 0), (1, 0), dxfattribs=on("lower tier"))
    document.layers.add("balcony")
    text = message(saved(document, tmp_path), layer="stalls")
    assert 'layer: no layer "stalls"' in text
    assert '"balcony"' in text
    assert '"lower tier"' in text


def test_unitless_is_refused_until_the_unit_is_said(tmp_path: Path) -> None:
    document, space = drawing(units=0)
    space.add_lwpolyline([(0, 0), (18_000, 2400)], dxfattribs=on("tier"))
    path = saved(document, tmp_path)
    text = message(path)
    assert "drawing_units: the drawing names no unit" in text
    assert "18000 by 2400" in text
    floor = floor_from_drawing(path, layer="tier", drawing_units="mm")
    np.testing.assert_allclose(floor, [[0, 0], [18, 2.4]], atol=CLOSE_M)
    assert '"metre"; one of "mm"' in message(path, drawing_units="metre")


def test_header_without_a_unit_is_unitless(tmp_path: Path) -> None:
    path = tmp_path / "old.dxf"
    path.write_text(
        "0\nSECTION\n2\nENTITIES\n0\nLINE\n8\ntier\n10\n0.0\n20\n0.0\n11\n9.0\n21\n1.0\n"
        "0\nENDSEC\n0\nEOF\n"
    )
    assert "names no unit" in message(path)
    floor = floor_from_drawing(path, layer="tier", drawing_units="m")
    np.testing.assert_allclose(floor, [[0, 0], [9, 1]])


def test_millimetres_read_as_metres_are_asked_about_and_the_other_way_round(
    tmp_path: Path,
) -> None:
    document, space = drawing(units=6)
    space.add_lwpolyline([(0, 0), (24_000, 2400)], dxfattribs=on("tier"))
    text = message(saved(document, tmp_path))
    assert "24000 m by 2400 m if given in m; is that the unit?" in text
    document, space = drawing(units=4)
    space.add_lwpolyline([(0, 0), (24, 2.4)], dxfattribs=on("tier"))
    assert "0.024 m by 0.0024 m if given in mm" in message(saved(document, tmp_path, "b.dxf"))


def test_faults_of_the_line_itself(tmp_path: Path) -> None:
    document, space = drawing()
    for start in (0.0, 10.0, 20.0):
        space.add_line((start, 0), (start + 9.0 + start / 25.0, 1), dxfattribs=on("apart"))
    for end in ((5, 0), (0, 5), (-5, 0)):
        space.add_line((0, 0), end, dxfattribs=on("star"))
    space.add_lwpolyline([(0, 0), (5, 0), (5, 2)], close=True, dxfattribs=on("ring"))
    space.add_lwpolyline([(0, 0), (5, 0), (4, 2), (9, 2)], dxfattribs=on("back"))
    space.add_line((0, 0, 0), (5, 0, 3), dxfattribs=on("solid"))
    space.add_text("row A", dxfattribs=on("words"))
    document.layers.add("empty")
    path = saved(document, tmp_path)
    text = message(path, layer="apart")
    assert '"apart" holds 3 lines that do not meet: (0.000, 0.000) to (9.000, 1.000), ' in text
    assert "smallest gap 1166 mm, at (19.400, 1.000)" in text
    assert "branch at (0.000, 0.000)" in message(path, layer="star")
    assert "is closed, at (0.000, 0.000)" in message(path, layer="ring")
    assert "runs back from x 5.000 m to (4.000, 2.000)" in message(path, layer="back")
    assert "is not flat: its z spans 3 m" in message(path, layer="solid")
    assert '"words" holds no line (1 TEXT)' in message(path, layer="words")
    assert '"empty" holds no line (it is empty)' in message(path, layer="empty")


def test_files_that_are_no_whole_text_drawing(tmp_path: Path) -> None:
    document, space = drawing()
    space.add_lwpolyline([tuple(p) for p in TIER_M], dxfattribs=on("tier"))
    whole = saved(document, tmp_path)
    text = whole.read_text()
    assert "cannot be read" in message(tmp_path / "none.dxf")
    assert "cannot be read" in message(tmp_path)
    cut = tmp_path / "cut.dxf"
    for share in (0.0, 0.3, 0.95):
        cut.write_text(text[: int(len(text) * share)])
        assert "ends before its EOF mark" in message(cut)
    binary = tmp_path / "binary.dxf"
    document.saveas(binary, fmt="bin")
    assert "is a binary DXF" in message(binary)
    closed = tmp_path / "closed.dxf"
    closed.write_bytes(b"AC1032\0\0\0" + bytes(range(256)))
    assert "is not text" in message(closed)
    prose = tmp_path / "prose.dxf"
    prose.write_text("The walls are 7 m high.\nEOF\n")
    assert "is no readable DXF" in message(prose)
    broken = tmp_path / "broken.dxf"
    broken.write_text(text.replace("\n 90\n5\n", "\n 90\nfive\n"))
    assert "is no readable DXF" in message(broken)
    nan = tmp_path / "nan.dxf"
    nan.write_text(text.replace("\n9.5\n", "\nnan\n"))
    assert "a coordinate that is no number" in message(nan)


def test_block_that_holds_itself(tmp_path: Path) -> None:
    document, space = drawing()
    snake = document.blocks.new("snake")
    snake.add_line((0, 0), (1, 0))
    space.add_blockref("snake", (0, 0), dxfattribs=on("tier"))
    snake.add_blockref("snake", (1, 0))
    assert "is no readable DXF" in message(saved(document, tmp_path))


def test_without_the_package(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "section.dxf"
    path.write_text("  0\nEOF\n")
    monkeypatch.setitem(sys.modules, "ezdxf", None)
    with pytest.raises(MissingExtraError, match=r"pip install 'aiming\[dxf\]'"):
        floor_from_drawing(path, layer="tier")


def test_summary_for_a_person_who_chooses_layers(tmp_path: Path) -> None:
    document, space = drawing(units=4)
    space.add_lwpolyline([tuple(p) for p in TIER_M * 1000.0], dxfattribs=on("tier"))
    space.add_line((19_000, 0), (19_000, 7000), dxfattribs=on("walls"))
    space.add_line((20_000, 0), (20_000, 7000), dxfattribs=on("walls"))
    space.add_text("row A", dxfattribs=on("walls"))
    summary = drawing_summary(saved(document, tmp_path))
    assert (summary.unit, summary.metres_per_unit) == ("mm", 1e-3)
    by_name = {layer.name: layer for layer in summary.layers}
    tier, walls = by_name["tier"], by_name["walls"]
    assert tier.low == pytest.approx((4000.0, 0.0))
    assert tier.high == pytest.approx((18_000.0, 2400.0))
    assert (tier.lines, walls.lines, by_name["0"].lines) == (1, 2, 0)
    assert walls.counts == (("LINE", 2), ("TEXT", 1))
    assert walls.text() == "walls: 2 LINE, 1 TEXT; x 19000 to 20000, y 0 to 7000"
    assert by_name["0"].text() == "0: empty"
    document.header["$INSUNITS"] = 0
    unitless = drawing_summary(saved(document, tmp_path, "unitless.dxf"))
    assert unitless.unit is None


@settings(deadline=None, derandomize=True, max_examples=60)
@given(
    cuts=st.permutations(range(12)),
    ways=st.lists(st.booleans(), min_size=12, max_size=12),
    noise=st.floats(0.0, 0.4),
)
def test_any_order_of_pieces_joins_into_the_one_line(
    cuts: list[int], ways: list[bool], noise: float
) -> None:
    x = np.linspace(0.0, 24.0, 13)
    line = np.column_stack([x, 0.01 * x**2])
    pieces = [
        (line[cut : cut + 2] + noise * 1e-3 * (-1) ** cut * np.array([0.6, 0.8]))[
            :: 1 if way else -1
        ]
        for cut, way in zip(cuts, ways, strict=True)
    ]
    chains = joined(pieces)
    assert len(chains.lines_m) == 1
    assert not len(chains.branches_m)
    found = chains.lines_m[0]
    found = found if found[0, 0] < found[-1, 0] else found[::-1]
    np.testing.assert_allclose(found, line, atol=1e-3)
