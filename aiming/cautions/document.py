"""docs/cautions.md from the declarations: `python -m aiming.cautions.document`."""

from ..scenario.thresholds import BY_KEY
from .collect import ORDERED, TOPICS
from .declare import Declaration

HEADINGS = {
    "hang": "What hangs",
    "loads": "What bears it",
    "bridle": "A bridle",
    "stack": "What stands",
    "place": "Place, views and wind",
    "sound": "Sound and levels",
    "sense": "Figures that no house, box or setting has",
    "decision": "What the aim leaves out",
    "pattern": "Patterns",
    "groups": "Several loudspeakers",
    "general": "Every answer",
}


def markdown() -> str:
    """docs/cautions.md."""
    lines = [
        "# Cautions",
        "",
        "What `aiming` warns of, when, and whose rule that is. The plain one comes first in every",
        "answer: nothing here is a rigging design, and local codes, the makers' data and a",
        "competent or licensed person prevail. A figure inside every threshold is not thereby fit",
        "to be hung over people. Standards that may apply where you are, named by title only: ANSI",
        "E1.8, ANSI ES1.18, EN 17206, EN 13200-1, LOLER, OSHA 1910.184.",
        "",
        "A **stop** ends the program with exit code 3 and prints NOT FOR HANGING over the sheet.",
        "",
        "Thresholds with a key can be moved in the scenario; lengths take units as everywhere:",
        "",
        "```toml",
        "[cautions]",
        *(f"{key} = {limit.value:g}" for key, limit in BY_KEY.items()),
        "stage_focus = [0, 0]  # foot of what the audience looks at; the datum unless given",
        "# level_limit_db = 99           # none unless given, and only with the next line",
        '# level_limit_name = "house rule, averaged over 30 min"',
        "```",
    ]
    for topic in TOPICS:
        name = topic.__name__.rpartition(".")[2]
        lines += [
            "",
            f"## {HEADINGS[name]}",
            "",
            "| code | severity | what brings it about | asked where | threshold; key | source |",
            "|---|---|---|---|---|---|",
            *(_row(one) for one in ORDERED if one.topic == topic.__name__),
        ]
    return "\n".join(lines) + "\n"


def _row(one: Declaration) -> str:
    needs = "" if one.needs is None else one.needs.text
    return (
        f"| `{one.code}` | {' or '.join(one.severities)} | {one.when} | {needs} "
        f"| {one.threshold_text} | {one.source_text} |"
    )


if __name__ == "__main__":
    print(markdown(), end="")
