"""Levels along the rows, each curve about its own mean: what charts and summaries show."""

from dataclasses import dataclass

import numpy as np

from ..arrays import FloatArray, IntArray
from ..scenario.scenario import Scenario
from .model import Answer


@dataclass(frozen=True, eq=False)
class Curves:
    """All loudspeakers together.

    mean_db: weighted mean design level; NaN where no row's level is known
    design_db: (n,) design level minus that mean
    by_band_db: (bands, n) each band minus its own weighted mean
    complete: False where a row's level is unknown, so that the means leave it out
    """

    mean_db: float
    design_db: FloatArray
    by_band_db: FloatArray
    complete: bool


def curves(scenario: Scenario, answer: Answer) -> Curves:
    """The answer's levels about their weighted means (row weights as in the deviation)."""
    weight = scenario.rows.weight
    design, mean = _about_mean_db(answer.rows.design_level_db, weight)
    return Curves(
        mean_db=mean,
        design_db=design,
        by_band_db=np.stack([_about_mean_db(one, weight)[0] for one in answer.rows.levels_db]),
        complete=bool(np.isfinite(answer.rows.levels_db).all()),
    )


def _about_mean_db(level_db: FloatArray, weight: FloatArray) -> tuple[FloatArray, float]:
    known = np.isfinite(level_db)
    if not known.any():
        return level_db, float("nan")
    mean = float((level_db[known] * weight[known]).sum() / weight[known].sum())
    return level_db - mean, mean


def served_curve(scenario: Scenario, answer: Answer, name: str) -> tuple[IntArray, FloatArray]:
    """Rows that this loudspeaker serves (s,), and its own design level there about its mean (s,)."""
    rows = scenario.rows.of(scenario.speaker(name).serves)
    level = answer.rows.by_speaker[name].levels_db[:, rows].mean(axis=0)
    return rows, _about_mean_db(level, scenario.rows.weight[rows])[0]
