"""Run the fenced examples of Markdown files, as a reader would: each block in a fresh shell.

`--tests FILE` runs the block that passes the tests; `--rest FILE...` every other `sh` block, from
the project's folder, and every `python` block.  A block marked `sh no-run` only shows something.
"""

import re
import subprocess
import sys
from pathlib import Path

FENCE = re.compile(r"^```(\w+)?([^\n]*)\n(.*?)^```", re.MULTILINE | re.DOTALL)


def blocks(file: Path) -> list[tuple[str, str]]:
    """(language, text) of each block that is to run."""
    found = FENCE.findall(file.read_text(encoding="utf-8"))
    return [(language, body) for language, rest, body in found if "no-run" not in rest]


def run(language: str, body: str) -> None:
    """One block, in a fresh process; ends the run where it fails."""
    print(f"--- {language}\n{body}", flush=True)
    command = ["bash", "-euo", "pipefail", "-c", body]
    if language == "python":
        command = [sys.executable, "-c", body]
    subprocess.run(command, check=True, stdin=subprocess.DEVNULL)


def main() -> None:
    what, *files = sys.argv[1:]
    for file in map(Path, files):
        for language, body in blocks(file):
            tests = language == "sh" and "pytest" in body
            if language in ("sh", "python") and tests == (what == "--tests"):
                run(language, body)


if __name__ == "__main__":
    main()
