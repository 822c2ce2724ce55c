"""docs/cautions.md from the table of cautions: `python -m aiming.cautions.document`."""

from . import rule as own
from .rules import RULES


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
        *(f"{key} = {limit.value:g}" for key, limit in own.BY_KEY.items()),
        "stage_focus = [0, 0]  # foot of what the audience looks at; the datum unless given",
        "# level_limit_db = 99           # none unless given, and only with the next line",
        '# level_limit_name = "house rule, averaged over 30 min"',
        "```",
        "",
        "| code | severity | what brings it about | threshold; key | status and source |",
        "|---|---|---|---|---|",
    ]
    lines += [
        f"| `{rule.code}` | {rule.severity} | {rule.trigger} | {rule.threshold_text} "
        f"| {rule.status_text} |"
        for rule in RULES
    ]
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    print(markdown(), end="")
