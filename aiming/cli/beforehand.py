"""Before the show, of `aiming onsite`: the page of check positions, the trial on the ground."""

from typing import TYPE_CHECKING

from .common import UsageError, may_write, print_json, print_text, put_folder, tell

if TYPE_CHECKING:
    from ..scenario.scenario import Scenario
    from ..site.ground_found import GroundFound
    from ..site.traces import Magnitude


def give_checks(
    scenario: "Scenario",
    speaker: str | None,
    mic_height_m: float | None,
    out: str | None,
    template: str | None,
    *,
    replace: bool,
    as_json: bool,
    quiet: bool,
) -> None:
    """The page to take along, and the empty table to fill in."""
    from ..analysis.solve import solve
    from ..report.text.check_positions import check_text
    from ..report.text.terminal import stdout_terminal
    from ..site.check_plan import check_plan
    from ..site.template import template_csv

    plan = check_plan(solve(scenario, choices=False), speaker=speaker, mic_height_m=mic_height_m)
    text = check_text(scenario, plan)
    if template is not None:
        names = tuple(n for n, c in zip(plan.names, plan.checks, strict=True) if not c.spare)
        write_new(template, template_csv(names, plan.bands_hz), quiet=quiet)
    if out is not None:
        from ..report.sheets.check_positions import check_sheets

        files = {**check_sheets(scenario, plan), "checks.txt": text.encode()}
        put_beside(scenario, files, out, replace=replace, quiet=quiet)
    if as_json:
        print_json(plan.to_dict())
    elif not quiet:
        print_text(stdout_terminal().shown(text))


def give_ground(
    scenario: "Scenario",
    measured: str | None,
    traces: dict[str, str],
    magnitude: "Magnitude | None",
    speaker: str | None,
    distance: str | None,
    write: str | None,
    out: str | None,
    template: str | None,
    *,
    replace: bool,
    as_json: bool,
    quiet: bool,
) -> None:
    """The layout of a trial on the ground, or what its levels say."""
    from ..report.text.check_positions import ground_text
    from ..report.text.terminal import stdout_terminal
    from ..site.ground_trial import ground_trial
    from ..site.run import speaker_of
    from ..site.template import template_csv
    from .common import length_m

    d = None if distance is None else length_m("--distance", distance, scenario.units)
    if d is not None and not 0.5 <= d <= 1000.0:
        raise UsageError(f"--distance: {d:g} m; 0.5 m to 1000 m")
    one = speaker_of(scenario, speaker)
    flipped = one.hang.orientations == ("flipped",)
    trial = ground_trial(scenario, one, distance_m=d, flipped=flipped)
    terminal = stdout_terminal()
    if template is not None:
        names = tuple(point.name for point in trial.points)
        write_new(template, template_csv(names, trial.bands_hz), quiet=quiet)
    if measured is None and not traces:
        text = ground_text(scenario, trial)
        if out is not None:
            from ..report.sheets.ground_trial import ground_sheets

            files = {**ground_sheets(scenario, trial), "ground.txt": text.encode()}
            put_beside(scenario, files, out, replace=replace, quiet=quiet)
        if as_json:
            print_json(trial.to_dict())
        elif not quiet:
            print_text(terminal.shown(text))
        return
    from ..report.text.onsite import ground_found_text
    from ..site.ground_found import compare_on_ground

    found = compare_on_ground(trial, measured, at=traces, magnitude=magnitude)
    if write is not None:
        write_new(write, _coarse(found), quiet=quiet)
    if out is not None:
        from ..report.figures.ground import ground_figures
        from ..report.json_text import json_text

        files = {
            **ground_figures(scenario, found),
            "ground.txt": ground_found_text(found).encode(),
            "ground.json": json_text(found.to_dict()).encode(),
        }
        put_beside(scenario, files, out, replace=replace, quiet=quiet)
    if as_json:
        print_json(found.to_dict())
    elif quiet:
        print_text(f"{found.headline}\n")
    else:
        print_text(ground_found_text(found, terminal=terminal))


def _coarse(found: "GroundFound") -> str:
    if not found.coarse_csv:
        raise UsageError("--write: the axis and another direction must both have been measured")
    return found.coarse_csv


def may_put(
    scenario: "Scenario", new_files: tuple[str | None, ...], out: str | None, *, replace: bool
) -> None:
    """Refuse what could not be written before anything is computed.  Raises OutputError."""
    for path in new_files:
        if path is not None:
            from ..report.output_folder import check_file

            check_file(path)
    may_write(out, scenario=_beside(scenario), title=scenario.title, replace=replace)


def write_new(path: str, text: str, *, quiet: bool) -> None:
    """A new file, never over an old one."""
    from ..report.output_folder import write_file

    write_file(path, text.encode())
    if not quiet:
        tell(f"written: {path}")


def put_beside(
    scenario: "Scenario", files: dict[str, bytes], out: str, *, replace: bool, quiet: bool
) -> None:
    """Under a name of its own, so that a folder with the plan in it is not renewed by this."""
    put_folder(
        out, files, scenario=_beside(scenario), title=scenario.title, replace=replace, quiet=quiet
    )


def _beside(scenario: "Scenario") -> str:
    return f"{scenario.file} on site"
