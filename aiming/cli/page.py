"""`aiming page`: one HTML file with the section, the levels and sliders."""

from typing import Annotated

from . import options as opt
from .common import STOPPED, finish, scenario_of, tell, working_on
from .options import option


def page(
    file: opt.File,
    changes: opt.Changes = None,
    variant: opt.Variant = None,
    out: Annotated[str, option("--out FILE.html", "Write the page here.")] = "aim.html",
    replace: Annotated[bool, option("--replace", "Write over FILE.html.")] = False,
    quiet: opt.Quiet = False,
) -> None:
    """Solve, and write one page with sliders.

    The page is a single file that needs no network: a browser opens it from a stick or a phone.
    """
    from ..analysis.complete import complete
    from ..analysis.solve import solve as solved
    from ..report.output_folder import check_file, write_file
    from ..report.page import page_html

    scenario = scenario_of(file, changes, variant)
    check_file(out, replace=replace)
    with working_on("solving", quiet=quiet):
        answer = solved(scenario)
    with working_on("working out every place of the sliders", quiet=quiet):
        content = page_html(complete(answer, ("page",))).encode()
    write_file(out, content, replace=replace)
    if not quiet:
        tell(f"written: {out}, {round(len(content) / 1000)} kB")
    if answer.stopped:
        finish(STOPPED)
