"""The whole job as one file to print: section, sheets, check positions, calculation, in order."""

import io
from collections.abc import Iterator
from typing import Any

from ...results.answer import Answer, needed
from ...site.check_plan import CheckPlan
from ..figures import style as look
from ..figures.aim import aim_figure
from .calculation import calculation_pages
from .check_positions import check_sheet
from .hang_sheet import hang_sheet
from .sheet_page import SIZES_IN, Paper


def job_pdf(
    answer: Answer, plans: tuple[CheckPlan, ...], *, paper: Paper = "a4", date: str = ""
) -> bytes:
    """Every page in the order of the job, all on this paper; b"" where nothing is placed.

    date: as the person gives it, "" for a blank to fill in
    """
    from matplotlib.backends.backend_pdf import PdfPages

    if not answer.speakers:
        return b""
    stream = io.BytesIO()
    with look.style(), PdfPages(stream, metadata={"CreationDate": None}) as book:
        for figure in _figures(answer, plans, paper=paper, date=date):
            book.savefig(figure)
    return stream.getvalue()


def _figures(
    answer: Answer, plans: tuple[CheckPlan, ...], *, paper: Paper, date: str
) -> Iterator[Any]:
    wide, tall = SIZES_IN[paper]
    section = aim_figure(answer)
    section.set_size_inches(tall, wide)
    yield section
    for sheet in needed(answer.sheets, "sheets"):
        yield hang_sheet(sheet, answer.scenario.units, paper=paper, date=date).figure
    for plan in plans:
        yield check_sheet(answer.scenario, plan, paper=paper)
    for page in calculation_pages(
        needed(answer.calculations, "calculations"), paper=paper, date=date
    ):
        yield page.figure
