"""One self-contained HTML file: everything that it shows travels inside it."""

import re
from base64 import b64encode
from hashlib import sha256
from html import escape
from importlib.resources import files
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from ...results.answer import Answer

_SCRIPTS = (
    "read.js",
    "draw.js",
    "section.js",
    "chart.js",
    "state.js",
    "levels.js",
    "views.js",
    "page.js",
)
_SLOT = re.compile(r"\{\{(\w+)\}\}")


def page_html(answer: "Answer") -> str:
    """The page of an answer: section, levels, sliders over tilt and height, the hang's figures.

    Nothing is loaded from anywhere, and a policy in the page forbids it to try.  The same answer
    gives the same page.
    """
    from ...results.answer import needed
    from ..text.summary import summary_text
    from .plan import plan_text

    scenario = answer.scenario
    table = needed(answer.page, "page")
    style, script = part("page.css"), "\n".join(part(name) for name in _SCRIPTS)
    slots = {
        "title": escape(scenario.title),
        "datum": escape(scenario.datum),
        "version": escape(answer.version),
        "words": escape(summary_text(answer)),
        "plan": plan_text(answer, table),
        "style": style,
        "script": script,
        "styleHash": _hash(style),
        "scriptHash": _hash(script),
    }
    # In one pass, so that a title that looks like a slot stays a title.
    return _SLOT.sub(lambda found: slots[found[1]], part("page.html"))


def part(name: str) -> str:
    """One of the page's own files: script, style or frame."""
    return files(__package__).joinpath(name).read_text(encoding="utf-8")


def _hash(text: str) -> str:
    """As a content security policy names an inline part."""
    return f"sha256-{b64encode(sha256(text.encode()).digest()).decode()}"
