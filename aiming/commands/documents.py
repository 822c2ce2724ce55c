"""Everything that `--out` writes for one answer, by file name."""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from ..answer.explain import Explanation
    from ..answer.model import Answer
    from ..scenario.scenario import Scenario


def documents(
    scenario: "Scenario", answer: "Answer", explanation: "Explanation"
) -> dict[str, bytes]:
    """The data, the summary, the page and the drawn section in all formats."""
    from ..report.aim_figure import aim_figures
    from ..report.json_text import json_text
    from ..report.page import page_html
    from ..report.summary import summary_text

    return {
        "answer.json": json_text(answer.to_dict()).encode(),
        "summary.txt": summary_text(scenario, answer, explanation).encode(),
        "aim.html": page_html(scenario, answer).encode(),
        **aim_figures(scenario, answer),
    }
