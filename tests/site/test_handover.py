"""A fill fitted at the handover row: what is off beside the plan comes back as what it needs."""

from functools import cache
from pathlib import Path

import numpy as np
import pytest

import aiming
from aiming.report.figures.handover import handover_figures
from aiming.report.text.handover import handover_text
from aiming.results.answer import Answer
from aiming.site.handover import Fitted, fit_at_handover
from aiming.site.run import OnSiteError

ROOT = Path(__file__).resolve().parents[2]
FILL = "balcony delay"


@cache
def planned() -> Answer:
    scenario = aiming.load(ROOT / "scenarios" / "theatre_balcony_delay.toml")
    return aiming.solve(scenario, choices=False)


def measured(
    folder: Path,
    *,
    late_ms: float = 0.0,
    louder_db: float = 0.0,
    sign: float = 1.0,
    phase: bool = True,
    to_hz: float = 16_000.0,
) -> Fitted:
    """Main and fill at their handover row as planned, the fill off by something.

    Distances and air by the section, not by the answer's own arrivals.
    """
    answer = planned()
    scenario, rng = answer.scenario, np.random.default_rng(5)
    f = np.geomspace(50.0, to_hz, 400)
    fill = next(one for one in answer.speakers if one.name == FILL)
    assert fill.match is not None
    assert fill.match.handover_row is not None
    row = fill.match.handover_row
    x, z = scenario.rows.x_m[row], scenario.rows.z_m[row]
    at = {}
    for one in answer.speakers:
        off = one.name == FILL
        way = float(np.hypot(x - one.x_m, z - one.height_m))
        ms = 1e3 * way / scenario.air.speed_of_sound_m_s + one.delay_ms + off * late_ms - 40.0
        level = answer.rows.by_speaker[one.name].levels_db[:, row] + off * louder_db - 30.0
        h = 10.0 ** (np.interp(np.log(f), np.log(answer.bands_hz), level) / 20.0)
        h = h * (sign if off else 1.0) * np.exp(-2j * np.pi * f * ms / 1e3)
        h = h * (1.0 + 0.03 * (rng.normal(size=400) + 1j * rng.normal(size=400)))
        table = [f, 20.0 * np.log10(np.abs(h))] + ([np.degrees(np.angle(h))] if phase else [])
        path = folder / f"{one.name}.txt"
        np.savetxt(path, np.stack(table, axis=1))
        at[one.name] = path
    return fit_at_handover(answer, at)


def test_a_fill_that_is_set_right_is_left(tmp_path: Path) -> None:
    found = measured(tmp_path)
    assert found.headline.startswith("LEAVE")
    assert found.after_ms == pytest.approx(found.planned_after_ms, abs=0.02)
    assert found.re_main_db == pytest.approx(found.planned_re_main_db, abs=0.15)
    assert found.reversed is False


@pytest.mark.parametrize(("late", "louder", "sign"), [(2.3, 1.8, -1.0), (-6.0, -4.0, 1.0)])
def test_what_is_off_comes_back_as_what_it_needs(
    tmp_path: Path, late: float, louder: float, sign: float
) -> None:
    found = measured(tmp_path, late_ms=late, louder_db=louder, sign=sign)
    assert found.delay_ms == pytest.approx(found.planned_delay_ms - late, abs=0.02)
    assert found.gain_db == pytest.approx(found.planned_gain_db - louder, abs=0.15)
    assert found.reversed is (sign < 0.0)
    assert f"{found.delay_ms:.1f} ms in all" in found.headline
    assert ("polarity" in found.headline) is (sign < 0.0)
    assert ("softer" in found.headline) is (louder > 0.0)


@pytest.mark.parametrize(
    ("late", "louder", "told"),
    [(0.4, 0.0, ""), (-0.4, 0.8, ""), (0.6, 0.0, "ms less delay"), (-0.6, 0.0, "ms more delay"),
     (0.0, -1.06, "dB louder"), (0.0, 1.06, "dB softer"), (0.0, 0.94, ""), (0.0, -0.94, "")],
)  # fmt: skip
def test_what_is_near_enough_is_left(tmp_path: Path, late: float, louder: float, told: str) -> None:
    found = measured(tmp_path, late_ms=late, louder_db=louder)
    assert found.headline.startswith("SET" if told else "LEAVE")
    assert told in found.headline


def test_a_fill_that_no_delay_brings_in_is_said(tmp_path: Path) -> None:
    found = measured(tmp_path, late_ms=70.0)
    assert found.delay_ms is not None
    assert found.delay_ms < 0.0
    assert "delay what it fills" in found.headline


def test_without_phase_the_level_alone_is_told(tmp_path: Path) -> None:
    found = measured(tmp_path, louder_db=3.0, phase=False)
    assert (found.after_ms, found.delay_ms, found.reversed) == (None, None, None)
    assert found.gain_db == pytest.approx(found.planned_gain_db - 3.0, abs=0.15)
    assert "phase" in found.reasons[0]
    assert "not told" in handover_text(found)


def test_bands_that_were_not_measured_count_for_nothing(tmp_path: Path) -> None:
    found = measured(tmp_path, louder_db=3.0, to_hz=3000.0)
    assert [level is None for level in found.by_band_db.values()] == [
        band > 3000.0 for band in found.by_band_db
    ]
    assert found.gain_db == pytest.approx(found.planned_gain_db - 3.0, abs=1.0)


def test_only_a_fill_with_its_main_will_do(tmp_path: Path) -> None:
    path = tmp_path / "a.txt"
    path.write_text("1000 -3\n2000 -3\n")
    for names in (("main",), ("main", "other"), ("main", FILL, "other")):
        with pytest.raises(OnSiteError, match=f"{FILL} with main"):
            fit_at_handover(planned(), dict.fromkeys(names, path))
    alone = aiming.solve(aiming.load(ROOT / "scenarios" / "quarry.toml"), choices=False)
    with pytest.raises(OnSiteError, match="no fill"):
        fit_at_handover(alone, {"main": path})


def test_it_is_shown_the_same_each_time_and_80_wide(tmp_path: Path) -> None:
    found = measured(tmp_path, late_ms=2.0)
    assert max(map(len, handover_text(found).splitlines())) <= 80
    assert handover_figures(found, ("svg",)) == handover_figures(found, ("svg",))
