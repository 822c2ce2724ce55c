"""The job as one file, on the paper asked for; the table of loads disarmed, with its caution."""

import csv
import io
import warnings

import pytest
from held_scenes import scene

import aiming
from aiming.report.sheets.hang_files import loads_csv
from aiming.report.sheets.job import job_pdf
from aiming.report.sheets.sheet_page import SIZES_IN


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_every_page_of_the_job_is_on_the_paper_asked_for(paper):
    from pypdf import PdfReader

    from aiming.faces import documents

    files = documents(aiming.solve(aiming.load("-", stdin_text=scene())), paper=paper)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        pages = PdfReader(io.BytesIO(files["job.pdf"])).pages
        sizes = [sorted(float(side) / 72.0 for side in page.mediabox[2:]) for page in pages]
        texts = [page.extract_text() for page in pages]
    assert all(size == pytest.approx(sorted(SIZES_IN[paper]), abs=0.02) for size in sizes)
    places = [
        next(k for k, text in enumerate(texts) if word in text)
        for word in ("HANG SHEET", "Check positions", "Calculation")
    ]
    assert places == sorted(places) and places[0] > 0


def test_nothing_makes_no_job():
    assert job_pdf([b"", b""]) == b""


def test_the_table_of_loads_says_that_it_is_no_design():
    answer = aiming.solve(aiming.load("-", stdin_text=scene()))
    rows = list(csv.DictReader(io.StringIO(loads_csv(answer))))
    assert rows and all("competent" in row["note"] for row in rows)
    lines = [row for row in rows if row["kind"] == "line"]
    assert all(float(row["structure_vertical_n"]) > 0.0 for row in lines)


def test_each_paper_by_itself_is_on_the_paper_asked_for():
    from pypdf import PdfReader

    from aiming.faces import documents

    files = documents(aiming.evaluate(aiming.load("-", stdin_text=scene())), paper="letter")
    for name in ("checks.pdf", "section.pdf", "hang_sheet.pdf", "calculation.pdf"):
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            for page in PdfReader(io.BytesIO(files[name])).pages:
                size = sorted(float(side) / 72.0 for side in page.mediabox[2:])
                assert size == pytest.approx(sorted(SIZES_IN["letter"]), abs=0.01), name
