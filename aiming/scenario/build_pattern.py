"""The pattern of a loudspeaker from its table: a measured file, or a lobe by its data sheet."""

from dataclasses import replace
from typing import TYPE_CHECKING

from ..base.bands import OCTAVES_HZ, THIRDS_HZ, width_of
from ..files.toml_places import Path
from ..speaker.lobes import nominal_pattern
from ..speaker.pattern import Pattern
from ..speaker.pattern_figures import control_from_hz
from ..speaker.speaker import DOUBT_PERCENT, Nominal
from .gather import Gathered
from .models.speaker import CoverageModel, PatternModel

if TYPE_CHECKING:
    from ..files.pattern_result import PatternFile

DEFAULT_LOWEST_DB = -24.0


def usual_tone_hz(bands_hz: tuple[float, ...]) -> tuple[float, ...]:
    """Octaves 125 Hz to 8 kHz, thirds where the design bands are, and the design bands."""
    usual = OCTAVES_HZ[3:10] if width_of(bands_hz) == "octave" else THIRDS_HZ[11:30]
    return tuple(sorted({*usual, *bands_hz}))


def tone_bands_hz(
    pattern: Pattern,
    nominal: Nominal | None,
    bands_hz: tuple[float, ...],
    asked_hz: tuple[float, ...] | None,
) -> tuple[float, ...]:
    """Bands of interest for tone.

    A coverage angle without the frequency below which it is lost says nothing of lower bands, so
    those are of interest only where the file asks for them.
    """
    if asked_hz is not None:
        return tuple(band for band in sorted(asked_hz) if band in pattern.band_hz)
    wanted = usual_tone_hz(bands_hz)
    if nominal is not None and nominal.control_from_hz is None:
        wanted = tuple(band for band in wanted if band >= min(bands_hz))
    return tuple(band for band in wanted if band in pattern.band_hz)


def measured_pattern(
    name: str,
    path: Path,
    bands_hz: tuple[float, ...],
    also_hz: tuple[float, ...],
    gathered: Gathered,
) -> "PatternFile | None":
    from ..files import read_pattern

    measured: PatternFile | None = None
    with gathered.reading((*path, "pattern", "file"), name) as file:
        measured = read_pattern(
            file, bands_hz=bands_hz, also_hz=also_hz, width=width_of(bands_hz), display=name
        )
    return measured


def nominal_of(table: PatternModel) -> Nominal:
    """The data sheet's figures; control_from_hz estimated where only a height is given."""
    coverage = table.coverage
    if isinstance(coverage, CoverageModel):
        above, below = coverage.above, coverage.below
    else:
        assert coverage is not None, "the rules have seen to it"
        above = below = coverage / 2.0
    control = table.control_from_hz
    if table.control_height is not None:
        control = control_from_hz(coverage_deg=above + below, mouth_m=table.control_height)
    return Nominal(
        above_deg=above,
        below_deg=below,
        lobe=table.lobe or "quadratic",
        lowest_db=DEFAULT_LOWEST_DB if table.lowest_db is None else table.lowest_db,
        control_from_hz=control,
        control_height_m=table.control_height,
        doubt_percent=DOUBT_PERCENT if table.doubt_percent is None else table.doubt_percent,
    )


def with_coverage(nominal: Nominal, coverage_deg: float) -> Nominal:
    """The same box with another coverage angle, alike above and below."""
    half, control = coverage_deg / 2.0, nominal.control_from_hz
    if nominal.control_height_m is not None:
        control = control_from_hz(coverage_deg=coverage_deg, mouth_m=nominal.control_height_m)
    return replace(nominal, above_deg=half, below_deg=half, control_from_hz=control)


def lobe_of(nominal: Nominal, bands_hz: tuple[float, ...]) -> Pattern:
    return nominal_pattern(
        above_deg=nominal.above_deg,
        below_deg=nominal.below_deg,
        bands_hz=bands_hz,
        lobe=nominal.lobe,
        control_from_hz=nominal.control_from_hz,
        lowest_db=nominal.lowest_db,
    )
