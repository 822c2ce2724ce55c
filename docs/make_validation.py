"""docs/validation.md, published values beside what is computed: `python docs/make_validation.py`.

The values, their sources and tolerances are those of tests/published, and stand nowhere else.
"""

import math
import re
import sys
from collections.abc import Iterator
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parent / "tests"), str(HERE.parent / "tests" / "support")]

from published.check import MEANING, Check  # noqa: E402
from published.checks import all_checks  # noqa: E402
from published.screening import knife_edge_rows  # noqa: E402
from published.trade_rules import trade_rules  # noqa: E402

from aiming.aim.check_positions import BAND_DB, SITE_DB  # noqa: E402
from aiming.aim.setting_window import WITHIN_DB  # noqa: E402
from aiming.analysis.front_rows import KNEE_DB  # noqa: E402
from aiming.rigging import limits  # noqa: E402
from aiming.scenario.scenario import SOFTEST_DB  # noqa: E402
from aiming.scenario.thresholds import BY_KEY  # noqa: E402
from aiming.speaker.groups import BEHIND_MS, CEILING_DB  # noqa: E402

HEAD = """\
# Validation

Made by `python docs/make_validation.py` from the values in tests/published; a test makes it again,
and fails where it differs or a value is out of its tolerance. **{count} values: {holding} within
their tolerance, {failing} outside.**

{meanings}

| topic | values | {statuses} | outside |
|---|---|{rules}---|
"""
AFTER = """\

No tolerance would let zero or a flipped sign pass. **From memory** are the values of screening (its
formulas, recalled apart, agree within 0.7 dB), the standard's remark on bands of noise in air, and
the sections of the book in which the piston's formulas stand. Nothing else rests on memory. A
figure that is taken from a published rule as it stands, such as a share of a marked limit or the
height of ears, is not here: a constant beside itself shows nothing. Its source stands with it in
[cautions](cautions.md) and [how it computes](how-it-computes.md).

**Not claimed**: conformance with any class of uniformity (ANSI/INFOCOMM 1M-2009 is known to us from
a secondary text, the class limits of ANSI/AVIXA A102.01:2017 not at all); a level limit, unless you
name one; the sound of the room, which is not computed. Nothing here says that something may hang.

## The trade's rules, and how far they hold

The rule itself (axis at the farthest listener, −6 dB edge at the nearest) stands in a maker's guide
to installation, 2022, in words; the numbers are computed. The other rules are common practice
without a source.

| rule | how far it holds |
|---|---|
"""
EDGE = """\

## What the screening law leaves in doubt

The loss behind an edge is a fit of measurements on thin screens. A half plane has an exact
solution, which rests on no memory; real edges lie between the two. N is the Fresnel number, twice
the detour over the wavelength.

| N | exact knife edge | the law used | deeper by |
|---|---|---|---|
"""
EDGE_AFTER = """

So a row in shadow may be 1.0 to 3.4 dB softer than is said, and all rows of one shadow in the same
sense: the law errs loud. Where the softest row lies in shadow, the spread may be that much larger,
and a fill that is levelled to meet its main there is that much the louder of the two. Rows in the
light are not touched beyond N = −0.2.
"""
CHOICES = """\

## What nobody published

Thresholds and defaults without a published source. Each can be moved in the scenario, or is said
where it is used; those of the cautions stand with their keys in [cautions](cautions.md).

| what | value | whose |
|---|---|---|
"""
DEFAULTS = (
    ("setting window: tilts that cost no more than", f"{WITHIN_DB:g} dB", "ours"),
    ("front rows are worth giving away while each gains", f"{KNEE_DB:g} dB", "ours"),
    ("least level of a served row re the last row on the axis", f"{SOFTEST_DB:g} dB",
     "ours: what a coverage edge is down"),
    ("standard deviation that a position adds to measured levels", f"{SITE_DB:g} dB",
     "common practice"),
    ("standard deviation of a measured level in each band", f"{BAND_DB:g} dB", "ours"),
    ("a fill arrives behind its main by", f"{BEHIND_MS:g} ms", "common practice"),
    ("a fill is louder than its main by at most", f"{CEILING_DB:g} dB", "common practice"),
    ("shape of a lobe of which only the coverage is known", "quadratic", "ours"),
)  # fmt: skip
COLUMNS = """
| quantity | source | status | {told} | computed | difference | tolerance |
|---|---|---|---|---|---|---|
"""
_LONG = 10
PUBLISHED, EXPECTED = ("V", "V2"), ("C", "M")


def number(value: float, decimals: int) -> str:
    """Fixed decimals, a true minus, and no minus before nought."""
    text = f"{value:.{decimals}f}"
    return text.replace("-", "−") if float(text) != 0.0 else text.lstrip("-")


def row(check: Check) -> str:
    """One value, to a tenth of the tolerance: other processors print the same."""
    decimals = max(0, 1 - math.floor(math.log10(check.tolerance)))
    unit = f" {check.unit}" if check.unit else ""
    off = number(check.difference, decimals)
    told = f"{check.published:.13g}"
    if len(told) > _LONG:  # not as printed, but as worked out
        told = number(check.published, decimals)
    positive = float(off.replace("−", "-")) > 0.0
    cells = (
        check.quantity, check.source, check.status, f"{told}{unit}",
        number(check.compute(), decimals), f"+{off}" if positive else off,
        f"{check.tolerance:.2g}{unit}",
    )  # fmt: skip
    return f"| {' | '.join(cells)} |"


def unpublished() -> Iterator[tuple[str, str, str]]:
    """(what, value, whose) of every threshold that no published text gives, and of defaults."""
    for limit in {one.code: one for one in (*limits.ALL, *BY_KEY.values())}.values():
        if limit.kind != "published rule":
            yield limit.text, f"{limit.value:g} {limit.unit}", limit.kind
    yield from DEFAULTS


def counts(topic: str, found: tuple[Check, ...]) -> str:
    """A row of the summary."""
    of = [check for check in found if check.topic == topic]
    by_status = [str(sum(check.status == one for check in of) or "") for one in MEANING]
    outside = sum(not check.holds for check in of)
    return f"| {topic} | {len(of)} | {' | '.join(by_status)} | {outside} |"


def markdown() -> str:
    """The page."""
    found = all_checks()
    topics = list(dict.fromkeys(check.topic for check in found))
    holding = sum(check.holds for check in found)
    meanings = "\n".join(
        f"- **{one}**, {sum(check.status == one for check in found)} values: {text}"
        for one, text in MEANING.items()
    )
    page = HEAD.format(
        count=len(found), holding=holding, failing=len(found) - holding, meanings=meanings,
        statuses=" | ".join(MEANING), rules="---|" * len(MEANING),
    )  # fmt: skip
    page += "\n".join(counts(topic, found) for topic in topics) + "\n"
    page += AFTER + "\n".join(f"| {rule} | {holds} |" for rule, holds in trade_rules()) + "\n"
    page += EDGE + "\n".join(f"| {' | '.join(one)} |" for one in knife_edge_rows()) + EDGE_AFTER
    page += CHOICES + "\n".join(f"| {' | '.join(one)} |" for one in unpublished()) + "\n"
    for topic in topics:
        page += f"\n## {topic}\n"
        for told, statuses in (("published", PUBLISHED), ("expected", EXPECTED)):
            some = [one for one in found if one.topic == topic and one.status in statuses]
            if some:
                page += COLUMNS.format(told=told) + "\n".join(map(row, some)) + "\n"
    return re.sub(r"(?<=[ (])-(?=\d)", "−", page)


if __name__ == "__main__":
    (HERE / "validation.md").write_text(markdown(), encoding="utf-8")
