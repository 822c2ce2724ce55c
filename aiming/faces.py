"""What an answer looks like from outside: a figure, a folder of documents, a few lines of HTML.

Here everything that a face needs is asked for, then handed to the rooms that only show it.
"""

from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Any

from .analysis.complete import complete
from .results.answer import Answer

if TYPE_CHECKING:
    from .report.sheets.sheet_page import Paper


def plot(answer: Answer) -> Any:
    """The section to scale with the levels by row, a matplotlib Figure."""
    from .report.figures import style as look
    from .report.figures.aim import aim_figure

    with look.style():
        return aim_figure(complete(answer, ("section",)))


def documents(answer: Answer, *, paper: "Paper" = "a4", date: str = "") -> dict[str, bytes]:
    """By file name: data, summary, page, drawn section, sheets for hanging and for checking.

    paper, date: of the sheets for whoever hangs it; "" leaves a blank for the date
    """
    from .report.figures.aim import aim_figures
    from .report.json_text import json_text
    from .report.page import page_html
    from .report.sheets.check_positions import check_book
    from .report.sheets.hang_files import hang_files
    from .report.sheets.job import job_pdf
    from .report.sheets.sheet_page import SIZES_IN
    from .report.text.summary import summary_text
    from .site.check_plan import check_plan

    answer = complete(answer)
    wide_in, tall_in = SIZES_IN[paper]
    plans = tuple(check_plan(answer, speaker=one.name) for one in answer.speakers)
    drawn = aim_figures(answer, size_in=(tall_in, wide_in))
    hung = hang_files(answer, paper=paper, date=date)
    checks = check_book(answer.scenario, plans, paper=paper)
    sheets = (
        hung[name] for name in hung if name.startswith("hang_sheet") and name.endswith(".pdf")
    )
    in_order = (drawn["section.pdf"], *sheets, checks, hung["calculation.pdf"])
    return {
        "answer.json": json_text(answer.to_dict()).encode(),
        "summary.txt": summary_text(answer).encode(),
        "aim.html": page_html(answer).encode(),
        **drawn,
        **hung,
        "checks.pdf": checks,
        "job.pdf": job_pdf(in_order),
    }


def write(
    answer: Answer,
    folder: str | Path,
    *,
    replace: bool = False,
    paper: "Paper" = "a4",
    date: str = "",
) -> tuple[Path, ...]:
    """The documents into a folder, all of them or none; the files written, by name."""
    from .report.output_folder import check_folder, write_folder

    of = answer.scenario
    check_folder(folder, scenario=of.file, title=of.title, replace=replace)
    made = documents(answer, paper=paper, date=date)
    write_folder(folder, made, scenario=of.file, title=of.title, replace=replace)
    return tuple(Path(folder) / name for name in sorted(made))


def html(answer: Answer) -> str:
    """A small table and the section, for a notebook."""
    from .base.units import length_text, tilt_text
    from .report.figures.aim import aim_figures

    unit = answer.scenario.units
    rows = "".join(
        "<tr>"
        + "".join(
            f"<td>{escape(text)}</td>"
            for text in (
                one.name,
                tilt_text(one.tilt_deg),
                one.orientation,
                length_text(one.trim_m, unit),
                length_text(one.height_m, unit),
                "unknown" if one.spread_db is None else f"{one.spread_db:.1f} dB",
            )
        )
        + "</tr>"
        for one in answer.speakers
    )
    heads = ("", "tilt", "orientation", "trim", "acoustic centre", "spread alone")
    head = "".join(f"<th>{text}</th>" for text in heads)
    stops = "".join(
        f"<p><strong>STOP</strong> {escape(one.text)}</p>"
        for one in answer.cautions
        if one.severity == "stop"
    )
    drawn = aim_figures(complete(answer, ("section",)), ("svg",))["section.svg"].decode()
    table = f"<table><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>"
    return f"{stops}{table}{drawn[drawn.index('<svg') :]}"
