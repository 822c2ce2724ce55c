"""Levels along the rows, each curve about its own mean: what charts and summaries show."""

from dataclasses import dataclass, field

import numpy as np

from ..arrays import FloatArray, IntArray
from ..bands import OCTAVES_HZ
from ..field.levels import power_sum_db
from ..scenario.scenario import Scenario
from .every_band import every_band
from .level_map import placement_of
from .matching import as_answered
from .model import Answer


@dataclass(frozen=True, eq=False)
class Curves:
    """All loudspeakers together.

    mean_db: weighted mean design level; NaN where no row's level is known
    design_db: (n,) design level minus that mean
    by_band_db: (bands, n) each band minus its own weighted mean
    complete: False where a row's level is unknown, so that the means leave it out
    further_hz, further_db: octaves of interest beside the design bands, likewise (bands, n)
    """

    mean_db: float
    design_db: FloatArray
    by_band_db: FloatArray
    complete: bool
    further_hz: tuple[float, ...] = ()
    further_db: FloatArray = field(default_factory=lambda: np.zeros((0, 0)))


def curves(scenario: Scenario, answer: Answer) -> Curves:
    """The answer's levels about their weighted means (row weights as in the deviation)."""
    scenario = as_answered(scenario, answer)
    weight = scenario.rows.weight
    design, mean = _about_mean_db(answer.rows.design_level_db, weight)
    further, levels = _further_db(scenario, answer)
    return Curves(
        mean_db=mean,
        design_db=design,
        by_band_db=np.stack([_about_mean_db(one, weight)[0] for one in answer.rows.levels_db]),
        complete=bool(np.isfinite(answer.rows.levels_db).all()),
        further_hz=further,
        further_db=np.array([_about_mean_db(one, weight)[0] for one in levels]),
    )


def _further_db(scenario: Scenario, answer: Answer) -> tuple[tuple[float, ...], FloatArray]:
    """Octaves that are of interest to every loudspeaker, and their levels (bands, n) together.

    Several loudspeakers add up only where the sensitivity of each is known in a band.
    """
    speakers = [scenario.speaker(one.name) for one in answer.speakers]
    held = set.intersection(*(set(speaker.tone_hz) for speaker in speakers))
    bands = [band for band in OCTAVES_HZ if band in held and band not in answer.bands_hz]
    each, outputs = [], []
    for one, speaker in zip(answer.speakers, speakers, strict=True):
        each.append(every_band(scenario, speaker, placement_of(one)).of(tuple(bands)))
        place = [speaker.pattern.band_hz.index(band) for band in bands]
        outputs.append(speaker.offset_db[place, np.newaxis])
    if len(speakers) == 1:
        return tuple(bands), each[0]
    levels = power_sum_db(np.stack(each) + np.stack(outputs))
    known = np.flatnonzero(np.isfinite(np.stack(outputs)).all(axis=(0, 2)))
    return tuple(bands[k] for k in known), levels[known]


def _about_mean_db(level_db: FloatArray, weight: FloatArray) -> tuple[FloatArray, float]:
    known = np.isfinite(level_db)
    if not known.any():
        return level_db, float("nan")
    mean = float((level_db[known] * weight[known]).sum() / weight[known].sum())
    return level_db - mean, mean


def served_curve(scenario: Scenario, answer: Answer, name: str) -> tuple[IntArray, FloatArray]:
    """Rows that this loudspeaker serves (s,), and its own design level about its mean there."""
    rows = scenario.rows.of(scenario.speaker(name).serves)
    level = answer.rows.by_speaker[name].levels_db[:, rows].mean(axis=0)
    return rows, _about_mean_db(level, scenario.rows.weight[rows])[0]
