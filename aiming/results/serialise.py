"""An answer as plain lists, numbers and strings, under the contract's names."""

from typing import Any

import numpy as np

from ..base.arrays import FloatArray
from ..base.bands import band_key
from ..base.version import VERSION
from .answer import SCHEMA, Answer, BandFigures, Caution, RowsAnswer, SpeakerAnswer, Together


def answer_dict(answer: Answer) -> dict[str, Any]:
    """The whole answer, ready for JSON: full precision, no NaN or infinity."""
    return {
        "schema": answer.schema,
        "version": answer.version,
        "title": answer.title,
        "speakers": [_speaker_dict(one) for one in answer.speakers],
        "together": None if answer.together is None else _together_dict(answer.together),
        "rows": _rows_list(answer.rows, answer.bands_hz),
        "cautions": [_caution_dict(one) for one in answer.cautions],
    }


def no_placement_dict(*, title: str, told: str) -> dict[str, Any]:
    """The same shape where no placement meets the limits: nothing in it but why."""
    from ..cautions.declare import Told
    from ..cautions.general import NO_PLACEMENT

    return {
        "schema": SCHEMA,
        "version": VERSION,
        "title": title,
        "speakers": [],
        "together": None,
        "rows": [],
        "cautions": [_caution_dict(NO_PLACEMENT.made(Told(told)))],
    }


def _caution_dict(one: Caution) -> dict[str, Any]:
    return dict(vars(one))


def known(value: float | np.floating[Any] | FloatArray) -> float | None:
    """A number, or an array () of one, as a float; None for NaN and infinity."""
    number = float(value)
    return number if np.isfinite(number) else None


def plain(value: Any) -> Any:
    """Arrays, tuples and numpy numbers as lists and Python numbers; NaN and infinity as None."""
    if isinstance(value, dict):
        return {
            band_key(key) if isinstance(key, float) else str(key): plain(of)
            for key, of in value.items()
        }
    if isinstance(value, np.ndarray):
        return plain(value.tolist())
    if isinstance(value, list | tuple):
        return [plain(item) for item in value]
    if isinstance(value, bool | np.bool_):
        return bool(value)
    if isinstance(value, float | np.floating):
        return known(value)
    if isinstance(value, np.integer):
        return int(value)
    return value


def _by_band(figures: dict[float, BandFigures]) -> dict[str, Any]:
    return {
        band_key(band): {
            "spread_db": one.spread_db,
            "loudest": one.loudest,
            "softest": one.softest,
        }
        for band, one in figures.items()
    }


def _together_dict(together: Together) -> dict[str, Any]:
    return {
        "spread_db": together.spread_db,
        "worst_band_spread_db": together.worst_band_spread_db,
        "by_band": _by_band(together.by_band),
        "rows_within_3db_percent": together.rows_within_3db_percent,
        "sum": together.summed,
    }


def _speaker_dict(one: SpeakerAnswer) -> dict[str, Any]:
    line = one.uniform_line
    return {
        "name": one.name,
        "mount": one.mount,
        "orientation": one.orientation,
        "x_m": one.x_m,
        "height_m": one.height_m,
        "trim_m": one.trim_m,
        "tilt_deg": one.tilt_deg,
        "aim_point": plain(one.aim_point),
        "aim_seating": one.aim_seating,
        "aim_row": one.aim_row,
        "spread_db": one.spread_db,
        "worst_band_spread_db": one.worst_band_spread_db,
        "deviation_db": one.deviation_db,
        "rows_within_3db_percent": one.rows_within_3db_percent,
        "best": None if one.best is None else dict(vars(one.best)),
        "gap_db": one.gap_db,
        "limited_by": list(one.limited_by),
        "window": None
        if one.window is None
        else {
            "tilt_deg": plain(one.window.tilt_deg),
            "height_m": plain(one.window.height_m),
            "within_db": one.window.within_db,
        },
        "shortcut": dict(vars(one.shortcut)),
        "by_band": _by_band(one.by_band),
        "uniform_line": None
        if line is None
        else {"points": plain(line.points_m), "edge": plain(line.edge)},
        "check_positions": [
            {
                "name": position.name,
                "x_m": position.x_m,
                "z_m": position.z_m,
                "distance_m": position.distance_m,
                "off_axis_deg": position.off_axis_deg,
                "levels_db": plain(position.levels_db),
                "level_per_degree_db": position.level_per_degree_db,
                "reason": position.reason,
            }
            for position in one.check_positions
        ],
        "loads": plain(one.loads),
        "stack": plain(one.stack),
        "tone": None if one.tone is None else plain(one.tone.to_dict()),
        "output": None if one.output is None else plain(one.output.to_dict()),
        "lobe_family": None if one.lobe_family is None else plain(one.lobe_family.to_dict()),
        "tolerance": None if one.tolerance is None else plain(dict(vars(one.tolerance))),
        "softest_db": one.softest_db,
        "left_to_fill": None if one.left_to_fill is None else plain(dict(vars(one.left_to_fill))),
        "gain_db": one.gain_db,
        "delay_ms": one.delay_ms,
        "match": None if one.match is None else plain(one.match.to_dict()),
        "adds": None if one.adds is None else plain(one.adds.to_dict()),
        "pair": None if one.pair is None else plain(one.pair.to_dict()),
        "hung_under": one.hung_under,
        "room": None if one.room is None else plain(one.room.to_dict()),
        "reflections": None if one.misses is None else plain(one.misses.reflections_list()),
        "lands_percent": None if one.misses is None else plain(one.misses.lands_dict()),
    }


def _rows_list(rows: RowsAnswer, bands_hz: tuple[float, ...]) -> list[dict[str, Any]]:
    keys = [band_key(band) for band in bands_hz]

    def by_band(table: FloatArray, row: int) -> dict[str, float | None]:
        return {key: known(level) for key, level in zip(keys, table[:, row], strict=True)}

    return [
        {
            "name": rows.name[row],
            "seating": rows.seating[row],
            "x_m": float(rows.x_m[row]),
            "z_m": float(rows.z_m[row]),
            "levels_db": by_band(rows.levels_db, row),
            "design_level_db": known(rows.design_level_db[row]),
            "by_speaker": {
                name: {
                    "distance_m": float(one.distance_m[row]),
                    "off_axis_deg": float(one.off_axis_deg[row]),
                    "levels_db": by_band(one.levels_db, row),
                    "shadow_db": by_band(one.shadow_db, row),
                    "departure_db": known(one.departure_db[row]),
                    "departure_m": known(one.departure_m[row]),
                    **{of: known(table[row]) for of, table in one.further().items()},
                }
                for name, one in rows.by_speaker.items()
            },
        }
        for row in range(len(rows))
    ]
