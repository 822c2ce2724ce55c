"""Everything that `--out` writes for one answer, by file name."""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from ..analysis.sensitivity import Explanation
    from ..report.sheets.sheet_page import Paper
    from ..results.answer import Answer
    from ..scenario.scenario import Scenario


def documents(
    scenario: "Scenario",
    answer: "Answer",
    explanation: "Explanation",
    *,
    paper: "Paper" = "a4",
    date: str = "",
) -> dict[str, bytes]:
    """The data, the summary, the page, the drawn section, the sheets for hanging and for checking.

    paper, date: of the sheets for whoever hangs it; "" leaves a blank for the date
    """
    from ..report.figures.aim import aim_figures
    from ..report.json_text import json_text
    from ..report.page import page_html
    from ..report.sheets.check_positions import check_book
    from ..report.sheets.hang_files import hang_files
    from ..report.text.summary import summary_text
    from ..site.check_plan import check_plan

    plans = tuple(check_plan(scenario, answer, speaker=one.name) for one in answer.speakers)
    return {
        "answer.json": json_text(answer.to_dict()).encode(),
        "summary.txt": summary_text(scenario, answer, explanation).encode(),
        "aim.html": page_html(scenario, answer).encode(),
        **aim_figures(scenario, answer),
        **hang_files(scenario, answer, paper=paper, date=date),
        "checks.pdf": check_book(scenario, plans),
    }
