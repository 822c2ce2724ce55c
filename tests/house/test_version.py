"""The version is said in two places, and is one."""

import tomllib

from paths import ROOT

from aiming.base.version import VERSION


def test_the_package_says_what_the_project_says() -> None:
    project = ROOT / "pyproject.toml"
    assert tomllib.loads(project.read_text(encoding="utf-8"))["project"]["version"] == VERSION
