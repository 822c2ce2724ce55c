"""Where numbers grow or vanish, and other machines: the same answers, and not one warning.

Near is 1 mm and far 10 km; the seam of angles at ±180°; an axis along the audience plane; the ends
of what a file may say; other threads, another set of instructions; every shipped scenario.  The
suite makes each warning an error, and what runs here also raises on any division by nothing,
overflow, underflow or invalid number that is not meant.

EVERY_FIGURE=1 pytest tests/acceptance -k paper draws every document of every shipped scenario
"""

import json
import math
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from changed_scenes import differences, given
from generated_scenes import seeded
from hypothesis import given as drawn
from hypothesis import settings
from hypothesis import strategies as st
from paths import ROOT
from second_formula import scalar_levels_db, scalar_pattern_db

import aiming
from aiming.analysis.complete import complete
from aiming.analysis.problems import searched_problem_of
from aiming.base.air import Air, air_loss
from aiming.faces import documents
from aiming.geometry.section import wrap_deg
from aiming.report.json_text import json_text
from aiming.report.text.onsite import onsite_text
from aiming.report.text.summary import summary_text
from aiming.site.check_plan import check_plan
from aiming.speaker.lobes import Lobe, nominal_pattern
from aiming.sweep.candidates import stage_of
from aiming.sweep.kernel import SPREAD_ERROR_DB
from aiming.sweep.run import work_of

SHIPPED = sorted((ROOT / "scenarios").glob("*.toml"))
DRAWN = ("basement_club",)
DIGITS = 1e-9
HALL = """
air = {{ temperature_c = 20.0, humidity_percent = 50.0 }}
seating = [{{ name = "floor", line = {line}, ears = {ears}, rows = {rows} }}]
speaker = [{{ name = "main", pattern = {{ coverage = {coverage} }}, placement = {placement} }}]
aim = {{ bands = {bands}, axis_on_audience = {axis} }}
"""


def hall(line: object, placement: str, **other: object) -> aiming.scenario.Scenario:
    """One block, one box."""
    said: dict[str, object] = {"ears": 1.2, "rows": 5, "coverage": 60, "bands": "[1000, 8000]",
                               "axis": "false"} | other  # fmt: skip
    text = HALL.format(line=line, placement=f"{{ {placement} }}", **said)
    return aiming.load("-", stdin_text=text)


def air_db(band_hz: float, distance_m: float) -> float:
    return float(air_loss((band_hz,), Air(), width="octave").at_db(np.array([distance_m]))[0, 0])


def mean_air_db(distance_m: float) -> float:
    return 0.5 * (air_db(1000.0, distance_m) + air_db(8000.0, distance_m))


# Near and far


@pytest.mark.parametrize("distance_m", [1e-3, 1e-2, 1.0, 100.0, 1e4, 9e4])
def test_on_the_axis_from_a_millimetre_to_the_horizon(distance_m: float) -> None:
    """−20·lg r less the air; 10 km of air take over 1,000 dB at 8 kHz, and nothing overflows."""
    with np.errstate(all="raise"):
        answer = aiming.evaluate(
            hall([[0.0, 0.0], [distance_m, 0.0]], "x = 0.0, height = 1.2, tilt = 0.0", rows=2)
        )
        text = json_text(answer.to_dict())
    assert "NaN" not in text and "Infinity" not in text
    row = answer.to_dict()["rows"][1]
    for band, level in row["levels_db"].items():
        expected = -20.0 * math.log10(distance_m) - air_db(float(band), distance_m)
        assert level == pytest.approx(expected, rel=1e-12, abs=1e-9)


def test_nearer_than_a_millimetre_is_a_millimetre() -> None:
    """The level at the acoustic centre itself has no meaning; it is not infinite either."""
    for above_m, tilt in ((0.0, 0.0), (5e-4, -90.0)):
        answer = aiming.evaluate(
            hall([[0.0, 0.0], [9.0, 0.0]], f"x = 0.0, height = {1.2 + above_m}, tilt = {tilt}")
        )
        level = answer.rows.levels_db[0, 0]
        assert level == pytest.approx(60.0, abs=1e-4)


