"""Of `aiming onsite`: what was measured, compared, shown, written and recorded."""

from typing import TYPE_CHECKING

from .beforehand import Job
from .common import tell

if TYPE_CHECKING:
    from ..results.answer import Answer
    from ..site.model import Found
    from ..site.traces import Files

LARGEST_RECORD = 4_000_000
"""Bytes."""


def found_on_site(
    job: Job,
    answer: "Answer",
    places: str | None,
    readings: str | None,
    move_if_gains_db: float,
    before: str | None,
) -> "Found":
    """What is said of the levels and readings, with that of an earlier set beside it."""
    from ..site.run import onsite as compared

    def of(levels: str | None, files: "dict[str, Files]", read: str | None) -> "Found":
        return compared(
            job.scenario,
            levels,
            at=files,
            places=places,
            readings=read,
            speaker=job.speaker,
            mic_height_m=job.mic_height_m,
            magnitude=job.magnitude,
            move_if_gains_db=move_if_gains_db,
            answer=answer,
        )

    found = of(job.measured, job.at, readings)
    if before is None:
        return found
    from dataclasses import replace as with_

    return with_(found, before=of(before, {}, None))


def give_handover(job: Job, answer: "Answer") -> None:
    """A fill fitted to what it fills."""
    from ..report.figures.handover import handover_figures
    from ..report.text.handover import handover_text
    from ..site.handover import fit_at_handover

    found = fit_at_handover(answer, job.at, magnitude=job.magnitude)
    job.give_found(
        "handover",
        found,
        lambda terminal: handover_text(found, terminal=terminal),
        lambda: handover_figures(found),
        whole=handover_text(found),
    )


def give_found(job: Job, found: "Found", smooth: float | None, full: bool) -> None:
    """The instruction, and what it rests on."""
    from ..report.figures.onsite import onsite_figures
    from ..report.text.onsite import onsite_text

    octaves = None if smooth is None else 1.0 / smooth
    job.give_found(
        "onsite",
        found,
        lambda terminal: onsite_text(job.scenario, found, full=full, terminal=terminal),
        lambda: onsite_figures(job.scenario, found, smooth_octaves=octaves),
        whole=onsite_text(job.scenario, found, full=True),
    )


def write_scenarios(
    job: Job, found: "Found", write: str | None, hung: str | None, weighed: str | None
) -> None:
    """The scenario with the placement moved, as it hangs, and with what was weighed."""
    from ..site.rewrite import corrected_text, weighed_text

    if write is not None and found.corrected is None:
        tell(f"{write}: not written, since no move is advised")
    elif write is not None:
        job.write_new(write, corrected_text(job.scenario, found))
    if hung is not None:
        job.write_new(hung, corrected_text(job.scenario, found, which="hung"))
    if weighed is not None:
        job.write_new(weighed, weighed_text(job.scenario, found))


def kept_record(record: str | None) -> str:
    """What the record holds so far; "" for a new one."""
    from pathlib import Path

    from ..base.regular_file import open_ordinary
    from ..report.output_folder import check_file

    if record is None:
        return ""
    check_file(record, replace=True)
    if not Path(record).exists():
        return ""
    with open_ordinary(Path(record)) as stream:
        return str(stream.read(LARGEST_RECORD).decode("utf-8", errors="replace"))


def add_to_record(
    job: Job, found: "Found", record: str, kept: str, by: str, date: str, sets: str
) -> None:
    """One entry more, told against the one before."""
    from ..report.output_folder import write_file
    from ..site.record import HEADER, compared_text, entry_text, last_entry

    last = last_entry(kept, record, found.speaker) if kept else None
    entry = entry_text(found, by=by, date=date, air=job.scenario.air, measured=sets)
    write_file(record, ((kept or HEADER) + entry).encode(), replace=True)
    if last is not None and not job.into.quiet:
        tell(compared_text(last, found))
