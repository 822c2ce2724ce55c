"""A pattern's figures as text, 80 columns wide."""

from textwrap import wrap

import numpy as np

from ...base.bands import band_label
from ...files.pattern_result import Resolution
from ...scenario.pattern_report import PatternReport
from ...speaker.pattern_figures import CONTROL_RATIO, Reach

WIDTH = 80
_WORDS: dict[Reach, str] = {"reached": "", "never": "never", "unknown": "unknown"}


def pattern_text(report: PatternReport) -> str:
    """The whole page, ending in a newline."""
    lines = [*wrap(report.pattern.reference, WIDTH), _resolution(report.resolution), ""]
    lines += _table(report)
    lines += [""]
    lines += _paragraph(
        "Coverage: the first directions from the axis that are 6.02 dB down (IEC 60268-5 usage). "
        '"never": it does not fall that far in any direction; "unknown": the data end, or have a '
        "hole, before it does."
    )
    directivity = (
        "Directivity index: on-axis level over the mean intensity, in the vertical plane only"
    )
    if report.sphere_index_db is not None:
        directivity += ", and over the whole sphere"
    lines += _paragraph(directivity + ".")
    lines += _paragraph(_control(report))
    for title, items in (
        ("Notes", report.notes),
        ("Doubtful in the data", tuple(doubt.text for doubt in report.doubts)),
    ):
        if items:
            lines += ["", title]
            for item in items:
                lines += wrap(item, WIDTH, initial_indent="  - ", subsequent_indent="    ")
    return "\n".join(lines) + "\n"


def _resolution(found: Resolution) -> str:
    whole = f", {found.directions:,} directions" if found.directions > found.angles else ""
    return (
        f"{found.angles} angles from {found.low_deg:g}° to {found.high_deg:g}° every "
        f"{found.typical_step_deg:.3g}°, {found.frequencies} frequencies{whole}"
    )


def _table(report: PatternReport) -> list[str]:
    sphere = report.sphere_index_db
    head = f"{'band':>9}  {'above':>8}  {'below':>8}  {'coverage':>8}  {'DI plane':>9}"
    lines = [head + (f"  {'DI sphere':>9}" if sphere is not None else "")]
    for k, one in enumerate(report.coverage):
        whole = f"{one.whole_deg:.1f}°" if one.whole_deg is not None else "-"
        line = (
            f"{band_label(one.band_hz):>9}  {_edge(one.above_deg, one.reach_above):>8}  "
            f"{_edge(one.below_deg, one.reach_below):>8}  {whole:>8}  "
            f"{_index(report.plane_index_db[k]):>9}"
        )
        lines.append(line + (f"  {_index(sphere[k]):>9}" if sphere is not None else ""))
    return lines


def _edge(angle_deg: float | None, reach: Reach) -> str:
    return _WORDS[reach] if angle_deg is None else f"{angle_deg:.1f}°"


def _index(value_db: float) -> str:
    return f"{value_db:.1f} dB" if np.isfinite(value_db) else "unknown"


def _control(report: PatternReport) -> str:
    found = report.control
    text = f"Control of the vertical coverage: {found.text}."
    if found.control_from_hz is not None:
        text += (
            f" Read where the coverage has grown to {CONTROL_RATIO:g} times its median from 1 kHz "
            f"up ({found.steady_deg:.0f}°), taken to widen as 1/f below: control_from_hz, an "
            "estimate."
        )
    return text


def _paragraph(text: str) -> list[str]:
    return wrap(text, WIDTH)
