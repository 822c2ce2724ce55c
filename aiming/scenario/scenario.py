"""The checked scenario: everything that the later rooms need, in metres, as value objects."""

from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from ..aim.tolerance import Tolerance
from ..base.air import Air
from ..base.arrays import FloatArray, IntArray
from ..base.bands import DEFAULT_DESIGN_HZ
from ..base.units import Unit
from ..field.walls import solid_of
from ..geometry.section import Rows, Seating, Surface
from ..speaker.groups import Company
from ..speaker.output import Programme, Weighting
from ..speaker.rigging import Rigging
from ..speaker.speaker import Orientation, Speaker
from ..speaker.stack import Stack

if TYPE_CHECKING:
    from ..files.pattern_result import PatternFile
    from ..files.survey import SurveyNote

Objective = Literal["spread", "worst band", "deviation"]
SOFTEST_DB = -6.0
"""Least level of a served row re the last row with the axis on it, unless the file says: our own.
It is what the coverage edge is down: no row is to get less than the last row would with the
edge on it.  A box that is turned further away is even, but serves nobody."""


@dataclass(frozen=True)
class AimSettings:
    """What counts as best, and how well it must be proven.

    bands_hz: nominal design bands, ascending
    axis_on_audience, axis_on_any: whether the axis must meet a seating that the loudspeaker serves;
        any seating will do
    gap_db: the best is proven to within this, dB of the objective
    lower_if_within_db: of all placements this close to the best the lowest is taken
    tolerance: how far the hung loudspeaker may be off; None where the file does not say
    at_worst: whether the worst case within the tolerance is made small
    max_front_elevation_deg: how high the front row may see the acoustic centre; None for any
    left_to_fill: front rows left to a front fill, out of all that is judged; "knee" for as many as
        gain enough each
    softest_db: no served row is softer than this re what the box would give the last row with its
        axis on it; None for no limit
    softest_stated: whether the file gives it: then it holds whatever becomes of the answer
    """

    bands_hz: tuple[float, ...] = DEFAULT_DESIGN_HZ
    objective: Objective = "spread"
    axis_on_audience: bool = True
    axis_on_any: bool = False
    gap_db: float = 0.05
    lower_if_within_db: float = 0.5
    tolerance: Tolerance | None = None
    at_worst: bool = False
    max_front_elevation_deg: float | None = None
    left_to_fill: int | Literal["knee"] = 0
    softest_db: float | None = SOFTEST_DB
    softest_stated: bool = False


@dataclass(frozen=True)
class ProgrammeSettings:
    """What is played, and the level wanted at every row; weighted as `weighting` says."""

    spectrum: Programme = "pink"
    target_db: float | None = None
    weighting: Weighting = "A"


@dataclass(frozen=True)
class CautionSettings:
    """What the file says about cautions.

    thresholds: by key, in metres and degrees, those that the file gives alone
    stage_focus_m: (x, z) of the foot of what the audience looks at
    level_limit_db, level_limit_name: A-weighted, and where it holds; None and "" unless given
    """

    thresholds: dict[str, float] = field(default_factory=dict)
    stage_focus_m: tuple[float, float] = (0.0, 0.0)
    level_limit_db: float | None = None
    level_limit_name: str = ""


@dataclass(frozen=True)
class WatchedPoint:
    """A place that is no row: at_m (x, z); kind as the person calls it, "" where unsaid."""

    name: str
    at_m: tuple[float, float]
    kind: str = ""


@dataclass(frozen=True)
class Focus:
    """What every row is to see: at_m (x, z); eyes_above_ears_m turns ears into eyes."""

    at_m: tuple[float, float]
    eyes_above_ears_m: float = 0.0


@dataclass(frozen=True)
class Weather:
    """What bends sound outdoors, as far as it is stated.

    wind_speed_m_s: mean along the section, positive towards the audience, at wind_height_m over the
        ground
    temperature_gradient_c_m: °C per metre of height
    """

    wind_speed_m_s: float = 0.0
    wind_height_m: float = 10.0
    temperature_gradient_c_m: float = 0.0


@dataclass(frozen=True)
class Variant:
    """A named set of changes; keys are dotted, values as the file has them."""

    name: str
    changes: dict[str, Any]


