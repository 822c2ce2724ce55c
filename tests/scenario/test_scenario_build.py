"""From a file to value objects: what stands in the file is what the later rooms get, in metres."""

from pathlib import Path

import numpy as np
import pytest
from paths import TESTS

from aiming.base.errors import ScenarioError
from aiming.base.units import FOOT_M, G_M_S2, INCH_M
from aiming.scenario import load
from aiming.scenario.scenario import ProgrammeSettings
from aiming.speaker.pattern import EDGE_DB

VALID = TESTS / "data" / "scenarios" / "valid"


def test_the_sample_file() -> None:
    """Every figure of the sample in the description of the file format."""
    scenario = load(VALID / "quarry.toml")
    assert scenario.title == "Quarry amphitheatre, summer readings"
    assert scenario.datum == "stage front edge, quarry floor"
    assert scenario.units == "m"
    assert scenario.folder == VALID
    assert (scenario.air.temperature_c, scenario.air.humidity_percent) == (20.0, 50.0)
    (seating,) = scenario.seatings
    assert seating.floor_m.tolist() == [[4.0, 0.0], [18.0, 1.4]]
    assert (seating.ear_height_m, seating.row_spacing_m, seating.weight) == (1.2, 0.9, 1.0)
    # 14 m / 0.9 m = 15.56: 16 intervals, 17 rows, 0.875 m apart.
    assert len(scenario.rows) == 17
    assert np.allclose(np.diff(scenario.rows.x_m), 0.875, atol=1e-12)
    assert scenario.rows.names[:4] == ("A", "B", "3", "4")
    assert any("0.88 m apart instead of 0.90 m" in note for note in scenario.notes)
    (surface,) = scenario.surfaces
    assert surface.line_m.tolist() == [[19.0, 0.0], [19.0, 7.0]]
    main = scenario.speaker("main")
    assert main.serves == (0,)
    # Design bands first, then the further bands of interest.
    assert main.pattern.band_hz == (1000.0, 2000.0, 4000.0, 8000.0, 125.0, 250.0, 500.0)
    assert main.tone_hz == (125.0, 250.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0)
    assert main.offset_db.tolist() == [97.0, 97.0, 97.0, 99.0, 97.0, 97.0, 97.0]
    assert main.pattern.read_db(30.0)[0] == pytest.approx(-EDGE_DB, abs=0.001)
    assert main.pattern.read_db(-170.0)[0] == -24.0
    assert main.max_level_db == 128.0
    assert main.coverage_only
    hang = main.hang
    assert (hang.mount, hang.x_m, hang.vertical) == ("flown", (0.0, 0.0), "height")
    assert (hang.vertical_m, hang.tilt_deg) == ((4.5, 8.0), (-60.0, 20.0))
    assert hang.orientations == ("upright", "flipped")
    cabinet = main.cabinet
    assert cabinet is not None
    assert cabinet.mass_kg == 26.0
    assert cabinet.height_m == pytest.approx(0.64)
    assert cabinet.centre_of_gravity_m == (-0.17, 0.08)
    assert cabinet.pick("rear, base").at_m == (-0.34, -0.20)
    assert cabinet.pick("front").wll_n == pytest.approx(130.0 * G_M_S2)
    assert cabinet.laser_at_m == (-0.02, 0.44)
    upright = scenario.rigging["main"]["upright"]
    assert (upright.method, upright.picks) == ("two points", ("front", "rear"))
    assert (upright.extra_mass_kg, upright.extra_at_m) == (3.0, (-0.17, 0.5))
    assert scenario.rigging["main"]["flipped"].picks == ("front, base", "rear, base")
    aim = scenario.aim
    assert (aim.objective, aim.axis_on_audience, aim.gap_db) == ("spread", True, 0.05)
    assert aim.lower_if_within_db == 0.5
    assert scenario.variants[0].changes["speaker.main.placement.height"] == 1.9
    with pytest.raises(KeyError):
        scenario.speaker("none")


def test_defaults_are_the_formats() -> None:
    scenario = load(VALID / "minimal.toml")
    assert (scenario.title, scenario.datum) == ("minimal", "datum")
    assert scenario.air.pressure_kpa == 101.325
    hang = scenario.speakers[0].hang
    assert (hang.mount, hang.x_m, hang.tilt_deg) == ("flown", (0.0, 0.0), (-90.0, 90.0))
    assert hang.orientations == ("upright",)
    speaker = scenario.speakers[0]
    assert speaker.offset_db.tolist() == [0.0] * len(speaker.pattern.band_hz)
    # Nothing is said of the coverage lower down, so those bands are not of interest.
    assert speaker.tone_hz == scenario.aim.bands_hz
    assert scenario.programme is None
    assert scenario.rows.names[0] == "1"


def test_feet() -> None:
    scenario = load(VALID / "feet.toml")
    floor = scenario.seatings[0].floor_m
    expected = np.array([[10.0, 0.0], [40.0, 0.0], [40.0, 1.5], [60.0, 1.5]]) * FOOT_M
    assert np.allclose(floor, expected, rtol=0.0, atol=1e-12)
    assert scenario.seatings[0].row_spacing_m == pytest.approx(36.0 * INCH_M, abs=1e-12)
    hang = scenario.speakers[0].hang
    assert hang.vertical == "trim"
    assert hang.vertical_m == pytest.approx((14.0 * FOOT_M, 5.5), abs=1e-12)
    assert hang.x_m == pytest.approx((-1.5 * FOOT_M,) * 2, abs=1e-12)
    pattern = scenario.speakers[0].pattern
    # Asymmetric as built: 20° above, 40° below.
    assert pattern.read_db([20.0, -40.0])[0] == pytest.approx([-EDGE_DB] * 2, abs=0.001)


