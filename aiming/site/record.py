"""The record of a day on site: who, when, what air, which set, what was found and decided.

A text file that people read and TOML readers too; every run adds an entry, and is compared with the
one before it.
"""

import json
import tomllib
from dataclasses import dataclass

from ..base.air import Air
from ..base.errors import Fault, ScenarioError
from ..base.units import signed_text
from .model import Found

HEADER = "# Measured and decided on site: every run adds an entry, the last one stands last.\n"


@dataclass(frozen=True)
class Entry:
    """What the next run compares with; figures are None where they were not told."""

    speaker: str
    set: str
    headline: str
    tilt_error_deg: float | None
    spread_now_db: float | None


def entry_text(found: Found, *, by: str, date: str, air: Air, measured: str) -> str:
    """One entry, ending in a line break.

    by, date: who and when, as given; "" leaves them open.  measured: the files' names
    """

    def line(key: str, value: object) -> str:
        return f"{key} = {json.dumps(value, ensure_ascii=False)}\n"

    def told(key: str, one: object) -> str:
        interval = getattr(found, key)
        if interval is None:
            return ""
        numbers = [round(v, 3) for v in (interval.low, interval.value, interval.high)]
        return f"{one} = {numbers}  # low, value, high: 90 %\n"

    text = "\n[[run]]\n"
    text += line("date", date) + line("by", by)
    text += line("speaker", found.speaker) + line("set", measured)
    text += line(
        "air",
        f"{air.temperature_c:g} °C, {air.humidity_percent:g} %, {air.pressure_kpa:g} kPa",
    )
    text += line("positions", [one.name for one in found.positions])
    text += line("readings", [one.text for one in found.readings])
    text += told("tilt_error_deg", "tilt_error_deg") + told("height_error_m", "height_error_m")
    if found.spread_now_db is not None:
        text += f"spread_now_db = {found.spread_now_db:.2f}\n"
    return text + line("decision", found.headline) + line("outcome", found.outcome)


def last_entry(text: str, file: str, speaker: str) -> Entry | None:
    """The last entry about this loudspeaker; None where there is none.

    Raises ScenarioError where the text is no record.
    """
    try:
        runs = tomllib.loads(text)["run"]
        own = [one for one in runs if one["speaker"] == speaker]
        if not own:
            return None
        last = own[-1]
        tilt = last.get("tilt_error_deg")
        spread = last.get("spread_now_db")
        return Entry(
            speaker=str(last["speaker"]),
            set=str(last["set"]),
            headline=str(last["decision"]),
            tilt_error_deg=None if tilt is None else float(tilt[1]),
            spread_now_db=None if spread is None else float(spread),
        )
    except (tomllib.TOMLDecodeError, KeyError, TypeError, ValueError, IndexError):
        said = "no record of a day on site; a new file, or one that --record has written"
        raise ScenarioError([Fault(file, 1, 1, "record", said)]) from None


def compared_text(last: Entry, found: Found) -> str:
    """What has changed since the entry before."""
    told = [f"before: {last.headline}"]
    if last.tilt_error_deg is not None and found.tilt_error_deg is not None:
        was, now = (
            signed_text(last.tilt_error_deg, "°"),
            signed_text(found.tilt_error_deg.value, "°"),
        )
        told.append(f"tilt off its plan by {was} then, {now} now")
    if last.spread_now_db is not None and found.spread_now_db is not None:
        told.append(f"spread {last.spread_now_db:.1f} dB then, {found.spread_now_db:.1f} dB now")
    return "; ".join(told)
