"""What is compared: some answers, and the lines of a table that tell them apart."""

from dataclasses import dataclass
from typing import Any

from ..answer.curves import served_curve
from ..answer.model import Answer, SpeakerAnswer
from ..bands import band_label
from ..scenario.scenario import Scenario
from ..units import Unit, force_text, length_text, tilt_text, x_text
from .words import db_text, row_text


@dataclass(frozen=True, eq=False)
class Case:
    """One of the things compared; answer None where no placement meets the limits."""

    name: str
    scenario: Scenario
    answer: Answer | None
    refusal: str = ""


@dataclass(frozen=True)
class Line:
    """One line of the table: what it is, and each case's text; about: the loudspeaker, or ""."""

    about: str
    label: str
    texts: tuple[str, ...]


def table_lines(cases: tuple[Case, ...]) -> list[Line]:
    """Loudspeaker by loudspeaker, then all together, then cautions."""
    answers = [case.answer for case in cases if case.answer is not None]
    # Where each case has one loudspeaker these are compared, whatever their names.
    alone = all(len(answer.speakers) == 1 for answer in answers)
    names = dict.fromkeys(one.name for answer in answers for one in answer.speakers)
    bands = sorted({band for answer in answers for band in answer.bands_hz})
    asked = [None] if alone else list(names)
    lines = []
    for name in asked:
        columns = [_speaker_texts(case, name, bands) for case in cases]
        for label in dict.fromkeys(label for column in columns for label in column):
            texts = tuple(column.get(label, "–") for column in columns)
            lines.append(Line(name or "", label, texts))
    together = [_together_texts(case, several=not alone) for case in cases]
    for label in dict.fromkeys(label for column in together for label in column):
        texts = tuple(column.get(label, "–") for column in together)
        lines.append(Line("" if alone else "all together", label, texts))
    return lines


def compared_dict(cases: tuple[Case, ...]) -> dict[str, Any]:
    """Plain data for JSON: each case's whole answer, or why it has none."""
    return {
        "schema": 1,
        "compared": [
            {
                "name": case.name,
                "answer": None if case.answer is None else case.answer.to_dict(),
                "no_placement": case.refusal or None,
            }
            for case in cases
        ],
    }


def _speaker_texts(case: Case, name: str | None, bands: list[float]) -> dict[str, str]:
    """Of the loudspeaker of this name, or of the only one."""
    if case.answer is None:
        return {"tilt": "no placement"}
    for one in case.answer.speakers:
        if name is None or one.name == name:
            return _texts_of(case, case.answer, one, bands)
    return {}


def _texts_of(case: Case, answer: Answer, one: SpeakerAnswer, bands: list[float]) -> dict[str, str]:
    unit = case.scenario.units
    rows, level = served_curve(case.scenario, answer, one.name)
    within = one.rows_within_3db_percent
    texts = {
        "tilt": tilt_text(one.tilt_deg),
        "hung as": f"{one.mount}, {one.orientation}",
        "height": length_text(one.height_m, unit),
        "trim": length_text(one.trim_m, unit),
        "x": _x_text(one.x_m, unit),
        "spread": db_text(one.spread_db),
        **{
            f"  {band_label(band)}": db_text(one.by_band[band].spread_db)
            if band in one.by_band
            else "–"
            for band in bands
        },
        "within ±3 dB": "unknown" if within is None else f"{within:.0f} % of rows",
    }
    if one.spread_db is not None:
        softest = int(level.argmin())
        texts["softest row"] = (
            f"{row_text(case.scenario, answer, int(rows[softest])).removeprefix('row ')}, "
            f"{db_text(float(level[softest]), signed=True)}"
        )
    greatest = one.output.greatest if one.output else None
    if greatest is not None and greatest.headroom_db is not None:
        texts["headroom"] = db_text(greatest.headroom_db, signed=True)
    for point in (one.loads or {}).get("points", []):
        texts[f"load {point['name']}"] = force_text(point["tension_n"], unit)
    return texts


def _x_text(x_m: float, unit: Unit) -> str:
    text = x_text(x_m, unit).removesuffix(" the datum").removesuffix(" of")
    return "0" if text == "at" else text


def _together_texts(case: Case, *, several: bool) -> dict[str, str]:
    if case.answer is None:
        return {"cautions": "no placement"}
    texts = {}
    if several and case.answer.together is not None:
        texts["spread"] = db_text(case.answer.together.spread_db)
    count = {
        severity: sum(one.severity == severity for one in case.answer.cautions)
        for severity in ("stop", "caution")
    }
    stops = f"{count['stop']} STOP, " if count["stop"] else ""
    texts["cautions"] = f"{stops}{count['caution']} caution{'s' * (count['caution'] != 1)}"
    return texts
