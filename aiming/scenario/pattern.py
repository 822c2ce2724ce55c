"""The pattern: a measured file, or a lobe by its data sheet: keys, rules and construction."""

import re
from collections.abc import Iterator
from dataclasses import replace
from typing import TYPE_CHECKING, Annotated, ClassVar, Literal

from pydantic import BeforeValidator, Field, Tag

from ..base.bands import OCTAVES_HZ, THIRDS_HZ, width_of
from ..base.errors import found_text
from ..files.read_once import read_once
from ..files.toml_places import Path
from ..speaker.lobes import nominal_pattern
from ..speaker.pattern import Pattern
from ..speaker.pattern_figures import control_from_hz
from ..speaker.speaker import DOUBT_PERCENT, Nominal
from .keys import (
    BY_KIND,
    Decibels,
    Name,
    Number,
    PositiveLength,
    Strict,
)
from .raw import (
    Gathered,
    Problem,
    Table,
    number,
)

if TYPE_CHECKING:
    from ..files.pattern_result import PatternFile

LEAST_COVERAGE_DEG = 0.1
"""Narrower than any loudspeaker, and the least that the table of angles can hold."""
HalfAngle = Annotated[Number, Field(ge=LEAST_COVERAGE_DEG / 2.0, lt=180.0)]


class CoverageModel(Strict):
    """Half-angles of an asymmetric pattern, as built (upright)."""

    above: HalfAngle = Field(
        description="Degrees from the axis up to the direction that is 6.02 dB down"
    )
    below: HalfAngle = Field(
        description="Degrees from the axis down to the direction that is 6.02 dB down"
    )


_BOTH_ANGLES = re.compile(r"(\d+(?:\.\d+)?)\s*°?\s*[x×*/]\s*(\d+(?:\.\d+)?)\s*°?", re.ASCII)


def one_angle(value: object) -> object:
    """The value, where it is not two angles in one text, as "90x60"; raises ValueError."""
    if isinstance(value, str) and (both := _BOTH_ANGLES.fullmatch(value.strip())):
        raise ValueError(f"{found_text(value)}; give the vertical angle alone: {both[2]}?")
    return value


Coverage = Annotated[
    Annotated[
        Annotated[
            float,
            BeforeValidator(one_angle),
            Field(ge=LEAST_COVERAGE_DEG, lt=360.0, allow_inf_nan=False),
        ],
        Tag("single"),
    ]
    | Annotated[CoverageModel, Tag("table")],
    BY_KIND,
]


class PatternModel(Strict):
    """Level against off-axis angle: a measured file, or a coverage angle and a lobe's shape."""

    rivals: ClassVar[dict[str, tuple[str, ...]]] = {
        "file": (
            "coverage",
            "control_from_hz",
            "control_height",
            "lobe",
            "lowest_db",
            "doubt_percent",
        ),
        **dict.fromkeys(("coverage", "lobe", "lowest_db", "doubt_percent"), ("file",)),
        "control_from_hz": ("file", "control_height"),
        "control_height": ("file", "control_from_hz"),
    }

    coverage: Coverage | None = Field(
        None, description="Coverage angle in degrees, or { above, below } half-angles"
    )
    control_from_hz: Annotated[Number, Field(ge=1.0, le=100_000.0)] | None = Field(
        None, description="Below it both half-angles grow as control_from_hz / f"
    )
    control_height: PositiveLength | None = Field(
        None,
        description="Instead of control_from_hz: height of the horn's mouth or of the cabinet, "
        "from which it is estimated (Keele's relation)",
    )
    lobe: Literal["quadratic", "piston", "flat"] | None = Field(
        None, description='Shape of the lobe: "quadratic" (default), "piston" or "flat"'
    )
    lowest_db: Annotated[Decibels, Field(lt=0.0)] | None = Field(
        None, description="No direction falls below this, dB against the axis; default -24"
    )
    doubt_percent: Annotated[Number, Field(ge=0.0, le=50.0)] | None = Field(
        None,
        description="How far the coverage angle may be off, in % of it; figures carry this doubt; "
        "default 10",
    )
    file: Name | None = Field(
        None, description="Instead of coverage: a pattern file, relative to the scenario's folder"
    )


def pattern_rules(path: Path, speaker: Table) -> Iterator[Problem]:
    if not isinstance(speaker.get("pattern"), dict):
        return
    pattern = speaker["pattern"]
    coverage = pattern.get("coverage")
    if pattern.get("file") is not None:
        for key in PatternModel.rivals["file"]:
            if pattern.get(key) is not None:
                yield (*path, key), f"{key} beside a pattern file; give one of them"
        return
    if pattern.get("control_from_hz") is not None and pattern.get("control_height") is not None:
        yield (*path, "control_height"), "both control_from_hz and control_height; give one of them"
    if coverage is None:
        yield (*path, "coverage"), "missing; give coverage or file"
    if pattern.get("lobe") != "piston":
        return
    whole = number(coverage)
    halves = {} if whole is None else {"coverage": whole / 2.0}
    if isinstance(coverage, dict):
        halves = {side: half for side in coverage if (half := number(coverage[side])) is not None}
    for key, half in halves.items():
        if 90.0 < half < 180.0:
            here = (*path, "coverage") if key == "coverage" else (*path, "coverage", key)
            yield here, f"half-angle {half:g}° of a piston; must be at most 90°"


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
    from ..files.pattern_file import read_pattern

    measured: PatternFile | None = None
    with gathered.reading((*path, "pattern", "file"), name) as file:
        measured = read_once(
            read_pattern,
            file,
            bands_hz=bands_hz,
            also_hz=also_hz,
            width=width_of(bands_hz),
            display=name,
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
