"""The command line: parse, call, write, exit code.  Everything heavy is imported when needed."""

import os
import sys
from contextlib import suppress
from typing import Annotated, Any, NoReturn

import typer
from typer.core import TyperGroup

from ..base.errors import AimingError
from ..base.version import VERSION
from . import process
from .bridle import bridle
from .check import check, schema
from .choose import choose
from .common import tell
from .compare import compare
from .ideal import ideal
from .live import live
from .new import new
from .onsite import onsite
from .page import page
from .pattern import pattern
from .solve import evaluate, solve
from .what_if import what_if


class Boundary(TyperGroup):
    """The one place where expected errors are caught; a bug goes on and shows its traceback."""

    def invoke(self, ctx: Any) -> Any:
        """Run the command, and end with the exit code that its error asks for."""
        try:
            result = super().invoke(ctx)
            sys.stdout.flush()
            return result
        except AimingError as error:
            tell(str(error))
            raise typer.Exit(error.exit_code) from None
        except BrokenPipeError:
            # Nobody reads on; what is still buffered must not fail once more at the exit.
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
            raise typer.Exit(process.PIPE_CLOSED) from None
        except KeyboardInterrupt as stopped:
            raise typer.Exit(process.code_of(stopped)) from None


app = typer.Typer(
    cls=Boundary,
    name="aiming",
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
    help="Vertical aim of single loudspeakers in one section: solved, proven, explained, drawn. "
    "This is no rigging design.",
    epilog="To begin: aiming new hall.toml, then aiming solve hall.toml --out hall.\n\n"
    "Exit codes: 0 the answer stands; 2 bad input; 3 a caution that stops, or no placement "
    "meets the limits; 1 a bug.",
)
for command in (
    solve,
    evaluate,
    compare,
    what_if,
    choose,
    page,
    live,
    check,
    onsite,
    pattern,
    ideal,
    bridle,
    new,
    schema,
):
    app.command()(command)


def _say_version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"aiming {VERSION}")
        raise typer.Exit


@app.callback()
def _options(
    version: Annotated[
        bool,
        typer.Option(
            "--version",
            is_eager=True,
            callback=_say_version,
            help="Print the version and nothing else.",
        ),
    ] = False,
) -> None:
    pass


def main() -> None:
    """The `aiming` command."""
    # Half of a short run is start-up: no search for plugins of the checking library among all
    # installed packages.
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "1")
    process.fill_streams()
    process.end_cleanly()
    try:
        app(prog_name="aiming")
    except SystemExit as ended:
        code = ended.code if isinstance(ended.code, int) else 1 if ended.code else 0
        _leave(process.PIPE_CLOSED if process.pipe_was_closed() else code)
    except OSError as error:
        if not process.is_of_a_stream(error):
            raise
        tell(f"standard output: cannot be written ({error.strerror})")
        _leave(process.NOT_TOLD)


def _leave(code: int) -> NoReturn:
    """End at once: taking every module apart would cost a tenth of a short run."""
    for stream in (sys.stdout, sys.stderr):
        with suppress(OSError):
            stream.flush()
    os._exit(code)
