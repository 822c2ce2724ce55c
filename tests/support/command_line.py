"""The command line as a person uses it: in this process, or in one of its own."""

import os
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

from typer.testing import CliRunner

from aiming.cli.main import app


@dataclass(frozen=True)
class Ended:
    """How a command ended."""

    code: int
    out: str
    err: str


def run(*arguments: str | Path, stdin: str | None = None) -> Ended:
    """In this process; a bug raises."""
    result = CliRunner().invoke(
        app, [str(one) for one in arguments], input=stdin, catch_exceptions=False
    )
    return Ended(result.exit_code, result.stdout, result.stderr)


def process(*arguments: str | Path, stdin: str = "", **environ: str) -> Ended:
    """In a process of its own."""
    ended = subprocess.run(
        [sys.executable, "-m", "aiming", *map(str, arguments)],
        input=stdin,
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
        env={**os.environ, **environ},
    )
    return Ended(ended.returncode, ended.stdout, ended.stderr)
