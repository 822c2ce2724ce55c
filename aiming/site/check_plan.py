"""The page to take along: where to put the microphone, what to expect there, what it would tell."""

from dataclasses import dataclass, replace
from typing import Annotated, Any, cast

import numpy as np

from ..aim.check_positions import SPARE, Check, choose_checks
from ..analysis.problems import hiding_for, problem_of, served_rows
from ..results.answer import Answer, CheckPosition
from ..results.serialise import plain
from ..speaker.speaker import Placement
from .compare import points_of, prediction_of
from .model import by_band
from .places import microphones
from .run import plan_of, speaker_of
from .telling import Telling, telling


@dataclass(frozen=True)
class CheckOnSite(CheckPosition):
    """A check position that may be kept in reserve."""

    spare: Annotated[bool, "to be taken where another cannot be reached"] = False


@dataclass(frozen=True, eq=False)
class CheckPlan:
    """Check positions for one loudspeaker and one height of microphone, in walking order, spare
    ones last."""

    speaker: Annotated[str, "the loudspeaker"]
    plan: Placement
    bands_hz: tuple[float, ...]
    mic_height_m: Annotated[
        float | None, "of the microphones above the floor, m; null for the ears"
    ]
    checks: tuple[Check, ...]
    names: tuple[str, ...]
    told: Annotated[
        Telling | None,
        "what these positions would tell, the spare ones left out; null for too few",
    ]

    @property
    def check_positions(
        self,
    ) -> Annotated[tuple[CheckOnSite, ...], "in walking order, spare ones last"]:
        """With their names."""
        return tuple(
            CheckOnSite(
                name=name,
                x_m=check.x_m,
                z_m=check.z_m,
                distance_m=check.distance_m,
                off_axis_deg=check.off_axis_deg,
                levels_db=by_band(self.bands_hz, check.levels_db),
                level_per_degree_db=check.level_per_degree_db,
                reason=check.reason,
                spare=check.spare,
            )
            for name, check in zip(self.names, self.checks, strict=True)
        )

    def to_dict(self) -> dict[str, Any]:
        """Plain lists, numbers and strings, ready for JSON."""
        return cast(dict[str, Any], plain(self))


def check_plan(
    answer: Answer,
    *,
    speaker: str | None = None,
    mic_height_m: float | None = None,
) -> CheckPlan:
    """The check positions of one loudspeaker's answer.

    speaker: needed where there are several; mic_height_m: above the floor, None for the ears.
    A microphone on the floor is a boundary microphone, and none is then put on a stand.
    Raises OnSiteError.
    """
    scenario = answer.scenario
    one = speaker_of(scenario, speaker)
    served = served_rows(scenario, one)
    rows = microphones(scenario.rows.pick(served), mic_height_m)
    problem = replace(problem_of(scenario, one), rows=rows, shadow=hiding_for(scenario, rows, one))
    plan = plan_of(answer, one.name)
    checks = choose_checks(problem, plan, spare=SPARE)
    main = [check.row for check in checks if not check.spare]
    told = None
    if len(main) >= 2:
        prediction = prediction_of(scenario, one, plan)
        points = points_of(scenario, one, prediction, rows.pick(np.array(main)))
        told = telling(prediction, points)
    return CheckPlan(
        speaker=one.name,
        plan=plan,
        bands_hz=scenario.aim.bands_hz,
        mic_height_m=mic_height_m,
        checks=checks,
        names=tuple(scenario.rows.label(int(served[check.row])) for check in checks),
        told=told,
    )
