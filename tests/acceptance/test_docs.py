"""The documents say what the program does: generated pages in step, links that lead somewhere."""

import importlib.util
import re
from pathlib import Path
from types import ModuleType

import pytest
from command_line import run
from paths import ROOT

import aiming

PAGES = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "docs").glob("*.md"))]
SCENARIOS = sorted((ROOT / "scenarios").glob("*.toml"))
COMMANDS = (
    "solve", "evaluate", "compare", "what-if", "choose", "page", "check", "onsite", "pattern",
    "ideal", "bridle", "new", "schema", "live",
)  # fmt: skip


def masked(text: str) -> str:
    """Every number as #: another processor's last digits are no news."""
    return re.sub(r"[-+−]?\d+(?:[.,]\d+)?(?:e[-+]\d+)?", "#", text)


def maker(name: str) -> ModuleType:
    """One of the scripts in docs/."""
    spec = importlib.util.spec_from_file_location(name, ROOT / "docs" / f"{name}.py")
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_the_reference_is_in_step_with_models_and_commands() -> None:
    page = (ROOT / "docs" / "reference.md").read_text(encoding="utf-8")
    assert page == maker("make_reference").markdown(), "run: python docs/make_reference.py"


def test_quoted_files_and_summaries_are_in_step() -> None:
    excerpts = maker("make_excerpts")
    for page in excerpts.PAGES:
        text = page.read_text(encoding="utf-8")
        filled = excerpts.filled(page)
        assert masked(text) == masked(filled), f"{page.name}: run: python docs/make_excerpts.py"


def test_figures_are_those_that_the_command_draws() -> None:
    import matplotlib

    figures = maker("make_figures")
    stands = (ROOT / "docs" / "figures" / "section.svg").read_bytes()
    made_with = re.search(rb"Matplotlib v([0-9.]+)", stands)
    if made_with is None or made_with[1].decode() != matplotlib.__version__:
        pytest.skip("the figures were drawn by another version of matplotlib")
    drawn = figures.section()
    assert drawn == figures.section()  # to the byte
    words = re.compile(rb"<text[^>]*>([^<]*)</text>")
    assert masked(b" ".join(words.findall(stands)).decode()) == masked(
        b" ".join(words.findall(drawn)).decode()
    )
    assert sorted(figures.FIGURES) == sorted(
        path.name for path in (ROOT / "docs" / "figures").iterdir()
    )


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_every_link_leads_to_a_file(page: Path) -> None:
    targets = re.findall(r"\]\(([^)#\s]+)(?:#[^)]*)?\)", page.read_text(encoding="utf-8"))
    for target in targets:
        if "://" not in target:
            assert (page.parent / target).exists(), target


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_every_file_that_is_named_exists(page: Path) -> None:
    text = page.read_text(encoding="utf-8")
    found = re.findall(r"(?<![\w/.-])(?:scenarios|docs|tests|aiming)/[\w./-]*\w", text)
    for name in found:
        assert (ROOT / name).exists(), name


def test_every_page_is_reached_from_the_readme() -> None:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    for page in (ROOT / "docs").glob("*.md"):
        assert f"docs/{page.name}" in text, page.name


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_has_help_and_stands_in_the_documents(command: str) -> None:
    ended = run(command, "--help")
    assert ended.code == 0
    assert "This is" in run("--help").out
    assert len(ended.out.splitlines()[2].strip()) > 10
    assert max(len(line) for line in ended.out.splitlines()) <= 80
    assert f"aiming {command}" in (ROOT / "docs" / "reference.md").read_text(encoding="utf-8")
    assert f"aiming {command}" in (ROOT / "README.md").read_text(encoding="utf-8")


def test_no_command_is_missing_here() -> None:
    shown = run("--help").out.split("Commands:")[1]
    names = re.findall(r"^  ([a-z-]+)  ", shown, re.MULTILINE)
    assert sorted(names) == sorted(COMMANDS)


def test_there_are_scenarios() -> None:
    assert len(SCENARIOS) >= 6


@pytest.mark.parametrize("path", SCENARIOS, ids=lambda path: path.stem)
def test_every_scenario_teaches_and_solves_with_proof(path: Path) -> None:
    assert path.read_text(encoding="utf-8").startswith("# Teaches: ")
    scenario = aiming.load(path)
    answer = aiming.solve(scenario)
    assert answer.cautions[0].code == "no-rigging-design"
    for speaker in answer.speakers:
        assert speaker.spread_db is not None
        if speaker.best is not None:
            assert speaker.gap_db is not None
            assert 0.0 <= speaker.gap_db <= scenario.aim.gap_db + 1e-9