@pytest.mark.parametrize("away_m", [1e-3, 1e-2, 1e3, 1e4])
def test_a_search_beside_a_row_and_from_afar(away_m: float) -> None:
    """The box a millimetre over an ear, or 10 km from a tier: solved, as loops over numbers say."""
    near = away_m < 1.0
    line = [[2.0, 0.0], [6.0, 0.0]] if near else [[away_m, 0.0], [away_m + 20.0, 4.0]]
    place = f"x = 4.0, height = [{1.2 + away_m}, {1.2 + 2 * away_m}]" if near else (
        "x = [-1.0, 0.0], height = [5.0, 9.0]"
    )  # fmt: skip
    scenario = hall(line, place, axis="true" if not near else "false")
    with np.errstate(all="raise", under="ignore"):
        answer = aiming.solve(scenario)
    one, problem = answer.speakers[0], searched_problem_of(scenario, scenario.speakers[0])
    assert one.best is not None and one.gap_db is not None and one.gap_db <= 0.05
    assert one.spread_db is not None
    levels = scalar_levels_db(problem, one.x_m, one.height_m, one.tilt_deg, False)
    design = [math.fsum(of) / len(of) for of in zip(*levels, strict=True)]
    assert one.spread_db == pytest.approx(max(design) - min(design), abs=1e-7)
    if not near:  # 20 m more of air, and next to nothing else
        lost = 20.0 * math.log10((away_m + 20.0) / away_m)
        lost += mean_air_db(away_m + 20.0) - mean_air_db(away_m)
        assert one.best.objective_db == pytest.approx(lost, abs=0.06)


def test_at_the_ends_of_the_contract() -> None:
    """100 km from the datum a house is what it is at the datum, to the digits that are left."""
    house = "x = [{}, {}], height = [{}, {}], tilt = [-60, 20]"
    line = [[4.0, 0.0], [18.0, 1.4]]
    there = [[x + 99_900.0, z - 99_900.0] for x, z in line]
    here = aiming.solve(hall(line, house.format(-1.0, 0.5, 4.0, 6.0), axis="true"))
    off = aiming.solve(
        hall(there, house.format(99_899.0, 99_900.5, -99_896.0, -99_894.0), axis="true")
    )
    a, b = here.speakers[0], off.speakers[0]
    assert a.best is not None and b.best is not None
    assert b.best.objective_db == pytest.approx(a.best.objective_db, abs=0.05)
    moved = aiming.evaluate(
        hall(there, f"x = {a.x_m + 99_900.0}, height = {a.height_m - 99_900.0}, "
             f"tilt = {a.tilt_deg}", axis="true")
    )  # fmt: skip
    np.testing.assert_allclose(moved.rows.levels_db, here.rows.levels_db, rtol=0.0, atol=1e-7)


@pytest.mark.parametrize(
    "other",
    [
        {"coverage": 0.1},
        {"coverage": 359.999},
        {"coverage": '60, lowest_db = -400, lobe = "piston"'},
        {"coverage": '0.1, lobe = "flat", control_from_hz = 100000'},
        {"bands": "[25, 20000]"},
        {"ears": 1e-9},
    ],
    ids=str,
)
def test_the_smallest_and_the_largest_that_may_be_said(other: dict[str, object]) -> None:
    scenario = hall([[4.0, 0.0], [18.0, 1e-9]], "height = [4.0, 4.000000001]", **other)
    with np.errstate(all="raise", under="ignore"):
        text = json_text(aiming.solve(scenario).to_dict())
    assert "NaN" not in text and "Infinity" not in text


# Grazing, and the seam at ±180°


@pytest.mark.parametrize("rise", [0.0, 0.1, 0.577])
@pytest.mark.parametrize("behind", [False, True])
def test_along_the_rake_only_distance_counts(rise: float, behind: bool) -> None:
    """From a point of the audience plane's own line all rows are seen at one angle."""
    line = [[10.0, 10.0 * rise], [30.0, 30.0 * rise]]
    x = 40.0 if behind else 2.0
    distance = np.hypot(1.0, rise) * np.abs(np.linspace(10.0, 30.0, 5) - x)
    near, far = float(distance.min()), float(distance.max())
    for tilt in (-80.0, math.degrees(math.atan(rise)), 40.0):
        answer = aiming.evaluate(
            hall(line, f"x = {x}, height = {x * rise + 1.2}, tilt = {tilt}", coverage=40)
        )
        off = answer.rows.by_speaker["main"].off_axis_deg
        assert np.ptp(np.mod(off - off[0] + 180.0, 360.0)) < 1e-9
        spread = 20.0 * math.log10(far / near) + mean_air_db(far) - mean_air_db(near)
        assert answer.speakers[0].spread_db == pytest.approx(spread, abs=1e-7)
    if not behind:  # an axis that runs along the plane meets its nearer end
        met = hall(
            line, f"x = {x}, height = {x * rise + 1.2}, tilt = {math.degrees(math.atan(rise))}"
        )
        assert aiming.evaluate(met).speakers[0].aim_point == pytest.approx((10.0, 10 * rise + 1.2))


