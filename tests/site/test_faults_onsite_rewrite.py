"""Where a placement cannot be written into a scenario's text, it is said and no text is given."""

from pathlib import Path

import pytest
from onsite_scenes import SCENARIO
from test_faults_onsite_whole import HUNG, found_of, scenario_of

from aiming.site import rewrite
from aiming.site.rewrite import RewriteError, corrected_text

PLACEMENT = ("speaker", 0, "placement")


def test_keys_written_one_by_one_are_no_table() -> None:
    with pytest.raises(RewriteError, match="no table of its own"):
        rewrite._with("[[speaker]]\nplacement.height = 6\n", PLACEMENT, "tilt", "-3")


def test_a_loudspeaker_without_a_placement() -> None:
    with pytest.raises(RewriteError, match="no placement table"):
        rewrite._with('[[speaker]]\nname = "main"\n', PLACEMENT, "tilt", "-3")


def test_a_text_that_does_not_read_back_as_wanted(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    scenario = scenario_of(tmp_path, SCENARIO)
    monkeypatch.setattr(rewrite, "_with", lambda text, *_: text)
    with pytest.raises(RewriteError, match="cannot be changed there"):
        corrected_text(scenario, found_of(scenario, HUNG), which="hung")
