"""Absolute levels: what one loudspeaker gives at the rows, and what is left to the level wanted."""

from dataclasses import replace

import numpy as np

from ..arrays import FloatArray
from ..bands import SPEECH_2020_DB
from ..scenario.scenario import ProgrammeSettings, Scenario
from ..speaker.output import Programme, at_limit_db, programme_db, sum_db
from ..speaker.speaker import Placement, Speaker
from .every_band import EveryBand, every_band
from .placed import Placed
from .sound import Loudness, Played

Bands = tuple[float, ...]


def loudness_of(scenario: Scenario, at: Placed, every: EveryBand) -> Loudness | None:
    """What it gives alone; None where neither sensitivity nor greatest level is given."""
    speaker = at.speaker
    if speaker.sensitivity_db is None and speaker.max_level_db is None:
        return None
    wanted = scenario.programme or ProgrammeSettings()
    whole = programme_hz(speaker, wanted.spectrum)
    one_watt = _one_watt(at, every, wanted, whole)
    greatest = _greatest(at, every, wanted, whole)
    summed = [played.bands_hz for played in (one_watt, greatest) if played is not None]
    return Loudness(
        programme=wanted.spectrum,
        weighting=wanted.weighting,
        target_db=wanted.target_db,
        missing_hz=tuple(band for band in whole if any(band not in of for of in summed)),
        one_watt=one_watt,
        greatest=greatest,
    )


def programme_hz(speaker: Speaker, programme: Programme) -> Bands:
    """The bands over which the programme's energy adds up.

    Speech has its octaves, whether or not the pattern holds them all (thirds stand for the octave
    that they are the middle of); pink noise has the bands of the pattern.
    """
    return tuple(sorted(speaker.pattern.band_hz if programme == "pink" else SPEECH_2020_DB))


def greatest_a_db(scenario: Scenario, speaker: Speaker, placement: Placement) -> FloatArray | None:
    """(rows,) A-weighted level at every row when the programme drives it to its greatest level.

    None where that is not given; NaN where the pattern is unknown.
    """
    wanted = scenario.programme or ProgrammeSettings()
    whole = programme_hz(speaker, wanted.spectrum)
    summed = _limited(speaker, whole)
    if not summed:
        return None
    played, _ = _at_limit(speaker, wanted.spectrum, whole, summed)
    path = every_band(scenario, speaker, placement).of(summed)
    return sum_db(path + played[:, np.newaxis], summed, weighting="A")


def _limited(speaker: Speaker, whole: Bands) -> Bands:
    """Bands that the pattern holds and whose greatest level is known."""
    most = speaker.max_level_db
    if most is None:
        return ()
    held = [band for band in whole if band in speaker.pattern.band_hz]
    return tuple(band for band in held if not isinstance(most, dict) or band in most)


def _at_limit(
    speaker: Speaker, programme: Programme, whole: Bands, summed: Bands
) -> tuple[FloatArray, float | None]:
    """At 1 m on axis in the bands that are summed, and the band that reaches its limit first."""
    assert speaker.max_level_db is not None
    level, limited_by = at_limit_db(
        whole,
        max_level_db=speaker.max_level_db,
        programme=programme,
        eq_db=_lift_db(speaker, whole),
    )
    return level[[whole.index(band) for band in summed]], limited_by


def _lift_db(speaker: Speaker, bands_hz: Bands) -> FloatArray:
    return np.array([speaker.eq_db.get(band, 0.0) for band in bands_hz])


def _greatest(
    at: Placed, every: EveryBand, wanted: ProgrammeSettings, whole: Bands
) -> Played | None:
    summed = _limited(at.speaker, whole)
    if not summed:
        return None
    level, limited_by = _at_limit(at.speaker, wanted.spectrum, whole, summed)
    found = replace(_played(at, every, wanted, summed, level), limited_by_hz=limited_by)
    if found.softest is None or wanted.target_db is None:
        return found
    return replace(found, headroom_db=float(found.total_db[found.softest]) - wanted.target_db)


def _one_watt(
    at: Placed, every: EveryBand, wanted: ProgrammeSettings, whole: Bands
) -> Played | None:
    speaker = at.speaker
    offset = dict(zip(speaker.pattern.band_hz, speaker.offset_db, strict=True))
    summed = tuple(band for band in whole if np.isfinite(offset.get(band, np.nan)))
    if speaker.sensitivity_db is None or not summed:
        return None
    spectrum = programme_db(wanted.spectrum, whole)
    output = np.array([offset[band] for band in summed])
    level = output + spectrum[[whole.index(band) for band in summed]]
    found = _played(at, every, wanted, summed, level)
    if found.softest is None or wanted.target_db is None:
        return found
    # What 1 W becomes behind gain and equaliser, and what that lacks of the target.
    spent = float(sum_db(spectrum + _lift_db(speaker, whole), whole, weighting="Z"))
    lacking = wanted.target_db - float(found.total_db[found.softest])
    return replace(found, needed_w=10.0 ** ((lacking + spent + speaker.gain_db) / 10.0))


def _played(
    at: Placed, every: EveryBand, wanted: ProgrammeSettings, summed: Bands, level: FloatArray
) -> Played:
    """These bands, at these levels (bands,) at 1 m on axis, at every row."""
    levels = every.of(summed) + level[:, np.newaxis]
    total = sum_db(levels, summed, weighting=wanted.weighting)
    mine = total[at.served]
    known = bool(np.isfinite(mine).all())
    return Played(
        bands_hz=summed,
        levels_db=levels,
        total_db=total,
        a_db=sum_db(levels, summed, weighting="A"),
        softest=int(at.served[np.argmin(mine)]) if known else None,
        loudest=int(at.served[np.argmax(mine)]) if known else None,
    )