def test_a_search_that_may_end_along_the_rake() -> None:
    """The range of heights ends in the plane's own line: proven, and no worse than there."""
    scenario = hall(
        [[4.0, 0.0], [18.0, 2.8]], "x = 0.0, height = [0.4, 3.0]", axis="true", coverage=50
    )
    with np.errstate(all="raise", under="ignore"):
        one = aiming.solve(scenario).speakers[0]
    assert one.best is not None and one.gap_db is not None and one.gap_db <= 0.05
    problem = searched_problem_of(scenario, scenario.speakers[0])
    along = hall(
        [[4.0, 0.0], [18.0, 2.8]],
        f"x = 0.0, height = 0.4, tilt = {math.degrees(math.atan(0.2))}",
        coverage=50,
    )
    there = aiming.evaluate(along).speakers[0].spread_db
    assert there is not None
    assert one.best.objective_db - one.gap_db <= there
    assert problem.axis_on_audience and one.aim_point is not None


@settings(derandomize=True, deadline=None, max_examples=150)
@drawn(
    angle=st.floats(-1e6, 1e6) | st.sampled_from([180.0, -180.0, 540.0, 0.0, -1e-300, 5e-324]),
    turns=st.integers(-3, 3),
)
def test_one_direction_has_one_angle(angle: float, turns: int) -> None:
    wrapped = float(wrap_deg(np.array(angle)))
    assert -180.0 < wrapped <= 180.0
    assert float(wrap_deg(np.array(wrapped))) == wrapped
    assert abs(math.remainder(wrapped - angle, 360.0)) <= 1e-9 + 1e-15 * abs(angle)
    whole = 0.25 * round(4.0 * angle)  # exact, and so are whole turns of it
    assert wrap_deg(np.array(whole + 360.0 * turns)) == wrap_deg(np.array(whole))


@pytest.mark.parametrize("lobe", ["quadratic", "piston", "flat"])
@pytest.mark.parametrize("tilt", [-90.0, -1.0, 0.0, 1e-12, 90.0])
def test_rows_either_side_of_straight_behind(lobe: Lobe, tilt: float) -> None:
    """Rows a hair above and a hair below −180° hear the same; a second formula agrees."""
    for rise in (-1e-9, 0.0, 1e-9):
        line = [[-30.0, rise], [-10.0, rise]]
        scenario = hall(
            line, f"x = 0.0, height = 1.2, tilt = {tilt}", coverage=f'70, lobe = "{lobe}"'
        )
        answer = aiming.evaluate(scenario)
        off = answer.rows.by_speaker["main"].off_axis_deg
        assert ((off > -180.0) & (off <= 180.0)).all()
        table = nominal_pattern(above_deg=35, below_deg=35, bands_hz=(1000.0,), lobe=lobe)
        behind = scalar_pattern_db(
            table.angle_deg.tolist(), table.level_db[0].tolist(), 180.0 - tilt
        )
        distance = -np.linspace(-30.0, -10.0, 5)
        air = np.array([air_db(1000.0, one) for one in distance])
        expected = behind - 20.0 * np.log10(distance) - air
        np.testing.assert_allclose(answer.rows.levels_db[0], expected, rtol=0.0, atol=1e-6)


# Single precision, other threads, other instructions


