"""The figures of a sweep: their names, and their values for arrays of placements.

A bare name is the figure of the loudspeaker that the sweep is about: the only one, or the one that
the varied keys name; where they name none or several it is that of all loudspeakers together.
"main.spread_db" is the loudspeaker main's own, over the rows it serves; "together.spread_db" is
that of all loudspeakers over all rows.
"""

from dataclasses import dataclass

import numpy as np

from ..aim import measures
from ..base.arrays import FloatArray
from ..base.bands import band_key
from ..base.errors import Fault, ScenarioError, found_text

TOGETHER = "together"
DEFAULT_FIGURES = (
    "spread_db",
    "worst_band_spread_db",
    "softest_row_level_db",
    "rows_within_3db_percent",
    "feasible",
)

_OF_LEVELS = {
    "spread_db": 4,
    "worst_band_spread_db": 4,
    "deviation_db": 4,
    "rows_within_3db_percent": 4,
    "softest_row_level_db": 4,
}
_OF_PLACEMENT = {
    "tonal_change_db": 4,
    "seating_share_percent": 4,
    "tilt_deg": 4,
    "height_m": 4,
    "trim_m": 4,
    "x_m": 4,
    "flipped": 0,
}
_OF_ANSWER = {"feasible": 0, "gap_db": 4, "cautions": 0, "stops": 0}
_IN_BULK = ("spread_db", "worst_band_spread_db", "softest_row_level_db")
_PER_BAND = "spread_db_"


@dataclass(frozen=True)
class Figure:
    """One column.

    what: its bare name; of: the loudspeaker, or "together"; band: index of a design band, for the
    spread of one band alone
    """

    name: str
    what: str
    of: str
    band: int | None = None

    @property
    def decimals(self) -> int:
        """How many are written in a table."""
        if self.band is not None:
            return 4
        return {**_OF_LEVELS, **_OF_PLACEMENT, **_OF_ANSWER}[self.what]

    @property
    def of_levels(self) -> bool:
        """Whether it follows from the levels at the rows."""
        return self.band is not None or self.what in _OF_LEVELS

    @property
    def counts_cautions(self) -> bool:
        return self.what in ("cautions", "stops")

    @property
    def in_bulk(self) -> bool:
        """Whether it follows from the softest and the loudest level over the rows alone."""
        return self.of != TOGETHER and (self.band is not None or self.what in _IN_BULK)

    @property
    def kind(self) -> type:
        """The type of its column."""
        return bool if self.what == "feasible" else float


def known_names(bands_hz: tuple[float, ...]) -> list[str]:
    """Every bare name."""
    per_band = [_PER_BAND + band_key(band) for band in bands_hz]
    return [*_OF_LEVELS, *per_band, *_OF_PLACEMENT, *_OF_ANSWER]


def figures_of(
    names: tuple[str, ...], *, about: str, speakers: tuple[str, ...], bands_hz: tuple[float, ...]
) -> tuple[Figure, ...]:
    """The figures of these names.

    about: the loudspeaker, or "together", that bare names are about

    Raises ScenarioError for a name that is none, or that is there twice.
    """
    known = known_names(bands_hz)
    figures: list[Figure] = []
    for name in names:
        of, what = about, name
        for owner in (*speakers, TOGETHER):
            if name.startswith(f"{owner}.") and name[len(owner) + 1 :] in known:
                of, what = owner, name[len(owner) + 1 :]
        if what not in known:
            raise _refused(f"{found_text(name)}; known are {', '.join(known)}")
        if of == TOGETHER and what in (*_OF_PLACEMENT, "gap_db"):
            raise _refused(
                f"{found_text(name)} is of one loudspeaker; name it, as {speakers[0]}.{what}"
            )
        if any(figure.name == name for figure in figures):
            raise _refused(f"{found_text(name)}; each figure once")
        keys = [_PER_BAND + band_key(band) for band in bands_hz]
        figures.append(Figure(name, what, of, keys.index(what) if what in keys else None))
    if not figures:
        raise _refused(f"none; known are {', '.join(known)}")
    return tuple(figures)


def _refused(text: str) -> ScenarioError:
    return ScenarioError([Fault("--figures", 1, 1, "figures", text)])


def from_levels(figure: Figure, levels_db: FloatArray, weight: FloatArray) -> FloatArray:
    """(…) of levels (…, bands, rows) and row weights (rows,); NaN where a level is unknown."""
    if figure.band is not None:
        return measures.band_spreads_db(levels_db)[..., figure.band]
    if figure.what == "spread_db":
        return measures.spread_db(levels_db)
    if figure.what == "worst_band_spread_db":
        return measures.worst_band_spread_db(levels_db)
    if figure.what == "deviation_db":
        return measures.deviation_db(levels_db, weight)
    if figure.what == "rows_within_3db_percent":
        return measures.rows_within_percent(levels_db, weight)
    return np.asarray(measures.design_level_db(levels_db).min(axis=-1))