@dataclass(frozen=True)
class Pan:
    """How a loudspeaker's section lies to the centre line, for the paper alone; None: not given.

    pan_deg: turned from it, positive to the left looking at the audience; off_centre_m: likewise
    """

    pan_deg: float | None
    off_centre_m: float | None


@dataclass(frozen=True, eq=False)
class Scenario:
    """One scenario file, checked, after all changes.

    file: as the person named it; folder: what file names in it are relative to
    rows: every row of every seating
    points: places to watch besides the rows; focus: what every row is to see, if given
    rigging: by loudspeaker, then by orientation, as declared
    stacks: by loudspeaker, how it stands, where that is declared
    outdoors, gust_speed_m_s: whether it is, and the wind that everything must stand, if given
    weather: wind and temperature with height; None where the file states neither
    base_m: by loudspeaker, z of what a stack stands on, where it is given
    pans: by loudspeaker, how its section lies to the centre line, where that is given
    left_to_fill: by loudspeaker, how many front rows an answer found to leave to a fill; where it
        says nothing, aim.left_to_fill counts
    cautions: thresholds that the file moves
    company: which loudspeakers fill for, or hang under, which, and how they add up
    programme: what is played; None where the file does not say
    pattern_files: by loudspeaker, what reading its pattern file gave
    notes: what the reader wants said; survey_notes: the same with figures
    document: the plain document after all changes; text: the file's text before them
    """

    title: str
    file: str
    folder: Path
    units: Unit
    datum: str
    air: Air
    seatings: tuple[Seating, ...]
    rows: Rows
    surfaces: tuple[Surface, ...]
    speakers: tuple[Speaker, ...]
    aim: AimSettings
    points: tuple[WatchedPoint, ...] = ()
    focus: Focus | None = None
    rigging: dict[str, dict[Orientation, Rigging]] = field(default_factory=dict)
    stacks: dict[str, Stack] = field(default_factory=dict)
    outdoors: bool = False
    gust_speed_m_s: float | None = None
    weather: Weather | None = None
    base_m: dict[str, float] = field(default_factory=dict)
    pans: dict[str, Pan] = field(default_factory=dict)
    left_to_fill: dict[str, int] = field(default_factory=dict)
    company: Company = field(default_factory=Company)
    programme: ProgrammeSettings | None = None
    pattern_files: "dict[str, PatternFile]" = field(default_factory=dict)
    cautions: CautionSettings = field(default_factory=CautionSettings)
    variants: tuple[Variant, ...] = ()
    notes: tuple[str, ...] = ()
    survey_notes: "tuple[SurveyNote, ...]" = ()
    document: dict[str, Any] = field(default_factory=dict)
    text: str = ""

    @property
    def solid_tops_m(self) -> tuple[FloatArray, ...]:
        """(n, 2) each: beneath these all is taken as solid, though no line of the file says so."""
        return solid_of(self.seatings, self.surfaces).tops_m

    @property
    def looked_at_m(self) -> tuple[float, float]:
        """(x, z) of the focus, or of the foot of the stage where none is given."""
        return self.cautions.stage_focus_m if self.focus is None else self.focus.at_m

    def front_rows(self, name: str) -> IntArray:
        """The rows that may be left to a fill, those nearest to what is looked at first.

        Of a loudspeaker with another under it, the rows of both; none of one that is itself a fill.
        """
        above = self.company.hung_under.get(name)
        head = name if above is None else above.above
        if head in self.company.fills:
            return np.zeros(0, dtype=np.intp)
        under = self.company.under(head)
        both = [self.speaker(of) for of in (head, under) if of is not None]
        rows = self.rows.of(tuple({seating for one in both for seating in one.serves}))
        away = np.abs(self.rows.x_m[rows] - self.looked_at_m[0])
        return np.asarray(rows[np.lexsort((self.rows.z_m[rows], away))])

    def number_in_file(self, name: str) -> int:
        """The place of a loudspeaker among those of the file, of which some may be left out."""
        names = [one["name"] for one in self.document["speaker"]]
        return names.index(name)

    def speaker(self, name: str) -> Speaker:
        """The loudspeaker of this name; KeyError where there is none."""
        for speaker in self.speakers:
            if speaker.name == name:
                return speaker
        raise KeyError(name)
