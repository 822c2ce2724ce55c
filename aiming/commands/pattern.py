"""`aiming pattern`: what a pattern file holds."""

from pathlib import Path
from typing import Annotated

import typer

from .common import UsageError, may_write, print_json, print_text, put_folder
from .options import AsJson, Out, Quiet, Replace

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
    from ..bands import Width as BandWidth
    from ..scenario.pattern_report import pattern_report

    widths: dict[str | None, BandWidth | None] = {None: None, "octave": "octave", "third": "third"}
    if width not in widths:
        raise UsageError(f'--width: "{width}"; "octave" or "third"')
    may_write(out, scenario=file, title="pattern", replace=replace)
    report = pattern_report(Path(file), display=file, width=widths[width])
    if out is not None:
        from ..report.json_text import json_text
        from ..report.pattern_figure import Kind, pattern_picture

        kinds: tuple[Kind, ...] = ("png", "svg", "pdf")
        files = {f"pattern.{kind}": pattern_picture(report, kind=kind) for kind in kinds}
        files["pattern.json"] = json_text(report.to_dict()).encode()
        put_folder(out, files, scenario=file, title="pattern", replace=replace, quiet=quiet)
    if as_json:
        print_json(report.to_dict())
    elif not quiet:
        from ..report.pattern_text import pattern_text
        from ..report.terminal import stdout_terminal

        print_text(stdout_terminal().shown(pattern_text(report)))
