"""Cautions about the pattern's data, about estimates made for want of data, and about output."""

from collections.abc import Iterator
from typing import TYPE_CHECKING

from ..bands import band_label
from ..scenario.scenario import Scenario
from ..units import length_text
from .every_band import every_band
from .loudness import loudness_of
from .model import Caution
from .placed import Placed
from .sound import Loudness

if TYPE_CHECKING:
    from ..scenario.pattern_file.result import PatternFile


def pattern_cautions(scenario: Scenario, at: Placed) -> Iterator[Caution]:
    """What reading its pattern file noted and doubted, or what a data sheet leaves open."""
    name = at.speaker.name
    file = scenario.pattern_files.get(name)
    if file is not None:
        if holes := _told(file, "hole"):
            yield Caution("pattern-hole", "caution", holes, speaker=name)
        if gaps := _told(file, "gap"):
            yield Caution("pattern-gap", "caution", gaps, speaker=name)
        if steps := _told(file, "step"):
            yield Caution("pattern-step", "caution", steps, speaker=name)
        if alike := _told(file, "identical"):
            yield Caution("pattern-identical", "caution", alike, speaker=name)
        for text in file.notes:
            yield Caution("pattern-note", "note", f"pattern file: {text}", speaker=name)
    yield from _assumed(scenario, at)


def _told(file: "PatternFile", code: str) -> str:
    """All doubts of one kind in one sentence; nothing where there is none."""
    texts = [doubt.text for doubt in file.doubts if doubt.code == code]
    more = f"; and {len(texts) - 1} more like it" if len(texts) > 1 else ""
    return f"pattern file: {texts[0]}{more}" if texts else ""


def _assumed(scenario: Scenario, at: Placed) -> Iterator[Caution]:
    nominal, name = at.speaker.nominal, at.speaker.name
    if nominal is None:
        return
    yield Caution(
        "lobe-assumed",
        "note",
        f"only a coverage angle is known; the shape of the lobe ({nominal.lobe}) is assumed: "
        "other shapes with this angle give other spreads, printed as a range",
        speaker=name,
    )
    if nominal.control_height_m is not None and nominal.control_from_hz is not None:
        yield Caution(
            "control-estimated",
            "note",
            f"that the coverage holds down to about {float(f'{nominal.control_from_hz:.2g}'):.0f} "
            f"Hz is an estimate from a height of "
            f"{length_text(nominal.control_height_m, scenario.units)} (Keele's relation)",
            value=nominal.control_from_hz,
            unit="Hz",
            speaker=name,
        )


def output_cautions(scenario: Scenario, at: Placed) -> Iterator[Caution]:
    """Whether the level wanted is reached, and what the sums of bands leave out."""
    wanted, name = scenario.programme, at.speaker.name
    if wanted is None:
        return
    found = loudness_of(scenario, at, every_band(scenario, at.speaker, at.placement))
    target = wanted.target_db
    if target is not None and at.speaker.max_level_db is None:
        yield Caution(
            "target-not-checked",
            "note",
            f"whether {target:g} dB is reached was not checked: no greatest level is given",
            speaker=name,
        )
    if found is None:
        return
    yield from _short(scenario, found, name)
    if found.missing_hz:
        left_out = ", ".join(band_label(band) for band in found.missing_hz)
        yield Caution(
            "bands-left-out",
            "note",
            f"pattern or output is not known at {left_out}: the levels of {found.programme} leave "
            "those bands out",
            speaker=name,
        )


def _short(scenario: Scenario, found: Loudness, name: str) -> Iterator[Caution]:
    played, target = found.greatest, found.target_db
    if played is None or played.headroom_db is None or played.softest is None or target is None:
        return
    if played.headroom_db < 0.0:
        level = float(played.total_db[played.softest])
        yield Caution(
            "target-out-of-reach",
            "caution",
            f"at its greatest level it gives {level:.1f} dB ({found.weighting}-weighted, "
            f"{found.programme}) at {scenario.rows.label(played.softest)}: "
            f"{-played.headroom_db:.1f} dB less than the {target:g} dB wanted",
            value=played.headroom_db,
            unit="dB",
            speaker=name,
        )
