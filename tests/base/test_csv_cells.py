"""Cells of tables: nothing that a spreadsheet runs, and read back as they were meant."""

import csv
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from aiming.base.csv_cells import as_meant, csv_line, disarmed
from aiming.site.template import template_csv
from aiming.site.traces import measured_traces

RUN_BY = ("=", "+", "-", "@", "\t", "\r")


@pytest.mark.parametrize("text", [f"{mark}1" for mark in RUN_BY])
def test_a_spreadsheet_runs_no_cell(text: str) -> None:
    assert disarmed(text) == f"'{text}"
    assert as_meant(disarmed(text)) == text
    assert disarmed("front") == as_meant("front") == "front"


LETTERS = st.characters(exclude_characters="\r\n\0", codec="utf-8")
CELLS = st.text(LETTERS).filter(lambda text: not text.startswith("'"))


@given(st.lists(CELLS, min_size=2))
def test_a_line_reads_back_as_it_was_meant(cells: list[str]) -> None:
    [row] = csv.reader([csv_line(cells)], strict=True)
    assert [as_meant(cell) for cell in row] == cells
    assert not any(cell.startswith(RUN_BY) for cell in row)


def test_numbers_stay_numbers() -> None:
    assert csv_line([-1.5, 3, None, "x;y"]) == '-1.5,3,,"x;y"\n'


def test_positions_named_like_formulas_come_back(tmp_path: Path) -> None:
    names = ("=row 1", "-3", "+4, left", "@bar", "plain")
    empty = template_csv(names, (1000.0, 2000.0))
    assert not any(line[:1] in ("=", "+", "-", "@") for line in empty.splitlines())
    filled = "\n".join(
        line.removesuffix(",,") + ",-30,-31" if n else line
        for n, line in enumerate(empty.splitlines())
    )
    path = tmp_path / "m.csv"
    path.write_text(filled + "\n", encoding="utf-8")
    assert [trace.position for trace in measured_traces(path, None)] == list(names)
