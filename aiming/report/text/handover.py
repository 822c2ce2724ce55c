"""A fill fitted to what it fills, as text 80 columns wide."""

from ...base.bands import band_label
from ...base.units import signed_text
from ...site.handover import Fitted
from .terminal import ON_PAPER, Terminal, hanging, labelled, printable

_BANDS_AT_ONCE = 7


def handover_text(found: Fitted, *, terminal: Terminal = ON_PAPER) -> str:
    """The one thing to do, then measured against planned; ends in a line break."""
    lines = [terminal.bold(line) for line in hanging(printable(found.headline))]
    for one in found.reasons:
        lines += hanging(f"{printable(one)}.")
    at = f"{found.fill} against {found.main}, at {found.row}"
    lines += ["", *hanging(printable(at)), f"{'':<54}{'planned':>10}{'measured':>10}"]
    after = "not told" if found.after_ms is None else signed_text(found.after_ms, " ms")
    lines.append(f"{'arrives after it':<54}{signed_text(found.planned_after_ms, ' ms'):>10}"
                 f"{after:>10}")  # fmt: skip
    lines.append(f"{'level over its, mean of the design bands':<54}"
                 f"{signed_text(found.planned_re_main_db, ' dB'):>10}"
                 f"{signed_text(found.re_main_db, ' dB'):>10}")  # fmt: skip
    sign = {None: "not told", True: "reversed", False: "alike"}[found.reversed]
    lines.append(f"{'polarity':<54}{'alike':>10}{sign:>10}")
    lines.append("")
    bands = list(found.by_band_db)
    for start in range(0, len(bands), _BANDS_AT_ONCE):
        part = bands[start : start + _BANDS_AT_ONCE]
        lines.append(f"{'level over its, dB':<20}" + "".join(f"{band_label(b):>8}" for b in part))
        for label, of in (("planned", found.planned_by_band_db), ("measured", found.by_band_db)):
            lines.append(f"{label:<20}" + "".join(_cell(of[band]) for band in part))
    set_to = "not told" if found.delay_ms is None else f"{found.delay_ms:.1f} ms"
    lines += [
        "",
        *labelled("delay", f"{set_to}, where {found.planned_delay_ms:.1f} ms is set now."),
        *labelled(
            "gain",
            f"{signed_text(found.gain_db, ' dB')}, where "
            f"{signed_text(found.planned_gain_db, ' dB')} is set now.",
        ),
    ]
    return terminal.shown("\n".join(lines) + "\n")


def _cell(value: float | None) -> str:
    return f"{'-' if value is None else signed_text(value, ''):>8}"
