"""The figures of a pattern file gathered, as text, as data and as a picture."""

import json
from pathlib import Path

import numpy as np
import pytest
from paths import ROOT

from aiming.report.figures.pattern import Kind, pattern_figure, pattern_picture
from aiming.report.text.pattern import pattern_text
from aiming.scenario.pattern_report import PatternReport, pattern_report

FOLDER = ROOT / "scenarios" / "patterns"


@pytest.fixture(scope="module", params=["csv", "sofa"])
def report(request: pytest.FixtureRequest) -> PatternReport:
    name = f"invented_horn_60.{request.param}"
    return pattern_report(FOLDER / name, display=name)


def test_text_fits_80_columns_and_names_every_band(report: PatternReport) -> None:
    text = pattern_text(report)
    assert max(len(row) for row in text.splitlines()) <= 80
    assert text.count(" kHz ") + text.count(" Hz ") >= 23
    assert "lost below about 930 Hz" in text
    assert "   100 Hz     never     never         -" in text
    assert ("DI sphere" in text) == (report.sphere_index_db is not None)
    assert "not measured" in text.replace("\n", " ")


def test_text_lists_notes_and_doubts(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_text("a,1000,2000\n-90,80,79\n0,96,97\n10,84,\n90,80,79\n")
    text = pattern_text(pattern_report(path, display="a.csv"))
    assert "Notes\n  - the file is not 0 dB on axis" in text
    assert "Doubtful in the data\n" in text
    assert "2 kHz has no level at 10°" in text
    assert "unknown" in text


def test_data_are_plain_and_hold_no_nan(report: PatternReport) -> None:
    text = json.dumps(report.to_dict(), allow_nan=False)
    by_band = json.loads(text)["by_band"]
    assert len(by_band) == 23
    assert by_band["100"]["coverage_deg"] is None
    assert by_band["2000"]["coverage_deg"] == pytest.approx(59.0, abs=0.2)
    sphere = by_band["2000"]["directivity_index_db"]
    assert sphere is None if report.sphere_index_db is None else sphere > 10.0


KINDS: dict[Kind, bytes] = {"png": b"\x89PNG", "svg": b"<?xml", "pdf": b"%PDF"}


@pytest.mark.parametrize(("kind", "start"), KINDS.items())
def test_pictures_are_the_same_bytes_twice(kind: Kind, start: bytes) -> None:
    path = FOLDER / "invented_horn_60.csv"
    report = pattern_report(path, display="horn", bands_hz=(500.0, 1000.0, 2000.0))
    first, second = (pattern_picture(report, kind=kind) for _ in range(2))
    assert first == second
    assert first.startswith(start)
    assert b"CreationDate" not in first
    assert b"dc:date" not in first


def test_picture_shows_what_was_measured(report: PatternReport) -> None:
    axes = pattern_figure(report).axes[0]
    shade = axes.collections[0]
    drawn = np.ma.asarray(shade.get_array()).reshape(-1, 23)
    assert drawn.shape == (720, 23)
    # First row is straight below behind the box, the middle the axis.
    np.testing.assert_allclose(drawn[359:361].mean(axis=0), 0.0, atol=0.1)
    assert drawn[320, 15] > drawn[400, 15] + 3.0
    assert axes.get_ylim() == (-180.0, 180.0)


def test_holes_and_gaps_stay_blank(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_text("a,250,2000\n-60,-3,-9\n-30,-2,\n0,0,0\n30,-2,-6\n")
    axes = pattern_figure(pattern_report(path, display="a")).axes[0]
    runs = [c for c in axes.collections if hasattr(c, "get_coordinates")]
    assert len(runs) == 2
    assert np.ma.getmaskarray(runs[0].get_array()).sum() == 0
    assert np.ma.getmaskarray(runs[1].get_array()).sum() > 50
