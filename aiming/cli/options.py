"""Arguments and options that several commands share."""

from typing import Annotated, Any

import typer


def option(flag: str, text: str, **more: Any) -> Any:
    """An option by its name and, after a blank, what it takes; text: its help."""
    name, _, takes = flag.partition(" ")
    return typer.Option(name, metavar=takes or None, help=text, **more)


File = Annotated[
    str, typer.Argument(metavar="FILE", help='Scenario file; "-" reads standard input.')
]
Changes = Annotated[
    list[str] | None,
    option(
        "--set KEY=VALUE",
        "Change a value of the file, such as speaker.main.placement.height=6. Repeatable.",
    ),
]
Variant = Annotated[str | None, option("--variant NAME", "Take this variant of the file.")]
Out = Annotated[str | None, option("--out DIR", "Write drawings and data into this folder.")]
OutSheets = Annotated[
    str | None, option("--out DIR", "Write drawings, page, hang sheet and data into this folder.")
]
Open = Annotated[bool, option("--open", "Open what --out wrote: the page or the drawing.")]
Replace = Annotated[
    bool, option("--replace", "Write into the --out folder even if it holds other files.")
]
Paper = Annotated[str, option("--paper a4|letter", "Paper of the sheets in --out.")]
Date = Annotated[
    str, option("--date TEXT", "Date to print on the sheets; without it a blank to fill in.")
]
Working = Annotated[
    bool, option("--working", "The statics step by step: formula, numbers, result, source.")
]
Steps = Annotated[bool, option("--working", "Each step: formula, numbers, result.")]
Prove = Annotated[
    float | None,
    option(
        "--prove SECONDS",
        "Effort to prove the best of several loudspeakers together, 2 unless given; a second "
        "counts as 3000 steps, so that the answer is the same on any machine.",
        min=0.0,
        max=86_400.0,
    ),
]
Full = Annotated[bool, option("--full", "Print everything, not only the first screen.")]
AsJson = Annotated[bool, option("--json", "Print JSON and nothing else.")]
Quiet = Annotated[bool, option("--quiet", "Print less, and no progress.")]
Units = Annotated[str, option("--units m|ft", "What a bare length means.")]
