"""docs/api.md: in step with the docstrings, complete, and its example runs."""

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
