"""What a run loads: help loads no numpy, solving loads numpy and nothing heavier."""

import subprocess
import sys
from pathlib import Path

import answers
import pytest

HEAVY = ("scipy", "sympy", "matplotlib", "h5py", "ezdxf", "pyarrow", "distributed", "jinja2")


def loaded(program: str, *arguments: str) -> set[str]:
    """Names of the top-level packages that this program has loaded at its end."""
    told = "\nimport sys; print('\\n' + ' '.join({name.split('.')[0] for name in sys.modules}))"
    run = subprocess.run(
        [sys.executable, "-c", program + told, *arguments],
        capture_output=True,
        text=True,
        check=False,
    )
    assert run.returncode == 0, run.stderr
    return set(run.stdout.splitlines()[-1].split())


@pytest.fixture(scope="module")
def scene(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("scene") / "hall.toml"
    path.write_text(answers.HALL.format(units="m"))
    return path


CALL = "from aiming.cli.main import app\ntry: app(prog_name='aiming')\nexcept SystemExit: pass\n"


def test_import_alone_is_light() -> None:
    assert not {"numpy", "typer", "pydantic", *HEAVY} & loaded("import aiming")


def test_help_loads_no_numpy() -> None:
    for arguments in (["--help"], ["solve", "--help"], ["--version"]):
        found = loaded(CALL, *arguments)
        assert not {"numpy", "rich", *HEAVY} & found, arguments


@pytest.mark.parametrize("options", [["--json"], ["--quiet"], []])
def test_solving_needs_numpy_alone(scene: Path, options: list[str]) -> None:
    found = loaded(CALL, "solve", str(scene), *options)
    assert "numpy" in found
    assert not {"rich", *HEAVY} & found


def test_solving_loads_no_masked_arrays(scene: Path) -> None:
    """numpy.ma takes a tenth of a short run; np.unique is what usually brings it in."""
    program = (
        "import aiming, sys; aiming.solve(aiming.load(sys.argv[1]))"
        "; assert 'numpy.ma' not in sys.modules"
    )
    assert "numpy" in loaded(program, str(scene))


def test_solving_in_python_needs_numpy_alone(scene: Path) -> None:
    found = loaded("import aiming, sys; aiming.solve(aiming.load(sys.argv[1]))", str(scene))
    assert not {"typer", *HEAVY} & found
