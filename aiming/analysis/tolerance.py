"""What it costs when the loudspeaker hangs a little off its placement, or its data are off."""

from dataclasses import replace

from ..aim.problem import HERE, Problem
from ..aim.tolerance import Tolerance, WorstFound, best_worst, worst_within
from ..results.answer import Tolerated
from ..results.serialise import known
from ..scenario.pattern import lobe_of
from ..scenario.scenario import Scenario
from ..speaker.speaker import Nominal, Placement
from .lobe_family import coverage_off

_PROOF_SHARE = 0.25
"""Of the scenario's gap: how closely the worst case of the answer is proven."""


def tolerated(
    scenario: Scenario, problem: Problem, placement: Placement, nominal: Nominal | None = None
) -> Tolerated | None:
    """None where the file gives no tolerance, or where a level may be unknown within it.

    nominal: of a pattern that is known by its data sheet alone.  Its coverage angle is taken at
    both ends of its doubt: in 1/half-angle² the levels of a quadratic lobe are affine, so that the
    spread is largest at an end; where the lobe has reached its floor, and for other shapes, only
    the ends are told.
    """
    tolerance = scenario.aim.tolerance
    if tolerance is None:
        return None
    there = replace(problem, around=(HERE,), others=())
    here_db = float(there.objective_db(placement))
    gap_db = _PROOF_SHARE * scenario.aim.gap_db
    doubted = _doubted(there, nominal, tolerance.coverage_percent)
    parts = (
        (doubted, tolerance),
        (there, Tolerance(tilt_deg=tolerance.tilt_deg)),
        (there, Tolerance(height_m=tolerance.height_m, x_m=tolerance.x_m)),
        (doubted, Tolerance()),
    )
    worst, by_tilt, by_place, by_coverage = (
        worst_within(of, placement, part, gap_db=gap_db) for of, part in parts
    )
    if worst.bound_db == float("inf"):
        return None
    off = worst.displacement
    return Tolerated(
        tilt_deg=tolerance.tilt_deg,
        height_m=tolerance.height_m,
        x_m=tolerance.x_m,
        objective=problem.objective,
        worst_db=worst.bound_db,
        gap_db=worst.gap_db,
        worst_at=(off.tilt_deg, off.height_m, off.x_m),
        costs_db=worst.bound_db - here_db,
        tilt_costs_db=by_tilt.bound_db - here_db,
        place_costs_db=by_place.bound_db - here_db,
        coverage_percent=tolerance.coverage_percent if nominal is not None else 0.0,
        coverage_costs_db=by_coverage.objective_db - here_db,
    )


def worst_db(
    scenario: Scenario, problem: Problem, placement: Placement, nominal: Nominal | None
) -> float | None:
    """The objective at its worst within the tolerance, dB; None unless the file aims at that."""
    tolerance = scenario.aim.tolerance
    if tolerance is None or not scenario.aim.at_worst:
        return None
    there = _doubted(replace(problem, around=(HERE,)), nominal, tolerance.coverage_percent)
    gap_db = _PROOF_SHARE * scenario.aim.gap_db
    return known(worst_within(there, placement, tolerance, gap_db=gap_db).bound_db)


def _doubted(problem: Problem, nominal: Nominal | None, percent: float) -> Problem:
    """The question with a narrower box, and with a wider one, that it may turn out to be."""
    if nominal is None or percent == 0.0 or problem.under is not None:
        return problem
    scales = (1.0 - percent / 100.0, 1.0 + percent / 100.0)
    others = (lobe_of(coverage_off(nominal, of), problem.pattern.band_hz) for of in scales)
    return replace(problem, others=tuple(others))


def best_at_worst(
    scenario: Scenario, problem: Problem, nominal: Nominal | None
) -> WorstFound | None:
    """The placement whose worst case is best; None where the file does not ask for it."""
    tolerance = scenario.aim.tolerance
    if tolerance is None or not scenario.aim.at_worst:
        return None
    return best_worst(
        _doubted(problem, nominal, tolerance.coverage_percent),
        tolerance,
        gap_db=scenario.aim.gap_db,
        lower_if_within_db=scenario.aim.lower_if_within_db,
    )
