"""Which box would do best, in a terminal and as data."""

from dataclasses import asdict
from typing import Any

import numpy as np

from ...base.units import Unit, length_text, tilt_text
from ...sweep.choose import FLAT_DB, NARROWEST_DEG, WIDEST_DEG, Candidate, CoverageChoice
from .terminal import ON_PAPER, Terminal, hanging, labelled
from .what_if import NO_RIGGING
from .words import db_text

NAMES = {
    "spread_db": "spread",
    "worst_band_spread_db": "spread, worst band",
    "deviation_db": "deviation",
}
_BAR = 30
REMARK = (
    "A coverage angle is not yet a loudspeaker: the pattern between its edges has a shape of its "
    "own in each band. Try the pattern files of what is at hand. Each is ranked at its best place; "
    "`aiming solve` takes the lowest place within `lower_if_within_db` of that."
)


def choose_text(
    found: CoverageChoice, *, title: str, unit: Unit, terminal: Terminal = ON_PAPER
) -> str:
    """The best coverage angle, how flat the optimum is, and the patterns ranked."""
    what = NAMES[found.figure]
    over = " of all loudspeakers together" if found.together else ""
    lines = [*hanging(f"{title}: loudspeaker {found.speaker}, ranked by {what}{over}"), ""]
    if found.best is None or found.flat_deg is None:
        lines += hanging("No coverage angle has a placement that meets the limits.")
    else:
        lines += labelled("best", _best(found.best, what, unit))
        lines += labelled("as good", _flat(found.flat_deg))
        lines += [
            "",
            f"{'coverage':>8}{what:>20}  a # for each 0.5 dB over the best",
            *_curve(found),
        ]
    for one in found.left_out:
        lines += hanging(f"{one.name} has none: {one.why or 'no placement meets the limits'}")
    lines += ["", terminal.bold("Patterns, best first")]
    for place, one in enumerate(found.ranked, 1):
        lines += labelled(f"{place}", f"{one.name}: {_candidate(one, what, unit)}", indent=4)
    lines += ["", *hanging(REMARK), *hanging(NO_RIGGING)]
    return "\n".join(line if "\x1b" in line else terminal.plain(line) for line in lines) + "\n"


def choose_dict(found: CoverageChoice) -> dict[str, Any]:
    """Plain data for JSON."""
    objective = [None if np.isnan(value) else float(value) for value in found.objective_db]
    return {
        "schema": 1,
        "speaker": found.speaker,
        "figure": found.figure,
        "together": found.together,
        "best": None if found.best is None else asdict(found.best),
        "flat_deg": None if found.flat_deg is None else list(found.flat_deg),
        "within_db": FLAT_DB,
        "coverage_deg": found.coverage_deg.tolist(),
        "objective_db": objective,
        "left_out": [asdict(one) for one in found.left_out],
        "ranked": [asdict(one) for one in found.ranked],
    }


def _best(one: Candidate, what: str, unit: Unit) -> str:
    return f"{one.name} coverage: {_candidate(one, what, unit)}"


def _candidate(one: Candidate, what: str, unit: Unit) -> str:
    coverage = "" if one.coverage_deg is None else f", {one.coverage_deg:.0f}° coverage"
    coverage = "" if one.name.endswith("°") else coverage
    if one.objective_db is None or one.tilt_deg is None or one.height_m is None:
        return f"{one.why or 'no placement meets the limits'}{coverage}"
    turned = ", flipped" if one.flipped else ""
    place = f"{tilt_text(one.tilt_deg)} at {length_text(one.height_m, unit)}{turned}"
    return f"{what} {db_text(one.objective_db)}, {place}{coverage}"


def _flat(flat_deg: tuple[float, float]) -> str:
    low, high = flat_deg
    ends = [f"{low:.0f}°", f"{high:.0f}°"]
    if low <= NARROWEST_DEG:
        ends[0] += " (the narrowest tried)"
    if high >= WIDEST_DEG:
        ends[1] += " (the widest tried)"
    return f"from {ends[0]} to {ends[1]} it costs at most {FLAT_DB:g} dB more"


def _curve(found: CoverageChoice) -> list[str]:
    """Every tenth degree and the best, with bars from the best to twice as much and more."""
    assert found.best is not None
    at_best = found.best.coverage_deg
    low = float(np.nanmin(found.objective_db))
    lines = []
    for angle, value in zip(found.coverage_deg, found.objective_db, strict=True):
        if angle % 10 and angle != at_best:
            continue
        if np.isnan(value):
            lines.append(f"{angle:>7.0f}°{'none':>20}")
            continue
        bar = "#" * round(min(_BAR, 2.0 * (value - low)))
        more = "+" if 2.0 * (value - low) > _BAR else ""
        best = "  best" if angle == at_best else ""
        lines.append(f"{angle:>7.0f}°{db_text(float(value)):>20}  {bar}{more}{best}".rstrip())
    return lines