@pytest.mark.parametrize(("seed", "single"), [(4, False), (2, True), (16, True), (29, True)])
def test_a_sweep_in_single_precision_keeps_its_bound(
    seed: int, single: bool, tmp_path: Path
) -> None:
    """All tilts there are against `evaluate`; a table too steep for the bound is read in double."""
    scene = given(seeded(seed), 0.5)
    names = ("spread_db", "worst_band_spread_db")
    over = {"speaker.main.placement.tilt": (-90, 90, 0.25)}
    assert stage_of(work_of(scene.load(tmp_path), over, names)).quick is single
    table = aiming.what_if(scene.load(tmp_path), over, figures=names)
    worst = 0.0
    for at in np.random.default_rng(seed).integers(0, 721, 6):
        tilt = -90.0 + 0.25 * float(at)
        one = aiming.evaluate(scene.placed(tilt=tilt).load(tmp_path)).speakers[0]
        for name in names:
            exact, found = getattr(one, name), float(table[name][at])
            assert (exact is None) == math.isnan(found)
            if exact is not None:
                worst = max(worst, abs(found - exact))
    assert worst <= (SPREAD_ERROR_DB if single else DIGITS)


PROGRAM = """
import json, sys
import aiming
for name in sys.argv[1:]:
    print(json.dumps(aiming.solve(aiming.load(f"scenarios/{name}.toml")).to_dict()))
"""
NAMES = {"measured_horn": DIGITS, "theatre_balcony_delay": 1e-6}
"""Those chosen for the sum of all come from linear programmes, which end at 1e-7 of their scale."""
THREADS = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS")


def answers_with(**environ: str) -> str:
    """The shipped scenarios' answers from a process with this environment."""
    ended = subprocess.run(
        [sys.executable, "-W", "error", "-c", PROGRAM, *NAMES],
        cwd=ROOT, env={**os.environ, "PYTHONPATH": str(ROOT), **environ},
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    assert ended.stderr == ""
    return ended.stdout


def test_threads_instructions_and_blas_kernels_change_no_answer() -> None:
    """One and two threads: the same bytes.  Plain instructions and an old BLAS: nine digits for one
    loudspeaker, six for several."""
    one = answers_with(**dict.fromkeys(THREADS, "1"))
    assert answers_with(**dict.fromkeys(THREADS, "2")) == one
    here = np.show_config(mode="dicts")["SIMD Extensions"]["found"]
    plain = answers_with(NPY_DISABLE_CPU_FEATURES=" ".join(here), OPENBLAS_CORETYPE="Prescott")
    for within, *lines in zip(NAMES.values(), one.splitlines(), plain.splitlines(), strict=True):
        wanted, found = map(json.loads, lines)
        assert list(differences(wanted, found, within=within)) == []


# Every shipped scenario, from file to paper


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
def test_no_warning_from_file_to_paper(path: Path, tmp_path: Path) -> None:
    """Load, solve, explain, summary, a sweep, a day on site; of some the page and every drawing."""
    with np.errstate(all="raise", under="ignore"):
        scenario = aiming.load(path)
        answer = aiming.solve(scenario)
        answer = complete(answer)
        assert summary_text(answer)
        assert "NaN" not in json_text(answer.to_dict())
        first = scenario.speakers[0].name
        table = aiming.what_if(
            scenario,
            {f'speaker."{first}".placement.tilt': [-30.0, -10.0, 5.0],
             f'speaker."{first}".placement.orientation': ["upright"]},
        )  # fmt: skip
        assert len(table["spread_db"]) == 3
        plan = check_plan(answer, speaker=first)
        measured = tmp_path / "measured.csv"
        rows = answer.rows.by_speaker[first]
        served = [
            at
            for at, name in enumerate(answer.rows.seating)
            if name in {scenario.seatings[of].name for of in scenario.speakers[0].serves}
        ]
        lines = [
            f"{scenario.rows.label(at)},{band:g},{level:.2f}"
            for at in served[:: max(1, len(served) // 4)]
            for band, level in zip(scenario.aim.bands_hz, rows.levels_db[:, at], strict=True)
        ]  # fmt: skip
        measured.write_text("position,frequency_hz,level_db\n" + "\n".join(lines), encoding="utf-8")
        found = aiming.onsite(scenario, measured, speaker=first, answer=answer)
        assert plan is not None and onsite_text(scenario, found)
        if path.stem in DRAWN or "EVERY_FIGURE" in os.environ:
            assert all(documents(answer).values())
