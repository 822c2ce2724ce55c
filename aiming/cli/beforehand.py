"""Of `aiming onsite`: what it was asked, the check positions, typed levels, the trial on the
ground."""

import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from .asking import Back, Stopped, ask
from .common import Into, UsageError, as_files, length_m, print_text, show, tell

if TYPE_CHECKING:
    from ..report.text.terminal import Terminal
    from ..scenario.scenario import Scenario
    from ..site.check_plan import CheckPlan
    from ..site.ground_found import GroundFound
    from ..site.ground_trial import GroundTrial
    from ..site.handover import Fitted
    from ..site.model import Found
    from ..site.traces import Files, Magnitude


LARGEST_DB = 400.0
"""Of a level that is typed in."""


@dataclass(frozen=True, kw_only=True)
class Job:
    """What was measured, where the result goes and in which form."""

    scenario: "Scenario"
    measured: str | None
    at: dict[str, "Files"]
    speaker: str | None
    mic_height_m: float | None
    magnitude: "Magnitude | None"
    into: Into
    as_json: bool

    @property
    def any_levels(self) -> bool:
        """Whether levels were measured."""
        return self.measured is not None or bool(self.at)

    def give(
        self,
        data: Callable[[], dict[str, Any]],
        text: "Callable[[Terminal], str]",
        files: Callable[[], dict[str, bytes]],
        *,
        headline: str = "",
    ) -> None:
        """Write the folder, then print: JSON, the headline alone, or the text."""
        if self.into.folder is not None:
            self.into.put(files(), *self._whose)
        if self.into.quiet and not self.as_json:
            print_text(f"{headline}\n" if headline else "")
        else:
            show(data, text, as_json=self.as_json)

    def give_found(
        self,
        name: str,
        found: "Found | Fitted | GroundFound",
        text: "Callable[[Terminal], str]",
        figures: Callable[[], dict[str, bytes]],
        *,
        whole: str,
    ) -> None:
        """The same of what was found; whole: the text that the folder gets."""
        self.give(
            found.to_dict,
            text,
            lambda: as_files(name, found.to_dict(), whole, figures()),
            headline=found.headline,
        )

    def may_put(self, *new_files: str | None) -> None:
        """Refuse what could not be written before anything is computed.  Raises OutputError."""
        for path in new_files:
            if path is not None:
                from ..report.output_folder import check_file

                check_file(path)
        self.into.check(*self._whose)

    @property
    def _whose(self) -> tuple[str, str]:
        """A name of its own, so that a folder with the plan in it is not renewed by this."""
        return f"{self.scenario.file} on site", self.scenario.title

    def write_new(self, path: str, text: str) -> None:
        """A new file, never over an old one."""
        from ..report.output_folder import write_file

        write_file(path, text.encode())
        if not self.into.quiet:
            tell(f"written: {path}")


# The check positions, and the table of them.


def give_checks(job: Job, plan: "CheckPlan", template: str | None) -> None:
    """The page to take along, and the empty table to fill in."""
    from ..report.text.check_positions import check_text
    from ..site.template import template_csv

    text = check_text(job.scenario, plan)
    if template is not None:
        names = tuple(n for n, c in zip(plan.names, plan.checks, strict=True) if not c.spare)
        job.write_new(template, template_csv(names, plan.bands_hz))

    def files() -> dict[str, bytes]:
        from ..report.sheets.check_positions import check_sheets

        return {**check_sheets(job.scenario, plan), "checks.txt": text.encode()}

    job.give(plan.to_dict, lambda terminal: terminal.shown(text), files)


def with_typed(job: Job, path: str, names: tuple[str, ...], bands_hz: tuple[float, ...]) -> Job:
    """The job with the levels that a person types in, position by position, kept in a new file."""
    from ..site.template import template_csv

    if job.any_levels:
        raise UsageError("--type: levels are typed in, or read from files, not both")
    levels, stopped = _typed(names, bands_hz)
    if not levels:
        if stopped is not None and stopped.by is not None:
            raise stopped.by
        raise UsageError("--type: no level was typed; nothing was written")
    job.write_new(path, template_csv(names, bands_hz, levels))
    if stopped is not None and stopped.by is not None:
        raise stopped.by
    return replace(job, measured=path)


