"""A placement written into a scenario's text, however the text is laid out, or a refusal."""

import tomllib
from dataclasses import replace
from pathlib import Path

import pytest
from onsite_scenes import SCENARIO
from test_faults_onsite_whole import HUNG, found_of, scenario_of

from aiming.site.rewrite import RewriteError, corrected_text


def test_a_scenario_changed_on_the_way_in_is_not_written(tmp_path: Path) -> None:
    scenario = scenario_of(tmp_path, SCENARIO)
    other = replace(scenario, document={**scenario.document, "title": "another"})
    with pytest.raises(RewriteError, match="changed on the way in"):
        corrected_text(other, found_of(scenario, HUNG), which="hung")


def test_what_was_written_reads_back_with_its_comments(tmp_path: Path) -> None:
    scenario = scenario_of(tmp_path, f"# kept\n{SCENARIO}")
    text = corrected_text(scenario, found_of(scenario, HUNG), which="hung")
    placement = tomllib.loads(text)["speaker"][0]["placement"]
    assert placement["tilt"] == pytest.approx(HUNG.tilt_deg, abs=0.005)
    assert "# kept" in text.splitlines()
