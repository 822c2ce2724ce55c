"""Which box: the coverage angle that would do best here, and the user's own patterns ranked.

Every candidate is solved in the scenario's own ranges and limits, and compared by the best there is
in them (not by the lowest place that is nearly as good), proven to the scenario's gap.
"""

from collections.abc import Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from ..base.arrays import FloatArray
from ..base.errors import AimingError, found_text
from ..scenario.keys import quoted
from ..scenario.read import rebuilt
from ..scenario.scenario import Scenario
from ..speaker.pattern import Pattern, edge_deg
from .figures import TOGETHER
from .run import Progress, what_if
from .table import Table
from .tradeoffs import why_left_out

NARROWEST_DEG, WIDEST_DEG = 10, 170
FLAT_DB = 0.5
"""Coverage angles that cost at most this much more count as equally good: a step that a listener
hardly hears; our own choice."""
_COARSE_DEG = 5
FIGURE_OF = {
    "spread": "spread_db",
    "worst band": "worst_band_spread_db",
    "deviation": "deviation_db",
}


@dataclass(frozen=True)
class Candidate:
    """One pattern at the best placement that the limits leave it.

    objective_db: None where no placement meets the limits; at most gap_db above the true best
    coverage_deg: between the two directions that are 6.02 dB down; None where one is not known
    why: why no placement meets the limits, where that was looked for
    """

    name: str
    coverage_deg: float | None
    objective_db: float | None
    gap_db: float | None
    tilt_deg: float | None
    height_m: float | None
    flipped: bool | None
    why: str | None = None


@dataclass(frozen=True, eq=False)
class CoverageChoice:
    """Which coverage angle would do best for one loudspeaker, and the patterns ranked.

    figure: what is ranked by; together: whether that is of all loudspeakers, as of several
    best: the coverage angle that does best, to a degree; None where none meets the limits
    flat_deg: the coverage angles next to it that cost at most FLAT_DB more; an end may be the
        narrowest or the widest that was tried
    coverage_deg, objective_db: (n,) all angles tried, ascending, and the best of each, NaN for none
    left_out: of the coverage angles without a placement those next to one that has, with why
    ranked: the scenario's own pattern and the files given, best first
    """

    speaker: str
    figure: str
    together: bool
    best: Candidate | None
    flat_deg: tuple[float, float] | None
    coverage_deg: FloatArray
    objective_db: FloatArray
    left_out: tuple[Candidate, ...]
    ranked: tuple[Candidate, ...]


def choose(
    scenario: Scenario,
    *,
    speaker: str | None = None,
    patterns: Sequence[str | Path] = (),
    executor: Executor | None = None,
    progress: Progress | None = None,
) -> CoverageChoice:
    """The best coverage angle for one loudspeaker of a scenario, and a ranking of pattern files.

    The lobe's shape is the scenario's, or quadratic where it has a measured pattern.

    Parameters
    ----------
    scenario : Scenario
        From `aiming.load`.
    speaker : str, optional
        Its name; may be left out where there is only one.
    patterns : sequence of str or path
        Pattern files besides the scenario's own.
    executor : concurrent.futures.Executor, optional
        What works; by default every core.
    progress : callable, optional
        Told the candidates done and all of them.

    Returns
    -------
    CoverageChoice
        Coverage angles in degrees with the objective of each in dB, and the files ranked.

    Raises
    ------
    ScenarioError
        For a pattern file with faults.
    AimingError
        For a loudspeaker that is not there, or is not named where there are several.
    """
    name = _name(scenario, speaker)
    figure = FIGURE_OF[scenario.aim.objective]
    alone = rebuilt(scenario, {"aim.lower_if_within_db": 0, "aim.objective_at": "placement"})
    tried = _Tried(alone, name, figure, executor, progress)
    coverage = np.arange(NARROWEST_DEG, WIDEST_DEG + 1, _COARSE_DEG, dtype=np.float64)
    found: dict[float, Candidate] = dict(
        zip(coverage.tolist(), tried.coverages(coverage), strict=True)
    )
    while len(closer := _closer(found)):
        found |= zip(closer.tolist(), tried.coverages(closer), strict=True)
    angles = np.array(sorted(found))
    objective = np.array(
        [np.nan if found[at].objective_db is None else found[at].objective_db for at in angles]
    )
    none = np.isnan(objective)
    beside = none & (np.append(~none[1:], True) | np.append(True, ~none[:-1]))
    ends = angles[beside & (~none.all() | (angles == angles[0]))]
    best = None if np.isnan(objective).all() else found[angles[int(np.nanargmin(objective))]]
    return CoverageChoice(
        speaker=name,
        figure=figure,
        together=len(scenario.speakers) > 1,
        best=best,
        flat_deg=_flat(angles, objective),
        coverage_deg=angles,
        objective_db=objective,
        left_out=tuple(tried.explained("coverage", found[at], at) for at in ends.tolist()),
        ranked=tried.patterns([Path(one) for one in patterns]),
    )


