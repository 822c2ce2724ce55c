"""Levels in bands beyond the design bands: what tone and absolute levels are made of."""

from dataclasses import dataclass, replace

import numpy as np

from ..base.arrays import FloatArray
from ..base.bands import SPEECH_2020_DB
from ..field.levels import levels_db, loss_db
from ..results.serialise import known
from ..results.sound import Loudness, Played, PlayedRow, Tone, ToneRows
from ..scenario.scenario import ProgrammeSettings, Scenario
from ..speaker.output import Programme, at_limit_db, programme_db, sum_db
from ..speaker.speaker import Placement, Speaker
from .placed_speaker import Placed
from .problems import band_air_loss, screening_of


@dataclass(frozen=True, eq=False)
class EveryBand:
    """path_db: (b, n) level at every row re 1 m on axis: pattern, spreading, air, shadow."""

    bands_hz: tuple[float, ...]
    path_db: FloatArray

    def of(self, bands_hz: tuple[float, ...]) -> FloatArray:
        """(bands, n) these bands, which must be among them."""
        return self.path_db[[self.bands_hz.index(band) for band in bands_hz]]


def every_band(scenario: Scenario, speaker: Speaker, placement: Placement) -> EveryBand:
    """All bands that the pattern holds, at every row of the scenario."""
    bands, rows = speaker.pattern.band_hz, scenario.rows
    place = np.asarray(placement.x_m), np.asarray(placement.height_m)
    return EveryBand(
        bands_hz=bands,
        path_db=levels_db(
            speaker.pattern,
            placement,
            rows.x_m,
            rows.z_m,
            air_loss=band_air_loss(scenario, bands),
            shadow_db=screening_of(scenario, rows, bands).loss_db(*place),
        ),
    )


def on_axis_db(scenario: Scenario, bands_hz: tuple[float, ...], distance_m: float) -> FloatArray:
    """(bands,) level on the axis at this distance re 1 m on axis; nothing hides the aim point."""
    return -loss_db(np.array([distance_m]), band_air_loss(scenario, bands_hz))[:, 0]


# The tonal change from row to row: low against high, as a listener who walks would hear it.


def tone_of(scenario: Scenario, at: Placed, every: EveryBand) -> Tone | None:
    """Tone over the rows that the loudspeaker serves; None where only one band is of interest."""
    bands = at.speaker.tone_hz
    if len(bands) < 2:
        return None
    level = every.of(bands)[:, at.served]
    aim: FloatArray = np.full(len(bands), np.nan)
    if at.throw_m is not None:
        aim = on_axis_db(scenario, bands, at.throw_m)
    relative = level - aim[:, np.newaxis]
    change = relative[-1] - relative[0]
    unknown = bool(np.isnan(change).any())
    worst = None if unknown else int(np.argmax(np.abs(change)))
    return Tone(
        bands_hz=bands,
        worst_change_db=None if worst is None else float(np.abs(change[worst])),
        worst_row=None if worst is None else int(at.served[worst]),
        range_db=known(np.ptp(level[-1] - level[0])),
        rows=ToneRows(bands_hz=bands, row=at.served, relative_db=relative, change_db=change),
    )


# Absolute levels: what one loudspeaker gives at the rows, and what is left to the level wanted.

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
    return replace(found, headroom_db=found.softest.level_db - wanted.target_db)


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
    lacking = wanted.target_db - found.softest.level_db
    return replace(found, needed_w=10.0 ** ((lacking + spent + speaker.gain_db) / 10.0))


def _played(
    at: Placed, every: EveryBand, wanted: ProgrammeSettings, summed: Bands, level: FloatArray
) -> Played:
    """These bands, at these levels (bands,) at 1 m on axis, at every row."""
    levels = every.of(summed) + level[:, np.newaxis]
    total = sum_db(levels, summed, weighting=wanted.weighting)
    a_weighted = sum_db(levels, summed, weighting="A")
    mine = total[at.served]

    def row(place: np.intp) -> PlayedRow | None:
        if not np.isfinite(mine).all():
            return None
        index = int(at.served[place])
        return PlayedRow(
            row=index,
            level_db=float(total[index]),
            a_weighted_db=float(a_weighted[index]),
            levels_db=dict(zip(summed, map(float, levels[:, index]), strict=True)),
        )

    return Played(
        bands_hz=summed,
        levels_db=levels,
        total_db=total,
        a_db=a_weighted,
        softest=row(np.argmin(mine)),
        loudest=row(np.argmax(mine)),
    )
