"""What `--out` writes for whoever hangs it: the hang sheet, the calculation, the loads."""

from ..answer.calculation import calculations
from ..answer.hang_sheet import hang_sheets
from ..answer.model import Answer
from ..scenario.scenario import Scenario
from .calculation_sheet import calculation_pdf
from .hang_sheet import hang_sheet_files
from .loads_csv import loads_csv
from .sheet_page import Paper


def hang_files(
    scenario: Scenario, answer: Answer, *, paper: Paper = "a4", date: str = ""
) -> dict[str, bytes]:
    """By file name: hang_sheet.pdf, .png, .svg; calculation.pdf; loads.csv.

    date: as the person gives it, "" for a blank to fill in
    """
    return {
        **hang_sheet_files(hang_sheets(scenario, answer), scenario.units, paper=paper, date=date),
        "calculation.pdf": calculation_pdf(calculations(scenario, answer), paper=paper, date=date),
        "loads.csv": loads_csv(answer).encode(),
    }
