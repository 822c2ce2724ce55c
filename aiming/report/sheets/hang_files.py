"""The loads as a table: a line per point and per line of every loudspeaker."""

from dataclasses import asdict
from typing import Any

from ...base.csv_cells import csv_line
from ...base.units import G_M_S2, POUND_FORCE_N, POUND_KG
from ...results.answer import Answer, SpeakerAnswer, needed
from .calculation import calculation_pdf
from .hang_sheet import hang_sheet_files
from .sheet_page import Paper

COLUMNS = (
    "loudspeaker", "kind", "name", "tilt_deg", "weight_n", "tension_n", "tension_kn",
    "tension_lbf", "hangs_kg", "hangs_lb", "share", "utilisation", "whole_weight_utilisation",
    "kept_utilisation", "off_axis_deg", "lean_deg", "doubt_n", "x_m", "height_m", "steel_x_m",
    "steel_z_m", "length_m", "reading_n", "level_reading_n", "on_structure_n",
    "structure_utilisation", "wll_n", "structure_vertical_n", "structure_horizontal_n", "beside_n",
    "stop_over_n", "weakest", "note",
)  # fmt: skip
NOTE = "no rigging design: local codes, the makers' data and a competent or licensed person prevail"


def loads_csv(answer: Answer) -> str:
    """The columns above; an unknown figure is empty.  A point is a pick, a line what holds it."""
    rows = [{**row, "note": NOTE} for one in answer.speakers for row in _rows(one)]
    return "".join([csv_line(COLUMNS), *(csv_line(map(row.get, COLUMNS)) for row in rows)])


def _rows(one: SpeakerAnswer) -> list[dict[str, Any]]:
    if one.loads is None:
        return []
    common = {"loudspeaker": one.name, "tilt_deg": one.tilt_deg, "weight_n": one.loads.weight_n}
    rows = []
    for kind in ("point", "line"):
        for one_of in getattr(one.loads, f"{kind}s"):
            found = asdict(one_of)
            row = {key: found[key] for key in COLUMNS if key in found}
            rows.append({**common, "kind": kind, **_in_all_units(found.get("tension_n")), **row})
    return rows


def _in_all_units(tension_n: float | None) -> dict[str, float]:
    if tension_n is None:
        return {}
    return {
        "tension_kn": tension_n / 1000.0,
        "tension_lbf": tension_n / POUND_FORCE_N,
        "hangs_kg": tension_n / G_M_S2,
        "hangs_lb": tension_n / G_M_S2 / POUND_KG,
    }


# What `--out` writes for whoever hangs it: the hang sheet, the calculation, the loads.


def hang_files(answer: Answer, *, paper: Paper = "a4", date: str = "") -> dict[str, bytes]:
    """By file name: hang_sheet.pdf, .png, .svg; calculation.pdf; loads.csv.

    date: as the person gives it, "" for a blank to fill in
    """
    return {
        **hang_sheet_files(
            needed(answer.sheets, "sheets"), answer.scenario.units, paper=paper, date=date
        ),
        "calculation.pdf": calculation_pdf(
            needed(answer.calculations, "calculations"), paper=paper, date=date
        ),
        "loads.csv": loads_csv(answer).encode(),
    }