def _typed(
    names: tuple[str, ...], bands_hz: tuple[float, ...]
) -> tuple[dict[str, list[float | None]], Stopped | None]:
    """Levels by position and band; what stopped it, where something did."""
    from ..base.bands import band_label

    bands = ", ".join(band_label(band) for band in bands_hz)
    about = (
        f"Levels in dB at {bands}, in that order, parted by blanks; a - for a band that was not "
        'measured. Enter alone leaves the position out, "back" goes back one.'
    )
    typed: dict[str, str] = {}
    at, stopped = 0, None
    while at < len(names):
        name = names[at]
        try:
            kept = typed.get(name, "not measured")
            typed[name] = ask(name, about, kept, lambda text: _levels_text(text, bands_hz))
            about, at = "", at + 1
        except Back:
            at = max(at - 1, 0)
        except Stopped as by:
            stopped = by
            break
    given = {name: _levels(text) for name, text in typed.items() if _levels(text)}
    return given, stopped


def _levels(text: str) -> list[float | None]:
    """What was typed, as numbers; [] for a position left out.  Raises ValueError."""
    from ..files.text_table import number_in

    text = text.replace("−", "-")
    if text == "not measured":
        return []
    if not re.search(r"[\s;]", text) and text.count(",") > 1:
        text = text.replace(",", " ")
    told: list[float | None] = []
    for one in re.split(r"[\s;]+", text.strip()):
        number = None if one == "-" else number_in(one.replace(",", "."))
        if number is None and one != "-":
            raise ValueError(f'"{one}"; must be a level in dB, or -')
        if number is not None and abs(number) > LARGEST_DB:
            raise ValueError(f'"{one}"; must be a level within {LARGEST_DB:g} dB')
        told.append(number)
    return told


def _levels_text(text: str, bands_hz: tuple[float, ...]) -> str:
    """The text again, if it can be used."""
    told = _levels(text)
    if told and len(told) != len(bands_hz):
        raise ValueError(
            f"{len(told)} levels; {len(bands_hz)}, one for each band: a meter without bands hears "
            "them from noise of one band after another"
        )
    return text if any(one is not None for one in told) else "not measured"


# The trial on the ground.


def trial_of(job: Job, distance: str | None) -> "GroundTrial":
    """The layout in the yard."""
    from ..site.ground_trial import ground_trial
    from ..site.run import speaker_of

    d = None if distance is None else length_m("--distance", distance, job.scenario.units)
    if d is not None and not 0.5 <= d <= 1000.0:
        raise UsageError(f"--distance: {d:g} m; 0.5 m to 1000 m")
    one = speaker_of(job.scenario, job.speaker)
    return ground_trial(
        job.scenario, one, distance_m=d, flipped=one.hang.orientations == ("flipped",)
    )


def give_ground(job: Job, trial: "GroundTrial", template: str | None, write: str | None) -> None:
    """The layout of the trial, or what its levels say."""
    from ..report.text.check_positions import ground_text
    from ..site.template import template_csv

    if template is not None:
        names = tuple(point.name for point in trial.points)
        job.write_new(template, template_csv(names, trial.bands_hz))
    if job.any_levels:
        _give_ground_found(job, trial, write)
        return
    text = ground_text(job.scenario, trial)

    def files() -> dict[str, bytes]:
        from ..report.sheets.ground_trial import ground_sheets

        return {**ground_sheets(job.scenario, trial), "ground.txt": text.encode()}

    job.give(trial.to_dict, lambda terminal: terminal.shown(text), files)


def _give_ground_found(job: Job, trial: "GroundTrial", write: str | None) -> None:
    from ..report.figures.ground import ground_figures
    from ..report.text.onsite import ground_found_text
    from ..site.ground_found import compare_on_ground

    found = compare_on_ground(trial, job.measured, at=job.at, magnitude=job.magnitude)
    if write is not None:
        if not found.coarse_csv:
            raise UsageError("--write: the axis and another direction must both have been measured")
        job.write_new(write, found.coarse_csv)

    job.give_found(
        "ground",
        found,
        lambda terminal: ground_found_text(found, terminal=terminal),
        lambda: ground_figures(job.scenario, found),
        whole=ground_found_text(found),
    )
