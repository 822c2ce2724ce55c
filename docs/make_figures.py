"""The pictures in README and docs, drawn from scenarios/: `python docs/make_figures.py`.

The same version of matplotlib gives the same bytes.
"""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import aiming
from aiming.analysis.complete import complete
from aiming.report.figures.aim import aim_figures
from aiming.report.figures.compare import compare_figures
from aiming.report.figures.what_if import what_if_figures
from aiming.report.sheets.hang_files import hang_files
from aiming.sweep.axes import parse_over
from aiming.sweep.run import figures_for, what_if
from aiming.sweep.tradeoffs import overview

HERE = Path(__file__).parent
SCENARIOS = HERE.parent / "scenarios"


def section() -> bytes:
    """The main scenario's section with its levels by row."""
    scenario = aiming.load(SCENARIOS / "quarry.toml")
    return aim_figures(complete(aiming.solve(scenario), ("section",)))["section.svg"]


def hang_sheet() -> bytes:
    """The main scenario's hang sheet."""
    scenario = aiming.load(SCENARIOS / "quarry.toml")
    answer = complete(aiming.solve(scenario), ("sheets", "calculations"))
    return hang_files(answer)["hang_sheet.svg"]


def what_if_map() -> bytes:
    """The worst band's spread over height and tilt."""
    scenario = aiming.load(SCENARIOS / "quarry.toml")
    over = parse_over(
        ["speaker.main.placement.height=4.5:8:0.25", "speaker.main.placement.tilt=-40:0:1"],
        unit=scenario.units,
    )
    table = what_if(scenario, over, figures=figures_for(scenario, over))
    seen = overview(table, by=None, count=5)
    return what_if_figures(table, seen, title=scenario.title, formats=("svg",))["what-if.svg"]


def compare() -> bytes:
    """A box on a riser beside the same box hung."""
    whole = aiming.load(SCENARIOS / "basement_club.toml")
    cases = tuple(
        replace(case, answer=case.answer and complete(case.answer, ("section",)))
        for case in aiming.compare(whole)
    )
    return compare_figures(cases)["compare.svg"]


FIGURES: dict[str, Callable[[], bytes]] = {
    "section.svg": section,
    "hang_sheet.svg": hang_sheet,
    "what-if.svg": what_if_map,
    "compare.svg": compare,
}

if __name__ == "__main__":
    folder = HERE / "figures"
    folder.mkdir(exist_ok=True)
    for name, draw in FIGURES.items():
        (folder / name).write_bytes(draw())
