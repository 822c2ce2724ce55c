"""Arguments and options that several commands share."""

from typing import Annotated

import typer

File = Annotated[str, typer.Argument(metavar="FILE", help='Scenario file; "-" reads stdin.')]
Changes = Annotated[
    list[str] | None,
    typer.Option(
        "--set",
        metavar="KEY=VALUE",
        help="Change a value of the file, such as speaker.main.placement.height=6. Repeatable.",
    ),
]
Variant = Annotated[
    str | None, typer.Option("--variant", metavar="NAME", help="Take this variant of the file.")
]
Out = Annotated[
    str | None,
    typer.Option("--out", metavar="DIR", help="Write drawings and data into this folder."),
]
OutSheets = Annotated[
    str | None,
    typer.Option(
        "--out", metavar="DIR", help="Write drawings, page, hang sheet and data into this folder."
    ),
]
Replace = Annotated[
    bool,
    typer.Option(
        "--replace", help="Write into the --out folder even where it holds something else."
    ),
]
Paper = Annotated[
    str, typer.Option("--paper", metavar="a4|letter", help="Paper of the sheets in --out.")
]
Date = Annotated[
    str,
    typer.Option("--date", metavar="TEXT", help="Date for the sheets in --out; else a blank."),
]
Working = Annotated[
    bool,
    typer.Option("--working", help="The statics step by step: formula, numbers, result, source."),
]
AsJson = Annotated[bool, typer.Option("--json", help="Print JSON and nothing else.")]
Quiet = Annotated[bool, typer.Option("--quiet", help="Print less, no progress.")]
Units = Annotated[str, typer.Option("--units", metavar="m|ft", help="What a bare length means.")]
