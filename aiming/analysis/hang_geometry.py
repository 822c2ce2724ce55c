"""Everything that the page for the rigger shows of one loudspeaker; the report only lays it out."""

import hashlib
import json
from pathlib import Path

import numpy as np

from ..base.arrays import FloatArray
from ..cautions.declare import DECLARED
from ..results.answer import Answer, Caution, SpeakerAnswer
from ..results.hang_sheet import Below, HangSheet
from ..results.support import Support
from ..speaker.cabinet import turned_m
from ..speaker.speaker import Range
from .laser import laser_marks
from .support_loads import support_at

Point = tuple[float, float]
LEAST_WINDOW_DEG = 0.2
"""A tolerance narrower than an inclinometer tells apart is none."""


def hang_sheets(answer: Answer) -> tuple[HangSheet, ...]:
    """One page per loudspeaker, in the scenario's order."""
    return tuple(
        _hang_sheet(answer, one, number) for number, one in enumerate(answer.speakers, start=1)
    )


def _hang_sheet(answer: Answer, one: SpeakerAnswer, number: int) -> HangSheet:
    scenario = answer.scenario
    speaker = scenario.speaker(one.name)
    place = one.placement
    held = one.support or support_at(scenario, speaker, place)
    cabinet = speaker.cabinet
    outline = None
    if cabinet is not None and cabinet.outline_m is not None:
        outline = turned_m(cabinet.outline_m, tilt_deg=held.tilt_deg, flipped=held.flipped)
    face = _face_deg(cabinet.reference_face_deg if cabinet else 0.0, flipped=held.flipped)
    hung = scenario.company.hung_under.get(one.name)
    whose = (None, one.name) if hung is None else (None, one.name, hung.above)
    mine = [
        said
        for said in answer.cautions
        if said.speaker in whose and (said.speaker in whose[:2] or said.severity == "stop")
    ]
    below, above, settable = _below(answer, one), None, one.settable_tilt_deg
    if hung is not None:
        carrier = next(other for other in answer.speakers if other.name == hung.above)
        above = (hung.above, 0.0 if carrier.pair is None else carrier.pair.splay_deg)
        if carrier.settable_tilt_deg is not None:  # fixed to it, this one turns with it
            low, high = carrier.settable_tilt_deg
            turned = one.tilt_deg - carrier.tilt_deg
            settable = (low + turned, high + turned)
    stack = scenario.stacks.get(one.name)
    marks = laser_marks(scenario, speaker, place, aim_row=one.aim_row)
    return HangSheet(
        title=scenario.title,
        datum=scenario.datum,
        version=answer.version,
        number=number,
        count=len(answer.speakers),
        speaker=one,
        held=held,
        outline_m=outline,
        centre_m=_centre_m(held),
        hooks_m=_hooks_m(held),
        reference_face_deg=face,
        inclinometer_deg=_line_deg(held.tilt_deg + face),
        inclinometer_window_deg=_window_deg(settable, face),
        window_cut=_cut(one if hung is None else carrier),
        laser=marks,
        row_label="" if marks is None else scenario.rows.label(marks.row),
        cautions=tuple(said for said in mine if not _sound_alone(said)),
        about_sound=tuple(
            dict.fromkeys(
                said.code for said in mine if _sound_alone(said) and said.severity == "caution"
            )
        ),
        mark=mark_of(answer),
        file=Path(scenario.file).name,
        pan=scenario.pans.get(one.name),
        trim_m=_trim_m(one, outline, below),
        below=below,
        carried_by=above,
        beside=() if stack is None or held.flown else stack.also,
    )


def mark_of(answer: Answer) -> str:
    """Eight hexadecimal digits of a hash of the scenario and of what was chosen."""
    chosen = [
        (one.name, one.x_m, one.height_m, one.tilt_deg, one.orientation, one.gain_db, one.delay_ms)
        for one in answer.speakers
    ]
    told = json.dumps([answer.scenario.document, chosen, answer.version], sort_keys=True,
                      default=str)  # fmt: skip
    return hashlib.sha256(told.encode()).hexdigest()[:8]


def _below(answer: Answer, one: SpeakerAnswer) -> Below | None:
    """What hangs fixed under this loudspeaker, where the answer has it."""
    name = answer.scenario.company.under(one.name)
    if name is None:
        return None
    other = next(of for of in answer.speakers if of.name == name)
    cabinet, outline = answer.scenario.speaker(name).cabinet, None
    if cabinet is not None and cabinet.outline_m is not None:
        flipped = other.orientation == "flipped"
        turned = turned_m(cabinet.outline_m, tilt_deg=other.tilt_deg, flipped=flipped)
        outline = turned + np.array([other.x_m - one.x_m, other.height_m - one.height_m])
    return Below(name, 0.0 if one.pair is None else one.pair.splay_deg, outline)


def _trim_m(one: SpeakerAnswer, outline: FloatArray | None, below: Below | None) -> float | None:
    """z of the lowest point of all that hangs together; None where part of it is not known."""
    outlines = [outline] if below is None else [outline, below.outline_m]
    known = [of for of in outlines if of is not None]
    if len(known) < len(outlines):
        return None
    return one.height_m + min(float(of[:, 1].min()) for of in known)


def _sound_alone(said: Caution) -> bool:
    """Whether it is nothing to the person who hangs the box; what stops always is."""
    return said.severity != "stop" and not DECLARED[said.code].for_rigger


def _face_deg(reference_face_deg: float, *, flipped: bool) -> float:
    """The reference face's elevation over the axis as hung."""
    return -reference_face_deg if flipped else reference_face_deg


def _line_deg(elevation_deg: float) -> float:
    """A face lies as a line does: its elevation in (−90, 90]."""
    return 90.0 - (90.0 - elevation_deg) % 180.0


def _cut(one: SpeakerAnswer) -> tuple[bool, bool]:
    """Whether something stops at the tolerance's low and high end, before the aim would."""
    if one.settable_tilt_deg is None or one.window is None:
        return False, False
    (low, high), (least, most) = one.settable_tilt_deg, one.window.tilt_deg
    return low > least + 1e-9, high < most - 1e-9


def _window_deg(settable_deg: Range | None, face_deg: float) -> Range | None:
    """What the inclinometer may read: nothing in it stops, and never less than it can tell."""
    if settable_deg is None:
        return None
    low, high = settable_deg
    if high - low < LEAST_WINDOW_DEG:
        return None
    return _line_deg(low + face_deg), _line_deg(high + face_deg)


def _centre_m(held: Support) -> Point | None:
    """Of everything that hangs together; of the cabinet alone where it stands."""
    if held.loads is not None:
        turned = turned_m(held.loads.centre_of_gravity_m, tilt_deg=held.tilt_deg)
    elif held.speaker.cabinet is not None and held.speaker.cabinet.centre_of_gravity_m is not None:
        own = held.speaker.cabinet.centre_of_gravity_m
        turned = turned_m(own, tilt_deg=held.tilt_deg, flipped=held.flipped)
    else:
        return None
    return float(turned[0]), float(turned[1])


def _hooks_m(held: Support) -> dict[str, Point]:
    x, z = held.at_m
    hooks = held.hooks if held.loads is None else held.loads.lines
    return {hook.name: (hook.x_m - x, hook.height_m - z) for hook in hooks}
