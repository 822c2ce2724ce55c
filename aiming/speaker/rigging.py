"""How a loudspeaker is held in one orientation: what the person declares, nothing computed.

Body points given here are body axes *as hung* (u forward, w up, origin the acoustic centre): the
frame, the bar and the second box belong to the orientation, so they are not turned with it.
"""

from dataclasses import dataclass
from typing import Literal

Method = Literal["two points", "one point", "pull-back"]
Fitting = Literal["shackle", "shoulder eyebolt", "plain eyebolt"]

DEFAULT_WLL_SHARE = 0.5
"""Half the marked working load limit over people: DGUV Information 215-313, Table 1."""


@dataclass(frozen=True)
class Underhung:
    """A second box fixed under the first, turning with it.

    mass_kg: its mass, with what joins it
    joint_m: (u, w) of the joint, in the first box's axes as hung
    centre_of_gravity_m: (u, w) of its centre of gravity from the joint, in its own axes as hung
    splay_deg: how much further nose-down it points: its tilt is the first box's minus the splay
    """

    mass_kg: float
    joint_m: tuple[float, float]
    centre_of_gravity_m: tuple[float, float]
    splay_deg: float = 0.0


@dataclass(frozen=True)
class LinePart:
    """One part of a line: clamp, hoist, sling, shackle.

    wll_n: marked working load limit; mass_kg: its own, with what belongs to it (a hoist's chain)
    length_m: the least that it takes up between steel and hook; of a hoist its lowest hook under
        what it hangs from
    """

    name: str
    wll_n: float | None = None
    mass_kg: float = 0.0
    length_m: float = 0.0


@dataclass(frozen=True)
class Line:
    """What lines are made of, from the structure down to the box.

    picks: names of the picks whose lines these are; () for every line of the orientation
    """

    parts: tuple[LinePart, ...]
    picks: tuple[str, ...] = ()


@dataclass(frozen=True)
class Rigging:
    """One orientation's rigging; None means not stated, never assumed.

    picks: names of the cabinet's picks: front and rear, or what carries the bar, or for pull-back
        the carrying pick, then the pulled one
    extra_mass_kg, extra_at_m: frame, hardware, cable that hang with the box, and where (u, w) that
        acts; at the cabinet's centre of gravity where no place is given
    wll_share: share of a marked working load limit that may be used
    dynamic_factor: what the resting loads are multiplied by before they are held against a limit
    tilt_step_deg: the tilt can be set in multiples of this only
    holes_u_m, bar_u_m, bar_w_m: holes of a pick bar, or the [low, high] of a continuous one, along
        u, and their height w
    pull_elevation_deg: direction of the pulling line seen from the box, which it leaves rearwards
        (90 straight up, 0 level, negative down); or
    pulling_point_m: (x, z) from the datum where that line is made fast
    steel_height_m: z of what everything hangs from
    hoist_mass_kg: of each hoist with its chain; cable_mass_kg: of all cable that the steel carries
        beside the box
    secondary_suspension: an independent one is declared
    structure_capacity_n: what the structure may carry at each point it is loaded at
    cable_pick: name of the pick whose line carries the cable; "": shared evenly
    lines: what the lines are made of, where it is given; then their masses, not hoist_mass_kg
    wind_area_m2, force_coefficient: what the wind sees of everything that hangs, along the section
    fitting, fitting_axis_deg: what the line is hooked to, and which way that is meant to be pulled
        (body axes as hung: 90 up, 0 forward)
    """

    method: Method
    picks: tuple[str, ...] = ()
    extra_mass_kg: float = 0.0
    extra_at_m: tuple[float, float] | None = None
    wll_share: float = DEFAULT_WLL_SHARE
    dynamic_factor: float = 1.0
    tilt_step_deg: float | None = None
    holes_u_m: tuple[float, ...] = ()
    bar_u_m: tuple[float, float] | None = None
    bar_w_m: float | None = None
    pull_elevation_deg: float | None = None
    pulling_point_m: tuple[float, float] | None = None
    steel_height_m: float | None = None
    hoist_mass_kg: float | None = None
    cable_mass_kg: float | None = None
    secondary_suspension: bool = False
    structure_capacity_n: float | None = None
    fitting: Fitting | None = None
    fitting_axis_deg: float = 90.0
    below: Underhung | None = None
    cable_pick: str = ""
    lines: tuple[Line, ...] = ()
    wind_area_m2: float | None = None
    force_coefficient: float | None = None

    def line_of(self, pick: str) -> tuple[LinePart, ...]:
        """The parts of this pick's line, from the structure down; () where none are given."""
        for line in self.lines:
            if not line.picks or pick in line.picks:
                return line.parts
        return ()
