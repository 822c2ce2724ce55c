"""What a user gets, tried as a user would: `python3 .ci/supply.py [STAGE...]`.

wheel     built, installed in an empty environment, run from another folder
sdist     the same through the source archive
extras    each extra alone: what it is for works, what the others are for says what is missing
oldest    all tests with every dependency at the lower bound of pyproject.toml
newest    all tests with whatever pip takes today

Without a stage all of them.  Needs pip and its index; nothing is left behind.
"""

import os
import re
import shutil
import subprocess
import sys
import tempfile
import tomllib
from collections.abc import Callable
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
EXTRAS = {name: needs for name, needs in PROJECT["optional-dependencies"].items() if name != "test"}
# Beside the package and its extras; ruff, mypy and stubs judge the code, they do not run it.
TEST_TOOLS = ("pytest", "hypothesis", "sofar", "pypdf")
SWEEP = ("scenarios/quarry.toml", "--over", "speaker.main.placement.tilt=-20:0:1", "--table")
ON_A_CLUSTER = """
import aiming
import numpy as np
from distributed import Client
if __name__ == "__main__":
    over = {"speaker.main.placement.tilt": (-20, 0, 1)}
    scenario = aiming.load("scenarios/quarry.toml")
    with Client(n_workers=1, threads_per_worker=1, dashboard_address=None) as client:
        there = aiming.what_if(scenario, over=over, executor=client.get_executor())
    here = aiming.what_if(scenario, over=over)
    assert np.array_equal(there["spread_db"], here["spread_db"], equal_nan=True)
"""


class Bench:
    """An empty environment, and a folder elsewhere with nothing but scenarios in it."""

    def __init__(self, folder: Path) -> None:
        run(sys.executable, "-m", "venv", folder / "env")
        self.python = folder / "env" / "bin" / "python"
        self.elsewhere = folder / "elsewhere"
        self.elsewhere.mkdir()
        shutil.copytree(ROOT / "scenarios", self.elsewhere / "scenarios")

    def install(self, *what: str | Path) -> None:
        run(self.python, "-m", "pip", "install", "-q", "--disable-pip-version-check", *what)

    def python_code(self, code: str) -> None:
        file = self.elsewhere / "code.py"
        file.write_text(code, encoding="utf-8")
        run(self.python, file, folder=self.elsewhere)

    def aiming(self, *arguments: str) -> subprocess.CompletedProcess[str]:
        """The command as installed; its end is for the caller to judge."""
        command = [str(self.python.parent / "aiming"), *arguments]
        return subprocess.run(
            command, cwd=self.elsewhere, env=plain(), capture_output=True, text=True, check=False
        )

    def works(self, *arguments: str) -> str:
        """A command that must end well."""
        ended = self.aiming(*arguments)
        assert ended.returncode == 0, (arguments, ended.returncode, ended.stderr)
        return ended.stdout


def plain() -> dict[str, str]:
    """The environment without anything that could lead Python back to this folder."""
    kept = {name: value for name, value in os.environ.items() if not name.startswith("PYTHON")}
    return kept | {"PYTHONDONTWRITEBYTECODE": "1"}


def run(*command: str | Path, folder: Path = ROOT) -> None:
    subprocess.run([str(one) for one in command], cwd=folder, env=plain(), check=True)


def built(folder: Path, kind: str) -> Path:
    """The wheel or the source archive, made by the build tool in an environment of its own."""
    builder, out = Bench(folder / "builder"), folder / "dist"
    if kind == "wheel":
        pip = (builder.python, "-m", "pip", "wheel", "-q", "--no-deps", "--wheel-dir", out)
        run(*pip, ROOT)
    else:
        builder.install("hatchling")
        run(builder.python, "-m", "hatchling", "build", "-t", "sdist", "-d", out)
    (archive,) = out.iterdir()
    return archive


def installed_elsewhere(folder: Path, kind: str) -> None:
    """The whole job with what the archive brings, and nothing of this folder."""
    bench = Bench(folder / "user")
    bench.install(built(folder, kind))
    bench.python_code(
        "import aiming, pathlib, sys\n"
        "where = pathlib.Path(aiming.__file__)\n"
        "assert where.is_relative_to(sys.prefix), where\n"
        "assert (where.parent / 'py.typed').exists()\n"
    )
    assert PROJECT["version"] in bench.works("--version")
    bench.works("new", "own.toml")
    bench.works("check", "own.toml")
    bench.works("solve", "scenarios/quarry.toml", "--out", "out", "--quiet")
    assert (bench.elsewhere / "out" / "aim.html").stat().st_size > 10_000
    bench.works("what-if", *SWEEP, "sweep.csv")
    bench.works("ideal", "--coverage", "60", "--length", "20", "--working")


def wheel(folder: Path) -> None:
    installed_elsewhere(folder, "wheel")


def sdist(folder: Path) -> None:
    installed_elsewhere(folder, "sdist")


def extras(folder: Path) -> None:
    """Each extra alone, and the plain package with none."""
    archive = built(folder, "wheel")
    commands = {
        "dxf": ("check", "scenarios/from_drawing.toml"),
        "sofa": ("pattern", "scenarios/patterns/invented_horn_60.sofa"),
        "parquet": ("what-if", *SWEEP, "sweep.parquet"),
    }
    assert {*commands, "cluster"} == set(EXTRAS), "an extra that nothing tries"
    for extra in (None, *EXTRAS):
        bench = Bench(folder / (extra or "none"))
        bench.install(f"{archive}[{extra}]" if extra else archive)
        bench.works("solve", "scenarios/quarry.toml", "--quiet")
        if extra == "cluster":
            bench.python_code(ON_A_CLUSTER)
        for other, arguments in commands.items():
            if other == extra:
                bench.works(*arguments)
            else:
                ended = bench.aiming(*arguments)
                assert ended.returncode == 2, (extra, other, ended)
                assert f"aiming[{other}]" in ended.stderr, (extra, other, ended.stderr)
        print(f"  {extra or 'no extra'}: stands alone", flush=True)


def lower_bounds() -> list[str]:
    """ "numpy==2.0" for "numpy>=2.0", of the package and of its extras."""
    needs = [*PROJECT["dependencies"], *(one for extra in EXTRAS.values() for one in extra)]
    found = [re.fullmatch(r"([\w-]+)>=([\d.]+)", one) for one in needs]
    assert all(found), f"a dependency without a lower bound among {needs}"
    return [f"{one[1]}=={one[2]}" for one in found if one]


def oldest(folder: Path) -> None:
    """Old releases of libraries call what newer ones beside them have deprecated: not ours."""
    tested(folder, lower_bounds(), "-W", "ignore::DeprecationWarning")


def newest(folder: Path) -> None:
    tested(folder, [])


def tested(folder: Path, bounds: list[str], *more: str) -> None:
    bench = Bench(folder)
    everything = ",".join(EXTRAS)
    bench.install(f"{ROOT}[{everything}]", *bounds, *TEST_TOOLS)
    run(bench.python, "-m", "pip", "list", "--disable-pip-version-check")
    run(bench.python, "-m", "pytest", "-p", "no:cacheprovider", *more)


STAGES: dict[str, Callable[[Path], None]] = {
    stage.__name__: stage for stage in (wheel, sdist, extras, oldest, newest)
}

if __name__ == "__main__":
    for name in sys.argv[1:] or STAGES:
        print(f"supply: {name}", flush=True)
        with tempfile.TemporaryDirectory() as made:
            STAGES[name](Path(made))
    print("supply: all of it stands")
