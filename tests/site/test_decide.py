"""What a move may be turned to, and what it rests on, where the answer is known beforehand."""

import numpy as np
import pytest
from onsite_scenes import prediction, problem

from aiming.site.decide import decide
from aiming.site.estimate import estimate
from aiming.speaker.speaker import Hang, Placement


def test_a_narrow_range_of_tilts_is_asked_of_the_audience_as_a_wide_one() -> None:
    # The last ears, at (18, 2.6), are seen from (0, 6) at −10.70°: the axis meets an audience at
    # −10.72°, none at −10.68°.
    assert np.degrees(np.arctan2(2.6 - 6.0, 18.0)) == pytest.approx(-10.70, abs=0.01)
    of = problem().with_hang(Hang(tilt_deg=(-10.72, -10.68)))
    found = decide(estimate(prediction(of, Placement(0.0, 6.0, -10.68)), None, None))
    assert found.move is not None
    assert found.move.target.tilt_deg == -10.72
