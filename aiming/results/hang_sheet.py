"""What the paper of one loudspeaker shows: the rigger's page, the laser, the calculation."""

from dataclasses import dataclass

from ..base.arrays import FloatArray
from ..base.described import Point
from ..rigging.steps import Step
from ..scenario.scenario import Pan
from ..speaker.speaker import Range
from ..speaker.stack import Standing
from .answer import Caution, SpeakerAnswer
from .support import Support

IN_REACH_M = 2.5
"""A mark higher over the floor than this is out of a standing person's reach; our own."""


@dataclass(frozen=True)
class LaserMarks:
    """The two marks, from the datum.

    at_m: the laser, as the box hangs
    ear_m: where the beam is at ear height over seating that is served; None where it nowhere is
    row: index of the row nearest to that, else of the row that the axis is meant for
    row_x_m, floor_z_m, ear_height_m: of that row
    dot_z_m: the beam's height above the datum in that row; above_floor_m: above its floor
    floor_m: where it falls on the bare floor; None where it does not
    beyond_seating: that floor is the seating's, carried on level past its first or last row
    wall, wall_m: a surface that it meets before the floor or instead of it; "" and None if none
    before_row: a surface or floor that it meets before it gets to the row; "" if none
    """

    at_m: Point
    ear_m: Point | None
    row: int
    row_x_m: float
    floor_z_m: float
    ear_height_m: float
    dot_z_m: float
    floor_m: Point | None
    beyond_seating: bool
    wall: str
    wall_m: Point | None
    before_row: str = ""

    @property
    def markable(self) -> bool:
        """Whether the beam gets to the row, over its floor and within reach from it."""
        return not self.before_row and 0.0 <= self.above_floor_m <= IN_REACH_M

    @property
    def above_floor_m(self) -> float:
        """The dot over the floor of its row."""
        return self.dot_z_m - self.floor_z_m

    @property
    def past_row_m(self) -> float | None:
        """How far behind the row the beam is at ear height; negative in front of it."""
        return None if self.ear_m is None else self.ear_m[0] - self.row_x_m


@dataclass(frozen=True, eq=False)
class Below:
    """What is fixed under a box: outline_m (n, 2) from the upper one's acoustic centre, or None."""

    name: str
    splay_deg: float
    outline_m: FloatArray | None


@dataclass(frozen=True, eq=False)
class HangSheet:
    """One loudspeaker's page.

    number, count: which page of how many
    outline_m, centre_m: corners (n, 2) and combined centre of gravity, from the acoustic centre as
        it hangs; None where not given.  hooks_m: by name, likewise, of every line
    inclinometer_deg: what it reads on the reference face, positive up; inclinometer_window_deg: at
        the ends of the setting window, cut where something would stop; None where nothing is left;
        window_cut: whether its low, and its high end, is such a cut
    cautions: of this loudspeaker, of what carries it and of the whole scenario, for whoever hangs
        it; about_sound: the codes of those that are not
    mark: a short hash of what was solved, so that two prints can be told apart; file: its name
    pan: how the section lies to the centre line, None where that is not given
    trim_m: lowest point of everything that hangs together; None where an outline is not given
    below: name, outline and splay of what is fixed under it; carried_by: what it is fixed under,
        with the splay
    beside: what stands on the same base, as declared
    """

    title: str
    datum: str
    version: str
    number: int
    count: int
    speaker: SpeakerAnswer
    held: Support
    outline_m: FloatArray | None
    centre_m: Point | None
    hooks_m: dict[str, Point]
    reference_face_deg: float
    inclinometer_deg: float
    inclinometer_window_deg: Range | None
    window_cut: tuple[bool, bool]
    laser: LaserMarks | None
    row_label: str
    cautions: tuple[Caution, ...]
    about_sound: tuple[str, ...]
    mark: str
    file: str
    pan: Pan | None
    trim_m: float | None
    below: Below | None
    carried_by: tuple[str, float] | None
    beside: tuple[Standing, ...]

    @property
    def stopped(self) -> bool:
        """Whether a caution of severity stop stands: then the page is not for hanging."""
        return any(one.severity == "stop" for one in self.cautions)


@dataclass(frozen=True)
class Part:
    """One part of the sheet: what is said first, then the steps."""

    heading: str
    said: tuple[str, ...]
    steps: tuple[Step, ...]


@dataclass(frozen=True, eq=False)
class Calculation:
    """One loudspeaker's sheet; sources: the limits that figures were held against."""

    sheet: HangSheet
    parts: tuple[Part, ...]
    sources: tuple[str, ...]
