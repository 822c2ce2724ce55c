"""`aiming pattern`: what a pattern file holds."""

from pathlib import Path
from typing import Annotated

import typer

from .common import (
    AsJson,
    Out,
    Quiet,
    Replace,
    UsageError,
    may_write,
    print_json,
    print_text,
    put_folder,
)

PatternFile = Annotated[str, typer.Argument(metavar="FILE", help="Pattern file, CSV or AES69.")]
Width = Annotated[
    str | None,
    typer.Option("--width", metavar="octave|third", help="Width of the bands shown."),
]


def pattern(
    file: PatternFile,
    width: Width = None,
    out: Out = None,
    replace: Replace = False,
    as_json: AsJson = False,
    quiet: Quiet = False,
) -> None:
    """Show a pattern file's figures per band, and its picture."""
    from ..base.bands import Width as BandWidth
    from ..scenario.pattern_report import pattern_report

    widths: dict[str | None, BandWidth | None] = {None: None, "octave": "octave", "third": "third"}
    if width not in widths:
        raise UsageError(f'--width: "{width}"; must be "octave" or "third"')
    may_write(out, scenario=file, title="pattern", replace=replace)
    report = pattern_report(Path(file), display=file, width=widths[width])
    if out is not None:
        from ..report.figures.pattern import Kind, pattern_picture
        from ..report.json_text import json_text

        kinds: tuple[Kind, ...] = ("png", "svg", "pdf")
        files = {f"pattern.{kind}": pattern_picture(report, kind=kind) for kind in kinds}
        files["pattern.json"] = json_text(report.to_dict()).encode()
        put_folder(out, files, scenario=file, title="pattern", replace=replace, quiet=quiet)
    if as_json:
        print_json(report.to_dict())
    elif not quiet:
        from ..report.text.pattern import pattern_text
        from ..report.text.terminal import stdout_terminal

        print_text(stdout_terminal().shown(pattern_text(report)))
