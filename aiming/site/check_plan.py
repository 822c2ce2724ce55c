"""The page to take along: where to put the microphone, what to expect there, what it would tell."""

from dataclasses import dataclass, replace
from typing import Any

from ..aim.check_positions import Check, choose_checks, tilt_doubt_deg
from ..analysis.problems import hiding_for, problem_of, served_rows
from ..results.answer import Answer
from ..results.serialise import plain
from ..speaker.speaker import Placement
from .places import microphones
from .run import speaker_of


@dataclass(frozen=True, eq=False)
class CheckPlan:
    """Check positions for one loudspeaker and one height of microphone, the most telling first.

    names: of the checks; mic_height_m: above the floor, None for the ears
    tilt_doubt_deg: half of the tilt's 90 % interval that the first three would give, and all;
        infinite where they tell nothing
    """

    speaker: str
    plan: Placement
    bands_hz: tuple[float, ...]
    mic_height_m: float | None
    checks: tuple[Check, ...]
    names: tuple[str, ...]
    tilt_doubt_deg: tuple[float, float]

    def to_dict(self) -> dict[str, Any]:
        """Plain lists, numbers and strings, ready for JSON."""
        return {
            "speaker": self.speaker,
            "mic_height_m": self.mic_height_m,
            "tilt_doubt_deg": plain(self.tilt_doubt_deg),
            "check_positions": [
                {
                    "name": name,
                    "x_m": check.x_m,
                    "z_m": check.z_m,
                    "distance_m": check.distance_m,
                    "off_axis_deg": check.off_axis_deg,
                    "levels_db": plain(dict(zip(self.bands_hz, check.levels_db, strict=True))),
                    "level_per_degree_db": check.level_per_degree_db,
                    "reason": check.reason,
                }
                for name, check in zip(self.names, self.checks, strict=True)
            ],
        }


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
    found = next(of for of in answer.speakers if of.name == one.name)
    plan = Placement(found.x_m, found.height_m, found.tilt_deg, found.orientation == "flipped")
    checks = choose_checks(problem, plan)
    return CheckPlan(
        speaker=one.name,
        plan=plan,
        bands_hz=scenario.aim.bands_hz,
        mic_height_m=mic_height_m,
        checks=checks,
        names=tuple(scenario.rows.label(int(served[check.row])) for check in checks),
        tilt_doubt_deg=(
            tilt_doubt_deg(problem, plan, checks[:3]),
            tilt_doubt_deg(problem, plan, checks),
        ),
    )
