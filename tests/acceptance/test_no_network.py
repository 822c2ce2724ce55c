"""Nothing reaches for a network at run time: every process is watched, worker processes too.

Python tells an audit hook of each connection, each name that is looked up and each packet.  The
hook refuses them and writes them down, so that a refusal which somebody caught is seen as well.
Sockets between processes of one machine (AF_UNIX) are no network.
"""

import os
import subprocess
import sys
from pathlib import Path

import pytest
from paths import ROOT

QUARRY = str(ROOT / "scenarios" / "quarry.toml")
# Enough for several chunks, so for worker processes.
GRID = (
    "--over", "speaker.main.placement.tilt=-20:0:0.02",
    "--over", "speaker.main.placement.height=4.5:8:0.05",
)  # fmt: skip
WATCH = """
import os, socket, sys

OUTWARD = {"socket.connect", "socket.bind", "socket.sendto", "socket.sendmsg",
           "socket.getaddrinfo", "socket.gethostbyname", "socket.gethostbyaddr"}

def refuse(event, arguments):
    if event not in OUTWARD:
        return
    if getattr(arguments[0], "family", None) == getattr(socket, "AF_UNIX", -1):
        return
    with open(os.environ["REACHED_FOR"], "a") as file:
        print(event, arguments[1:], file=file)
    raise OSError("there is no network here")

sys.addaudithook(refuse)
"""


@pytest.fixture
def offline(tmp_path: Path) -> dict[str, str]:
    """An environment in which each Python process begins with the watch."""
    folder = tmp_path / "watch"
    folder.mkdir()
    (folder / "sitecustomize.py").write_text(WATCH, encoding="utf-8")
    path = os.pathsep.join([str(folder), str(ROOT)])
    return {**os.environ, "PYTHONPATH": path, "REACHED_FOR": str(tmp_path / "reached")}


def ended(offline: dict[str, str], *command: str, folder: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, *command],
        cwd=folder,
        env=offline,
        capture_output=True,
        text=True,
        check=False,
    )


@pytest.mark.parametrize(
    "command",
    [
        ("solve", QUARRY, "--out", "out"),
        ("evaluate", QUARRY, "--set", "speaker.main.placement.height=6",
         "--set", "speaker.main.placement.tilt=-14"),
        ("page", QUARRY),
        ("what-if", QUARRY, *GRID, "--table", "table.csv"),
        ("solve", str(ROOT / "scenarios" / "measured_horn.toml"), "--json"),
    ],
    ids=["solve", "evaluate", "page", "what-if", "measured"],
)  # fmt: skip
def test_a_command_needs_no_network(
    offline: dict[str, str], command: tuple[str, ...], tmp_path: Path
) -> None:
    found = ended(offline, "-m", "aiming", *command, folder=tmp_path)
    assert found.returncode == 0, found.stderr
    assert not (tmp_path / "reached").exists(), (tmp_path / "reached").read_text()


@pytest.mark.parametrize(
    "reach",
    [
        "import socket; socket.create_connection(('127.0.0.1', 9), 1)",
        "import urllib.request as u; u.urlopen('http://localhost:9', timeout=1)",
        "import socket; socket.socket(type=socket.SOCK_DGRAM).sendto(b'', ('127.0.0.1', 9))",
    ],
)
@pytest.mark.parametrize("where", ["itself", "a worker"])
def test_the_watch_sees_who_reaches_out(
    offline: dict[str, str], reach: str, where: str, tmp_path: Path
) -> None:
    program = f"try:\n    exec({reach!r})\nexcept OSError:\n    pass\n"
    if where == "a worker":
        program = (
            "import multiprocessing\n"
            f"def work(): exec({program!r})\n"
            "one = multiprocessing.get_context('fork').Process(target=work)\n"
            "one.start(); one.join()\n"
        )
    found = ended(offline, "-c", program, folder=tmp_path)
    assert found.returncode == 0, found.stderr
    assert (tmp_path / "reached").exists()
