"""Put scenario files and summaries into README and docs as they are.

Run `python docs/make_excerpts.py` after a change.

A block that begins with "```toml file SCENARIO" holds that file; one that begins with
"```text summary SCENARIO [FIRST LAST]" those lines of its summary, all without numbers.
"""

import re
from pathlib import Path

import aiming
from aiming.analysis.complete import complete
from aiming.report.text.summary import first_screen_text, summary_text

ROOT = Path(__file__).resolve().parent.parent
PAGES = (ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md")))
BLOCK = re.compile(
    r"^```(?P<kind>toml file|text screen|text summary) (?P<file>\S+)"
    r"(?: (?P<first>\d+) (?P<last>\d+))?\n"
    r".*?^```$",
    re.MULTILINE | re.DOTALL,
)


def printed(file: str, *, full: bool) -> str:
    """What `aiming solve` prints of a scenario, without a terminal; full: with --full."""
    answer = aiming.solve(aiming.load(ROOT / file))
    return summary_text(complete(answer)) if full else first_screen_text(answer)


def _block(found: re.Match[str]) -> str:
    file, first, last = found["file"], found["first"], found["last"]
    if found["kind"] == "toml file":
        text = (ROOT / file).read_text(encoding="utf-8")
    else:
        text = printed(file, full=found["kind"] == "text summary")
    lines = text.rstrip("\n").splitlines()
    if first is not None:
        lines = lines[int(first) - 1 : int(last)]
    opening = found[0].splitlines()[0]
    return "\n".join([opening, *lines, "```"])


def filled(page: Path) -> str:
    """The page with its blocks as they should be."""
    return BLOCK.sub(_block, page.read_text(encoding="utf-8"))


if __name__ == "__main__":
    for page in PAGES:
        page.write_text(filled(page), encoding="utf-8")
