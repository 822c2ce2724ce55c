"""Figures of arrays of placements, read exactly: the levels of every row, in chunks."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from ..aim.energy import seating_share_percent
from ..aim.problem import Problem, first_hit
from ..analysis.problems import band_air_loss, hiding_for, problem_of, screening_of
from ..base.arrays import FloatArray
from ..field.levels import power_sum_db
from ..scenario.scenario import Scenario
from ..speaker.cabinet import drop_m
from ..speaker.speaker import OneOrMany, Placements
from .figures import TOGETHER, Figure, from_levels

_NUMBERS_AT_ONCE = 1_500_000
ByName = Mapping[str, OneOrMany]
"""By loudspeaker.  Fields broadcast to (places, tilts); what walls hide is computed once per place
where x and height are (places, 1)."""


@dataclass(frozen=True, eq=False)
class Exact:
    """One scenario, with what its figures need made once."""

    scenario: Scenario

    @cached_property
    def problems(self) -> dict[str, Problem]:
        """By loudspeaker, over the rows that it serves."""
        return {one.name: problem_of(self.scenario, one) for one in self.scenario.speakers}

    @cached_property
    def everywhere(self) -> dict[str, Problem]:
        """By loudspeaker, over all rows."""
        rows = self.scenario.rows
        return {
            one.name: replace(
                self.problems[one.name], rows=rows, shadow=hiding_for(self.scenario, rows, one)
            )
            for one in self.scenario.speakers
        }

    @cached_property
    def _tone(self) -> dict[str, Problem]:
        """By loudspeaker, in its lowest and its highest band of interest, where there are two."""
        found = {}
        for one in self.scenario.speakers:
            if len(one.tone_hz) > 1:
                problem, ends = self.problems[one.name], (one.tone_hz[0], one.tone_hz[-1])
                found[one.name] = replace(
                    problem,
                    pattern=one.pattern.only(ends),
                    air_loss=band_air_loss(self.scenario, ends),
                    shadow=screening_of(self.scenario, problem.rows, ends)
                    if problem.shadow is not None
                    else None,
                )
        return found

    def offset_db(self, name: str) -> FloatArray:
        """(bands,) sensitivity + gain + eq in the design bands."""
        speaker = self.scenario.speaker(name)
        place = [speaker.pattern.band_hz.index(band) for band in self.scenario.aim.bands_hz]
        return np.asarray(speaker.offset_db[place])

    def figures(
        self,
        placements: ByName,
        figures: tuple[Figure, ...],
        *,
        shape: tuple[int, int],
        known: bool = False,
    ) -> FloatArray:
        """(figures, places, tilts), for placements of every loudspeaker that the figures are of.

        shape: (places, tilts); known: it is certain that every level is known.  NaN where a level
        is unknown, and for what only a whole answer can tell.
        """
        most = max(
            1, _NUMBERS_AT_ONCE // (len(self.scenario.aim.bands_hz) * len(self.scenario.rows))
        )
        wide = min(shape[1], most)
        high = max(1, most // wide)
        found = np.empty((len(figures), *shape))
        for top in range(0, shape[0], high):
            for left in range(0, shape[1], wide):
                some = (slice(top, top + high), slice(left, left + wide))
                here = {name: _part(at, some) for name, at in placements.items()}
                found[(slice(None), *some)] = self._some(here, figures, known=known)
        return found

    def _some(self, placements: ByName, figures: tuple[Figure, ...], *, known: bool) -> FloatArray:
        needed = {
            one.of for one in figures if one.of_levels or (one.what == "feasible" and not known)
        }
        levels = {of: self._levels_db(placements, of) for of in sorted(needed)}
        full = {name: _full(at) for name, at in placements.items()}
        values = [self._value(full, levels, figure) for figure in figures]
        return np.stack(np.broadcast_arrays(*values))

    def _levels_db(self, placements: ByName, of: str) -> FloatArray:
        """(…, bands, rows) of one loudspeaker at its rows, or of all together at all rows."""
        if of != TOGETHER:
            levels = self.problems[of].levels_db(placements[of])
            return np.asarray(levels + self.offset_db(of)[:, np.newaxis])
        everywhere = [
            problem.levels_db(placements[name]) + self.offset_db(name)[:, np.newaxis]
            for name, problem in self.everywhere.items()
        ]
        return power_sum_db(np.stack(np.broadcast_arrays(*everywhere)))

    def _value(
        self, placements: ByName, levels: Mapping[str, FloatArray], figure: Figure
    ) -> FloatArray:
        """One figure over full placements, of a shape that broadcasts to theirs."""
        together = figure.of == TOGETHER
        if figure.what == "feasible":
            names = list(self.problems) if together else [figure.of]
            kept = [self.problems[name].allowed(placements[name]) for name in names]
            if figure.of in levels:
                kept.append(kept[0] & ~np.isnan(levels[figure.of]).any(axis=(-2, -1)))
            return np.asarray(np.logical_and.reduce(kept), dtype=np.float64)
        if figure.what == "tonal_change_db":
            if figure.of not in self._tone:
                return np.full((1, 1), np.nan)
            return tonal_change_db(self._tone[figure.of], placements[figure.of])
        if figure.of_levels:
            rows = self.scenario.rows if together else self.problems[figure.of].rows
            return from_levels(figure, levels[figure.of], rows.weight)
        if together:
            return np.full((1, 1), np.nan)
        return of_placement(self.problems[figure.of], placements[figure.of], figure.what)


def tonal_change_db(problem: Problem, placement: OneOrMany) -> FloatArray:
    """(…) the largest change of tone from the aim point to a row, for a pattern of two bands.

    Tone is the upper band's level minus the lower one's.  NaN where the axis meets no audience
    plane, or where a level is unknown.
    """
    levels = problem.levels_db(placement)
    distance, _ = first_hit(placement, problem.planes)
    hits = np.isfinite(distance)
    low, high = np.moveaxis(problem.air_loss.at_db(np.where(hits, distance, 0.0)), -2, 0)
    at_aim = np.where(hits, low - high, np.nan)
    change = levels[..., 1, :] - levels[..., 0, :] - at_aim[..., np.newaxis]
    return np.asarray(np.abs(change).max(axis=-1))


def of_placement(problem: Problem, placement: OneOrMany, what: str) -> FloatArray:
    """A figure that needs no levels, NaN for what only an answer can tell."""
    tilt = np.asarray(placement.tilt_deg, dtype=np.float64)
    if what == "seating_share_percent":
        return seating_share_percent(problem.pattern, problem.planes, placement)
    if what == "trim_m":
        up, down = (drop_m(problem.cabinet, tilt_deg=tilt, flipped=turn) for turn in (False, True))
        return np.asarray(placement.height_m - np.where(placement.flipped, down, up))
    by_name = {
        "tilt_deg": tilt,
        "height_m": placement.height_m,
        "x_m": placement.x_m,
        "flipped": placement.flipped,
    }
    if what in by_name:
        return np.asarray(by_name[what], dtype=np.float64)
    return np.full(tilt.shape, np.nan)


def _part(placement: OneOrMany, some: tuple[slice, slice]) -> Placements:
    """The part of each field that reaches along an axis at all."""
    x, height, tilt, flipped = (
        of[tuple(cut if n > 1 else slice(None) for cut, n in zip(some, of.shape, strict=True))]
        for of in (
            np.atleast_2d(placement.x_m),
            np.atleast_2d(placement.height_m),
            np.atleast_2d(placement.tilt_deg),
            np.atleast_2d(placement.flipped),
        )
    )
    return Placements.of(x, height, tilt, flipped)


def _full(placement: OneOrMany) -> Placements:
    x, height, tilt, flipped = np.broadcast_arrays(
        placement.x_m, placement.height_m, placement.tilt_deg, placement.flipped
    )
    return Placements.of(x, height, tilt, flipped)
