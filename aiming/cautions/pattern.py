"""The pattern: what its file leaves open, and what is assumed for want of data."""

from collections.abc import Iterator
from functools import lru_cache

from ..base.bands import band_label
from ..scenario.thresholds import TALLEST_BOX
from ..speaker.pattern import Pattern, edge_deg
from ..speaker.pattern_figures import control_from_hz
from .declare import Told, caution
from .facts import LOUDSPEAKER, SpeakerFacts


def _doubted(code: str, when: str) -> None:
    """Declare one kind of doubt about the pattern file; all of that kind stand in one sentence."""

    @caution(f"pattern-{code}", "caution", LOUDSPEAKER, for_rigger=False, when=when)
    def says(of: SpeakerFacts) -> Iterator[Told]:
        file = of.scenario.pattern_files.get(of.speaker_name)
        texts = [] if file is None else [doubt.text for doubt in file.doubts if doubt.code == code]
        if texts:
            more = f"; and {len(texts) - 1} more like it" if len(texts) > 1 else ""
            yield Told(f"pattern file: {texts[0]}{more}")


_doubted("hole", "A band of the pattern file has no level at some angle.")
_doubted(
    "gap",
    "Two neighbouring angles of the pattern file lie more than 2.5 times the usual step, and more "
    "than 5°, apart.",
)
_doubted(
    "step", "A band of the pattern file changes by more than 10 dB between neighbouring angles."
)
_doubted("identical", "Two bands of the pattern file are alike at every angle.")


@caution("pattern-note", "note", LOUDSPEAKER, for_rigger=False)
def file_note(of: SpeakerFacts) -> Iterator[Told]:
    """Reading the pattern file had to shift, average, read between or leave out something."""
    file = of.scenario.pattern_files.get(of.speaker_name)
    for text in () if file is None else file.notes:
        yield Told(f"pattern file: {text}")


@caution("array-like-coverage", "caution", LOUDSPEAKER, limit=TALLEST_BOX, for_rigger=False)
def array_like(of: SpeakerFacts) -> Iterator[Told]:
    """A coverage angle alone is given, and at a design band it asks for a source taller than
    this.
    """
    if not of.at.speaker.coverage_only:
        return
    tallest, where = _tallest_m(of.at.problem.pattern)
    if tallest > of.limit(TALLEST_BOX):
        yield Told(
            f"so narrow a coverage at {band_label(where)} asks for a source about "
            f"{of.length(tallest)} high: that is a tall array, and this is a "
            "tool for single boxes",
            tallest,
        )


@lru_cache(maxsize=64)
def _tallest_m(pattern: Pattern) -> tuple[float, float]:
    """The greatest height of a source that has the pattern's coverage, and its band (Hz)."""
    tallest, where = 0.0, pattern.band_hz[0]
    for band, level in zip(pattern.band_hz, pattern.level_db, strict=True):
        up = edge_deg(pattern.angle_deg, level, above=True)
        down = edge_deg(pattern.angle_deg, level, above=False)
        if up is None or down is None:
            continue
        size = control_from_hz(coverage_deg=up - down, mouth_m=1.0) / band
        if size > tallest:
            tallest, where = size, band
    return tallest, where


@caution("lobe-assumed", "note", LOUDSPEAKER)
def lobe_assumed(of: SpeakerFacts) -> Iterator[Told]:
    """Only a coverage angle is known of the pattern."""
    nominal = of.at.speaker.nominal
    if nominal is not None:
        yield Told(
            f"only a coverage angle is known; the shape between its edges ({nominal.lobe}) is "
            "assumed. Other shapes with this angle give other spreads, printed as a range"
        )


@caution(
    "control-estimated",
    "note",
    LOUDSPEAKER,
    unit="Hz",
    basis="published rule: loss of pattern control of a horn, Keele, AES 51st Convention, 1975, "
    "read in a secondary text",
    for_rigger=False,
)
def control_estimated(of: SpeakerFacts) -> Iterator[Told]:
    """`control_height` is given instead of `control_from_hz`."""
    nominal = of.at.speaker.nominal
    if nominal is None or nominal.control_height_m is None or nominal.control_from_hz is None:
        return
    yield Told(
        f"that the coverage holds down to about {float(f'{nominal.control_from_hz:.2g}'):.0f} Hz "
        f"is an estimate from a height of "
        f"{of.length(nominal.control_height_m)} (Keele's relation)",
        nominal.control_from_hz,
    )