def _name(scenario: Scenario, speaker: str | None) -> str:
    names = [one.name for one in scenario.speakers]
    known = ", ".join(names)
    if speaker is None:
        if len(names) > 1:
            raise AimingError(f"--speaker: which one? there are {known}; name one of them")
        return names[0]
    if speaker not in names:
        raise AimingError(f"--speaker: {found_text(speaker)}; there is {known}")
    return speaker


@dataclass(frozen=True)
class _Tried:
    """Solves candidates of one loudspeaker."""

    scenario: Scenario
    speaker: str
    figure: str
    executor: Executor | None
    progress: Progress | None

    def coverages(self, angles_deg: FloatArray) -> list[Candidate]:
        """One candidate per coverage angle."""
        if len(angles_deg) == 0:
            return []
        table = self._sweep("coverage", angles_deg.tolist())
        return [
            self._candidate(table, k, f"{coverage:g}°", float(coverage))
            for k, coverage in enumerate(angles_deg)
        ]

    def patterns(self, files: list[Path]) -> tuple[Candidate, ...]:
        """The scenario's own pattern and these files, best first."""
        table = what_if(self.scenario, {"aim.lower_if_within_db": [0]}, figures=self._figures)
        shown = [self._candidate(table, 0, "as in the scenario", self._coverage_deg(self.scenario))]
        if files:
            table = self._sweep("file", [str(one.resolve()) for one in files])
            for k, file in enumerate(files):
                there = rebuilt(self.scenario, {self._key("file"): str(file.resolve())})
                one = self._candidate(table, k, str(file), self._coverage_deg(there))
                shown.append(self.explained("file", one, str(file.resolve())))
        order = [np.inf if one.objective_db is None else one.objective_db for one in shown]
        return tuple(shown[k] for k in np.argsort(order, kind="stable"))

    def explained(self, key: str, candidate: Candidate, value: object) -> Candidate:
        """The candidate with why it has no placement, where it has none."""
        if candidate.objective_db is not None:
            return candidate
        _, why = why_left_out(self.scenario, {self._key(key): value})
        return replace(candidate, why=why or None)

    @property
    def _figures(self) -> tuple[str, ...]:
        wanted = ("gap_db", "tilt_deg", "height_m", "flipped")
        whose = TOGETHER if len(self.scenario.speakers) > 1 else self.speaker
        return (f"{whose}.{self.figure}", *(f"{self.speaker}.{one}" for one in wanted))

    def _sweep(self, key: str, values: list[object]) -> Table:
        return what_if(
            self.scenario,
            {self._key(key): values},
            figures=self._figures,
            executor=self.executor,
            progress=self.progress,
        )

    def _key(self, key: str) -> str:
        return f"speaker.{quoted(self.speaker)}.pattern.{key}"

    def _coverage_deg(self, scenario: Scenario) -> float | None:
        """Of the design bands' mean."""
        return coverage_deg(scenario.speaker(self.speaker).pattern.only(scenario.aim.bands_hz))

    def _candidate(
        self, table: Table, row: int, name: str, coverage_deg: float | None
    ) -> Candidate:
        figures = [float(table[one][row]) for one in self._figures]
        objective, gap, tilt, height, flipped = (
            None if np.isnan(value) else value for value in figures
        )
        return Candidate(
            name,
            coverage_deg,
            objective,
            gap,
            tilt,
            height,
            None if flipped is None else bool(flipped),
        )


def _closer(found: dict[float, Candidate]) -> FloatArray:
    """Whole degrees around the best coarse angle, and where the flat part ends."""
    angles = np.array(sorted(found))
    objective = np.array(
        [np.inf if found[at].objective_db is None else found[at].objective_db for at in angles]
    )
    if np.isinf(objective).all():
        return np.zeros(0)
    best = int(np.argmin(objective))
    near = objective <= objective[best] + FLAT_DB
    low = high = best
    while low > 0 and near[low - 1]:
        low -= 1
    while high < len(angles) - 1 and near[high + 1]:
        high += 1
    spans = [(low - 1, low), (best - 1, best + 1), (high, high + 1)]
    wanted = {
        degree
        for first, last in spans
        for degree in range(int(angles[max(first, 0)]), int(angles[min(last, len(angles) - 1)]) + 1)
    }
    return np.array(sorted(wanted - {int(angle) for angle in angles}), dtype=np.float64)


def _flat(angles: FloatArray, objective: FloatArray) -> tuple[float, float] | None:
    if np.isnan(objective).all():
        return None
    low = high = int(np.nanargmin(objective))
    good = objective <= objective[low] + FLAT_DB
    while low > 0 and good[low - 1]:
        low -= 1
    while high < len(angles) - 1 and good[high + 1]:
        high += 1
    return float(angles[low]), float(angles[high])


def coverage_deg(pattern: Pattern) -> float | None:
    """Between the two directions where the mean of the bands is 6.02 dB down; None for unknown."""
    above = edge_deg(pattern.angle_deg, pattern.mean(), above=True)
    below = edge_deg(pattern.angle_deg, pattern.mean(), above=False)
    return None if above is None or below is None else above - below
