"""One self-contained HTML file: everything that it shows travels inside it."""

import re
from base64 import b64encode
from hashlib import sha256
from html import escape
from importlib.resources import files

from ...analysis.page_table import Lattice, lattice_of
from ...results.answer import Answer
from ..text.summary import summary_text
from .plan import MOST_ROWS, plan_text

MOST_POINTS = 2000
"""Placements in all, which takes a second or two."""
MOST_VALUES = 700_000
"""Levels per loudspeaker, which keeps its share of the page well under 400 kB."""
_MOST_LEVELS = 20_000_000
"""Levels held at once while the page is made."""
_SCRIPTS = ("read.js", "draw.js", "section.js", "chart.js", "views.js", "page.js")
_SLOT = re.compile(r"\{\{(\w+)\}\}")


def page_html(answer: Answer) -> str:
    """The page of an answer: section, levels, sliders over tilt and height, the hang's figures.

    Nothing is loaded from anywhere, and a policy in the page forbids it to try.  The same answer
    gives the same page.
    """
    scenario = answer.scenario
    lattices = _lattices(answer)
    style, script = part("page.css"), "\n".join(part(name) for name in _SCRIPTS)
    slots = {
        "title": escape(scenario.title),
        "datum": escape(scenario.datum),
        "version": escape(answer.version),
        "words": escape(summary_text(answer)),
        "plan": plan_text(answer, lattices),
        "style": style,
        "script": script,
        "styleHash": _hash(style),
        "scriptHash": _hash(script),
    }
    # In one pass, so that a title that looks like a slot stays a title.
    return _SLOT.sub(lambda found: slots[found[1]], part("page.html"))


def _lattices(answer: Answer) -> list[Lattice]:
    channels = len(answer.bands_hz) + 1
    drawn = min(len(answer.rows), MOST_ROWS) * (1 if len(answer.speakers) == 1 else 2)
    points = min(
        MOST_POINTS // len(answer.speakers),
        MOST_VALUES // (channels * drawn),
        _MOST_LEVELS // (channels * len(answer.rows)),
    )
    return [lattice_of(answer, one.name, points=points) for one in answer.speakers]


def part(name: str) -> str:
    """One of the page's own files: script, style or frame."""
    return files(__package__).joinpath(name).read_text(encoding="utf-8")


def _hash(text: str) -> str:
    """As a content security policy names an inline part."""
    return f"sha256-{b64encode(sha256(text.encode()).digest()).decode()}"
