"""docs/api.md: in step with the docstrings, complete, and its example runs."""

import inspect
import subprocess
import sys
from pathlib import Path

from paths import ROOT

import aiming

sys.path.insert(0, str(ROOT / "docs"))

import make_api


def test_the_page_is_in_step_with_the_docstrings() -> None:
    page = (ROOT / "docs" / "api.md").read_text(encoding="utf-8")
    assert page == make_api.markdown(), "run: python docs/make_api.py"


def test_every_public_name_is_on_it() -> None:
    told = {*make_api.FUNCTIONS, *make_api.TYPES, *make_api.ERRORS}
    assert told == set(aiming.__all__)
    for name in told:
        assert getattr(aiming, name).__doc__, name


def test_the_example_runs(tmp_path: Path) -> None:
    (tmp_path / "scenarios").symlink_to(ROOT / "scenarios")
    run = subprocess.run(
        [sys.executable, str(ROOT / "docs" / "api_example.py")],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        check=False,
    )
    assert run.returncode == 0, run.stderr
    assert (tmp_path / "quarry-answer" / "hang_sheet.pdf").exists()


def test_every_parameter_what_comes_back_and_what_is_raised_is_told() -> None:
    for name in make_api.FUNCTIONS:
        function = getattr(aiming, name)
        text = inspect.getdoc(function) or ""
        parameters, _, rest = text.partition("Returns\n-------\n")
        assert "Raises\n------\n" in rest, name
        _, _, told = parameters.partition("Parameters\n----------\n")
        heads = [line.split(" : ")[0] for line in told.splitlines() if " : " in line]
        named = {one for head in heads for one in head.split(", ")}
        wanted = {one.lstrip("*") for one in inspect.signature(function).parameters}
        assert named == wanted, name
