"""Everything that `--out` writes for one answer, by file name."""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from ..report.sheets.sheet_page import Paper
    from ..results.answer import Answer


def documents(
    answer: "Answer",
    *,
    paper: "Paper" = "a4",
    date: str = "",
) -> dict[str, bytes]:
    """The data, the summary, the page, the drawn section, the sheets for hanging and for checking.

    paper, date: of the sheets for whoever hangs it; "" leaves a blank for the date
    """
    from ..analysis.complete import complete
    from ..report.figures.aim import aim_figures
    from ..report.json_text import json_text
    from ..report.page import page_html
    from ..report.sheets.check_positions import check_book
    from ..report.sheets.hang_files import hang_files
    from ..report.text.summary import summary_text
    from ..site.check_plan import check_plan

    answer = complete(answer)
    plans = tuple(check_plan(answer, speaker=one.name) for one in answer.speakers)
    return {
        "answer.json": json_text(answer.to_dict()).encode(),
        "summary.txt": summary_text(answer).encode(),
        "aim.html": page_html(answer).encode(),
        **aim_figures(answer),
        **hang_files(answer, paper=paper, date=date),
        "checks.pdf": check_book(answer.scenario, plans),
    }
