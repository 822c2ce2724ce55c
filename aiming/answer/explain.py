"""Why the aim is what it is.

Explaining takes extra solves, so it runs only when the summary is asked for.
"""

from dataclasses import dataclass, replace

import numpy as np

from ..aim import measures
from ..aim.limits import at_audience_end
from ..aim.problem import Problem, first_hit
from ..scenario.scenario import Scenario
from ..speaker.speaker import Placement, Speaker
from .figures import shortcut_of
from .matching import as_answered
from .model import Answer, SpeakerAnswer
from .placed import placed
from .problems import problem_of
from .trades import (
    Flip,
    FrontRows,
    HeightTrade,
    PastLastRow,
    flips,
    front_rows,
    height_trade,
    helping_height_m,
    knee,
    past_last_row,
)

MOSTLY_DISTANCE = 0.8


@dataclass(frozen=True)
class SpeakerExplanation:
    """What the summary says beside the answer, for one loudspeaker.

    held_at_last_row: the best aim under axis_on_audience is the axis on the audience's far end,
        and turning past it would make the spread smaller
    above_last_row_deg: how far the axis passes above the last row's ears; negative below
    past_last_row: degree by degree; () unless held there or already past
    knee: how many front rows are worth giving away, None where none is
    distance_loss_db: what distance and air alone spread over the rows
    mostly_distance: the pattern takes little of that away, whatever the tilt
    helping_height_m: least height at which the best spread falls by HELPS_DB; None where none
    """

    speaker: str
    held_at_last_row: bool
    above_last_row_deg: float
    past_last_row: tuple[PastLastRow, ...]
    front_rows: tuple[FrontRows, ...]
    knee: int | None
    height_trade: tuple[HeightTrade, ...]
    flips: tuple[Flip, ...]
    distance_loss_db: float
    mostly_distance: bool
    helping_height_m: float | None


@dataclass(frozen=True)
class Explanation:
    """One per loudspeaker, in the scenario's order."""

    speakers: tuple[SpeakerExplanation, ...]


def explain(scenario: Scenario, answer: Answer) -> Explanation:
    """The extra solves that the summary needs."""
    scenario = as_answered(scenario, answer)
    return Explanation(
        tuple(
            _explain(scenario, speaker, one)
            for speaker, one in zip(scenario.speakers, answer.speakers, strict=True)
        )
    )


def _explain(scenario: Scenario, speaker: Speaker, one: SpeakerAnswer) -> SpeakerExplanation:
    problem = problem_of(scenario, speaker)
    place = one.placement
    at = placed(scenario, speaker, problem, place)
    above = one.tilt_deg - shortcut_of(scenario, at).tilt_deg
    here = float(measures.spread_db(problem.levels_db(place)))
    held = problem.axis_on_audience and _held(problem, place)
    loss = _distance_loss_db(problem, place)
    mostly = np.isfinite(here) and here >= MOSTLY_DISTANCE * loss
    front = front_rows(scenario, speaker, problem, place)
    return SpeakerExplanation(
        speaker=speaker.name,
        held_at_last_row=held,
        above_last_row_deg=above,
        past_last_row=past_last_row(scenario, at) if held or above > 0.05 else (),
        front_rows=front,
        knee=knee(front),
        height_trade=height_trade(problem, place),
        flips=flips(problem, speaker),
        distance_loss_db=loss,
        mostly_distance=bool(mostly),
        helping_height_m=helping_height_m(problem, place, here) if mostly else None,
    )


def _held(problem: Problem, place: Placement) -> bool:
    """Whether turning up past the audience's end would make the spread smaller."""
    if not at_audience_end(problem, place):
        return False
    here = float(measures.spread_db(problem.levels_db(place)))
    up = replace(place, tilt_deg=min(90.0, float(place.tilt_deg) + 0.2))
    past = np.array([up.tilt_deg])
    if np.isfinite(first_hit(replace(up, tilt_deg=past), problem.planes)[0][0]):
        return False
    return float(measures.spread_db(problem.levels_db(up))) < here - 1e-6


def _distance_loss_db(problem: Problem, place: Placement) -> float:
    rows = problem.rows
    distance = np.hypot(rows.x_m - float(place.x_m), rows.z_m - float(place.height_m))
    alpha = float(problem.absorption_db_per_m.mean())
    return float(np.ptp(20.0 * np.log10(distance) + alpha * distance))
