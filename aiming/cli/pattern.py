"""`aiming pattern`: what a pattern file holds."""

from pathlib import Path
from typing import Annotated

import typer

from . import options as opt
from .common import Into, one_of_or_none, print_json, print_text
from .options import option


def pattern(
    file: Annotated[str, typer.Argument(metavar="FILE", help="Pattern file, CSV or AES69.")],
    width: Annotated[
        str | None, option("--width octave|third", "Width of the bands shown.")
    ] = None,
    out: opt.Out = None,
    replace: opt.Replace = False,
    as_json: opt.AsJson = False,
    quiet: opt.Quiet = False,
) -> None:
    """Show a pattern file's figures per band, and its picture."""
    from ..base.bands import Width as BandWidth
    from ..scenario.pattern_report import pattern_report

    shown: BandWidth | None = one_of_or_none("--width", width, "octave", "third")
    into = Into(out, replace, quiet)
    into.check(file, "pattern")
    report = pattern_report(Path(file), display=file, width=shown)
    if into.folder is not None:
        from ..report.figures.pattern import Kind, pattern_picture
        from ..report.json_text import json_text

        kinds: tuple[Kind, ...] = ("png", "svg", "pdf")
        files = {f"pattern.{kind}": pattern_picture(report, kind=kind) for kind in kinds}
        files["pattern.json"] = json_text(report.to_dict()).encode()
        into.put(files, file, "pattern")
    if as_json:
        print_json(report.to_dict())
    elif not quiet:
        from ..report.text.pattern import pattern_text
        from ..report.text.terminal import stdout_terminal

        print_text(stdout_terminal().shown(pattern_text(report)))
