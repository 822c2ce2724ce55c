"""Everything that the page for the rigger shows of one loudspeaker; the report only lays it out."""

from dataclasses import dataclass

from ..base.arrays import FloatArray
from ..cautions.declare import DECLARED
from ..results.answer import Answer, Caution, SpeakerAnswer
from ..speaker.cabinet import turned_m
from ..speaker.speaker import Range
from .laser import LaserMarks, laser_marks
from .support_loads import Held, held_at

Point = tuple[float, float]


@dataclass(frozen=True, eq=False)
class HangSheet:
    """One loudspeaker's page.

    number, count: which page of how many
    outline_m, centre_m: corners (n, 2) and combined centre of gravity, from the acoustic centre as
        it hangs; None where not given.  hooks_m: by name, likewise, of every line
    inclinometer_deg: what it reads on the reference face, positive up; inclinometer_window_deg: at
        the ends of the setting window
    cautions: of this loudspeaker and of the whole scenario, for whoever hangs it; about_sound: the
        codes of those that are not
    """

    title: str
    datum: str
    version: str
    number: int
    count: int
    speaker: SpeakerAnswer
    held: Held
    outline_m: FloatArray | None
    centre_m: Point | None
    hooks_m: dict[str, Point]
    reference_face_deg: float
    inclinometer_deg: float
    inclinometer_window_deg: Range | None
    laser: LaserMarks | None
    row_label: str
    cautions: tuple[Caution, ...]
    about_sound: tuple[str, ...]

    @property
    def stopped(self) -> bool:
        """Whether a caution of severity stop stands: then the page is not for hanging."""
        return any(one.severity == "stop" for one in self.cautions)


def hang_sheets(answer: Answer) -> tuple[HangSheet, ...]:
    """One page per loudspeaker, in the scenario's order."""
    return tuple(
        _hang_sheet(answer, one, number) for number, one in enumerate(answer.speakers, start=1)
    )


def _hang_sheet(answer: Answer, one: SpeakerAnswer, number: int) -> HangSheet:
    scenario = answer.scenario
    speaker = scenario.speaker(one.name)
    place = one.placement
    held = held_at(scenario, speaker, place)
    cabinet = speaker.cabinet
    outline = None
    if cabinet is not None and cabinet.outline_m is not None:
        outline = turned_m(cabinet.outline_m, tilt_deg=held.tilt_deg, flipped=held.flipped)
    face = _face_deg(cabinet.reference_face_deg if cabinet else 0.0, flipped=held.flipped)
    mine = [said for said in answer.cautions if said.speaker in (None, one.name)]
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
        inclinometer_window_deg=None if one.window is None else _window_deg(one, face),
        laser=marks,
        row_label="" if marks is None else scenario.rows.label(marks.row),
        cautions=tuple(said for said in mine if not _sound_alone(said)),
        about_sound=tuple(
            dict.fromkeys(
                said.code for said in mine if _sound_alone(said) and said.severity == "caution"
            )
        ),
    )


def _sound_alone(said: Caution) -> bool:
    """Whether it is nothing to the person who hangs the box; what stops always is."""
    return said.severity != "stop" and not DECLARED[said.code].for_rigger


def _face_deg(reference_face_deg: float, *, flipped: bool) -> float:
    """The reference face's elevation over the axis as hung."""
    return -reference_face_deg if flipped else reference_face_deg


def _line_deg(elevation_deg: float) -> float:
    """A face lies as a line does: its elevation in (−90, 90]."""
    return 90.0 - (90.0 - elevation_deg) % 180.0


def _window_deg(one: SpeakerAnswer, face_deg: float) -> Range:
    assert one.window is not None
    low, high = (_line_deg(end + face_deg) for end in one.window.tilt_deg)
    return low, high


def _centre_m(held: Held) -> Point | None:
    """Of everything that hangs together; of the cabinet alone where it stands."""
    if held.loads is not None:
        turned = turned_m(held.loads.centre_of_gravity_m, tilt_deg=held.tilt_deg)
    elif held.speaker.cabinet is not None and held.speaker.cabinet.centre_of_gravity_m is not None:
        own = held.speaker.cabinet.centre_of_gravity_m
        turned = turned_m(own, tilt_deg=held.tilt_deg, flipped=held.flipped)
    else:
        return None
    return float(turned[0]), float(turned[1])


def _hooks_m(held: Held) -> dict[str, Point]:
    if held.layout is None:
        return {}
    x, z = held.at_m
    return {line.name: (line.x_m - x, line.height_m - z) for line in held.layout.points}