def test_everything_else() -> None:
    scenario = load(VALID / "everything.toml")
    stalls, balcony = scenario.seatings
    assert (stalls.row_count, stalls.ear_height_m, stalls.weight) == (11, 1.6, 2.0)
    assert balcony.floor_m.tolist() == [[9.0, 4.0], [16.0, 6.0]]
    assert scenario.aim.bands_hz == (1000.0, 2000.0, 4000.0)
    main, fill = scenario.speakers
    # Sensitivity, gain of -3 dB, and no eq in the design bands.
    assert main.offset_db.tolist() == [94.0, 95.0, 96.5]
    assert not main.coverage_only
    assert main.delay_ms == 12.5
    assert scenario.pattern_files["main"].pattern is main.pattern
    # Rigging is declared upright only, so "either" is upright, and that is said.
    assert main.hang.orientations == ("upright",)
    assert any("flipped is left out of the search" in note for note in scenario.notes)
    held = scenario.rigging["main"]["upright"]
    assert held.structure_capacity_n == 2500.0
    assert held.tilt_step_deg == 0.5
    assert main.cabinet is not None
    assert main.cabinet.pick("rear").wll_n == 1200.0
    assert main.cabinet.pick("front").at_m == (-0.06, 0.44)
    # A stack's base is the trim of what stands on it.
    assert (fill.hang.mount, fill.hang.vertical) == ("stacked", "trim")
    assert fill.hang.vertical_m == (0.1, 0.1)
    assert scenario.base_m == {"front fill": 0.1}
    # The file of the pattern holds no 125 Hz; a lobe has it once it is asked for.
    assert main.tone_hz == (1000.0, 4000.0)
    assert fill.tone_hz == (125.0, 1000.0, 4000.0)
    assert scenario.programme == ProgrammeSettings("speech 2020", 85.0, "Z")
    assert fill.serves == (0,)
    assert scenario.surfaces[0].absorption == 0.3
    # Cold air: ISO 9613-1 states ±20 % there.
    assert any("±20 %" in note for note in scenario.notes)


def test_files_are_relative_to_the_scenario(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    text = (VALID / "everything.toml").read_text(encoding="utf-8")
    monkeypatch.chdir(VALID)
    assert load("-", stdin_text=text).folder == Path()
    monkeypatch.chdir(tmp_path)
    assert load(VALID / "everything.toml").speakers[0].name == "main"
    with pytest.raises(ScenarioError) as caught:
        load("-", stdin_text=text)
    assert [fault.key for fault in caught.value.faults] == [
        'seating."balcony, rear".survey.file',
        "speaker.main.pattern.file",
    ]


def test_faults_of_a_file_that_is_named_stand_in_that_file(tmp_path: Path) -> None:
    text = (VALID / "minimal.toml").read_text(encoding="utf-8")
    scenario = tmp_path / "s.toml"
    scenario.write_text(text.replace("coverage = 60", 'file = "box.csv"'), encoding="utf-8")
    (tmp_path / "box.csv").write_text("angle_deg,1000,2000,4000,8000\n0,0,0,0,x\n")
    with pytest.raises(ScenarioError) as caught:
        load(scenario)
    assert caught.value.faults[0].file == str(tmp_path / "box.csv")
    assert caught.value.faults[0].line == 2


def test_a_drawing_gives_floor_and_surfaces(tmp_path: Path) -> None:
    ezdxf = pytest.importorskip("ezdxf")
    drawing = ezdxf.new(units=4)  # millimetres
    space = drawing.modelspace()
    space.add_lwpolyline([(4000, 0), (18000, 1400)], dxfattribs={"layer": "tier"})
    space.add_line((19000, 0), (19000, 7000), dxfattribs={"layer": "wall"})
    space.add_line((0, 9000), (19000, 9000), dxfattribs={"layer": "wall"})
    drawing.saveas(tmp_path / "section.dxf")
    scenario = tmp_path / "s.toml"
    text = (
        'drawing_origin = ["1000 mm", 0]\n'
        '[[seating]]\nname = "tier"\ndrawing = { file = "section.dxf", layer = "tier" }\n'
        '[[surface]]\nname = "wall"\ndrawing = { file = "section.dxf", layer = "wall" }\n'
        '[[speaker]]\nname = "main"\npattern.coverage = 60\nplacement.height = 5\n'
    )
    scenario.write_text(text)
    found = load(scenario)
    assert np.allclose(found.seatings[0].floor_m, [[3.0, 0.0], [17.0, 1.4]], atol=1e-4)
    assert [surface.name for surface in found.surfaces] == ["wall 1", "wall 2"]
    scenario.write_text(text.replace('layer = "tier"', 'layer = "teir"'))
    with pytest.raises(ScenarioError) as caught:
        load(scenario)
    fault = caught.value.faults[0]
    assert (fault.line, fault.key) == (4, "seating.tier.drawing.layer")
    assert "section.dxf: no layer" in fault.message


def test_row_names_beyond_the_rows_are_said() -> None:
    text = (VALID / "minimal.toml").read_text(encoding="utf-8")
    names = '["A", "B", "C"]'
    for rows, said in ((3, False), (2, True)):
        extra = f"line = [[2, 0], [12, 0]]\nrows = {rows}\nrow_names = {names}"
        scenario = load("-", stdin_text=text.replace("line = [[2, 0], [12, 0]]", extra))
        assert ("seating floor: 1 more row names than rows" in scenario.notes) is said
