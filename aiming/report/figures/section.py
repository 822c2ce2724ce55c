"""What a drawn section is made of: its extent, its data, and how its labels look."""

from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any

import numpy as np

from ...aim.measures import WITHIN_DB
from ...base.arrays import BoolArray, FloatArray
from ...base.units import length_text, tilt_text
from ...results.answer import Answer, SpeakerAnswer, needed
from ...results.section import Extent
from ...scenario.scenario import Scenario
from ...speaker.cabinet import turned_m
from ..text.groups import setting_text
from ..text.words import throw_m
from . import style as look

_LABEL_BOX = {"facecolor": "white", "edgecolor": "none", "alpha": 0.8, "pad": 0.6}
LEAST_POINTS = 7.0
"""No letters are smaller than this on A4."""
_SIGN_POINTS = 9.0
"""The sign of a loudspeaker without an outline: of one size on paper, since nothing says more."""


@dataclass(frozen=True)
class _Wish:
    """A label that is to be placed: its point, its text, and where beside the point it may go.

    offsets: in points, with horizontal and vertical alignment, the best first
    """

    at: tuple[float, float]
    text: str
    offsets: tuple[tuple[float, float, str, str], ...]
    rank: int
    options: dict[str, Any]


ROUND = tuple(
    (x, y, ha, va)
    for away in (5.0, 12.0, 20.0, 30.0)
    for x, y, ha, va in (
        (0.0, away, "center", "bottom"),
        (0.0, -away, "center", "top"),
        (away, 0.0, "left", "center"),
        (-away, 0.0, "right", "center"),
        (away, away, "left", "bottom"),
        (-away, away, "right", "bottom"),
        (away, -away, "left", "top"),
        (-away, -away, "right", "top"),
    )
)
"""Places round a point, nearer ones first."""


@dataclass
class Labels:
    """Labels that keep clear of each other: collected while drawing, placed at the end.

    The weightier ones choose first; what finds no free place is left out, since a label that lies
    on another tells nobody anything.
    """

    wishes: list[_Wish] = field(default_factory=list)
    marks: list[tuple[float, float]] = field(default_factory=list)
    """Of rows: a label lies on one only where there is no other room."""

    def wish(
        self,
        at: tuple[float, float],
        text: str,
        *,
        offsets: tuple[tuple[float, float, str, str], ...] = ROUND,
        rank: int = 5,
        **options: Any,
    ) -> None:
        """Ask for a label; a lower rank chooses earlier."""
        self.wishes.append(_Wish(at, text, offsets, rank, options))

    def place(self, ax: Any) -> None:
        """Put every label that finds room; the axes must have their final place on the sheet."""
        from matplotlib.backends.backend_agg import FigureCanvasAgg

        renderer = FigureCanvasAgg(ax.figure).get_renderer()
        ax.apply_aspect()
        frame = ax.get_window_extent(renderer)
        taken: list[Any] = []
        marks = ax.transData.transform(np.array(self.marks).reshape(-1, 2))
        for wish in sorted(self.wishes, key=lambda one: one.rank):
            made = ax.annotate(
                wish.text, wish.at, xytext=(0, 0), textcoords="offset points",
                rotation_mode="anchor", bbox=_LABEL_BOX, zorder=10, gid="label",
                **{"fontsize": 7.5, "color": look.INK, **wish.options},
            )  # fmt: skip
            free: list[tuple[int, tuple[float, float, str, str], Any]] = []
            for place in wish.offsets:
                _move(made, place)
                box = made.get_window_extent(renderer).padded(2.0)
                inside = frame.x0 <= box.x0 and box.x1 <= frame.x1
                inside = inside and frame.y0 <= box.y0 and box.y1 <= frame.y1
                if inside and not any(box.overlaps(other) for other in taken):
                    hit = (marks > (box.x0, box.y0)) & (marks < (box.x1, box.y1))
                    free.append((int(hit.all(axis=1).sum()), place, box))
                    if not free[-1][0]:
                        break
            if free:
                _, place, box = min(free, key=lambda one: one[0])
                _move(made, place)
                taken.append(box)
            else:
                made.remove()
        self.wishes.clear()


def _move(text: Any, place: tuple[float, float, str, str]) -> None:
    x, y, ha, va = place
    text.set(position=(x, y), ha=ha, va=va)


@dataclass(frozen=True, eq=False)
class Section:
    """Everything that a drawn section shows; brief: small, so with few labels."""

    answer: Answer
    extent: Extent
    brief: bool = False
    labels: Labels = field(default_factory=Labels)

    @property
    def shown_per_m(self) -> float:
        """Drawn units in a metre."""
        return look.per_m(self.scenario.units)

    @property
    def scenario(self) -> Scenario:
        """As it was set."""
        return self.answer.scenario

    @property
    def several(self) -> bool:
        """Whether there is more than one loudspeaker."""
        return len(self.answer.speakers) > 1


def note(
    ax: Any, at: tuple[float, float], text: str, *, offset: tuple[float, float], **options: Any
) -> None:
    """A label at a point of the drawing, offset in points, readable over lines."""
    options = {"color": look.INK, "fontsize": LEAST_POINTS, "rotation_mode": "anchor", **options}
    ax.annotate(
        text, at, xytext=offset, textcoords="offset points", bbox=_LABEL_BOX, zorder=10, **options
    )


def along(elevation_deg: float) -> FloatArray:
    """(2,) unit vector of a direction."""
    angle = np.radians(elevation_deg)
    return np.array([np.cos(angle), np.sin(angle)])


# The room in the drawn section: surfaces, shadows, watched points, the view to the focus.

SHADOW_DASH = (0, (1.5, 1.5))


def draw_room(ax: Any, section: Section) -> None:
    """Everything of the room that is neither floor nor row."""
    _surfaces(ax, section)
    _shadows(ax, section)
    _points(ax, section)
    _focus(ax, section)


def _surfaces(ax: Any, section: Section) -> None:
    """Each one's name, upright beside a wall, level under or over what lies."""
    per_m = section.shown_per_m
    for surface in section.scenario.surfaces:
        x, z = surface.line_m.T * per_m
        ax.plot(x, z, color=look.QUIET, linewidth=2.6, solid_joinstyle="miter", zorder=2)
        if section.brief:
            continue
        # At the middle of its longest piece, where there is most room.
        piece = int(np.argmax(np.hypot(np.diff(x), np.diff(z))))
        at = (0.5 * float(x[piece] + x[piece + 1]), 0.5 * float(z[piece] + z[piece + 1]))
        upright = abs(z[piece + 1] - z[piece]) > abs(x[piece + 1] - x[piece])
        long_m = float(np.hypot(*np.diff(surface.line_m, axis=0).T).sum())
        if long_m < 0.04 * section.extent.width_m:
            upright = False
        beside = (
            ((-5, 0, "center", "bottom"), (8, 0, "center", "top"))
            if upright
            else ((0, -4, "center", "top"), (0, 4, "center", "bottom"), *ROUND)
        )
        section.labels.wish(
            at,
            surface.name,
            offsets=beside,
            rank=6,
            color=look.QUIET,
            fontsize=LEAST_POINTS,
            rotation=90.0 if upright else 0.0,
        )


def _shadows(ax: Any, section: Section) -> None:
    """Where the shadow begins, in the loudspeaker's colour; a ring round the rows behind it."""
    per_m, rows = section.shown_per_m, section.answer.rows
    shadows = needed(section.answer.section, "section").shadows
    for index, one in enumerate(section.answer.speakers):
        found, ink = shadows[one.name], look.nth(look.SPEAKER_INKS, index)
        for line in found.lines_m:
            ax.plot(*(line * per_m).T, color=ink, linewidth=1.2, linestyle=SHADOW_DASH, zorder=3)
        if found.hidden.any():
            ax.scatter(
                rows.x_m[found.hidden] * per_m,
                rows.z_m[found.hidden] * per_m,
                s=30.0 if section.brief else 75.0,
                marker="s",
                facecolors="none",
                edgecolors=ink,
                linewidths=0.7,
                zorder=6.5,
            )


def _points(ax: Any, section: Section) -> None:
    per_m, extent = section.shown_per_m, section.extent
    for point in section.scenario.points:
        x, z = point.at_m
        if extent.x_from <= x <= extent.x_to and extent.z_from <= z <= extent.z_to:
            ax.plot(x * per_m, z * per_m, "D", color=look.STOP, markersize=5, zorder=8)
            at = (x * per_m, z * per_m)
            section.labels.wish(at, point.name, rank=4, color=look.STOP, fontsize=LEAST_POINTS)


def _focus(ax: Any, section: Section) -> None:
    """The focus, and the lines of sight that the cabinets come closest to or take."""
    focus = section.scenario.focus
    if focus is None:
        return
    per_m, rows = section.shown_per_m, section.answer.rows
    at = np.array(focus.at_m)
    ax.plot(*(at * per_m), "P", color=look.INK, markersize=7, zorder=8)
    x, z = (float(of) for of in at * per_m)
    section.labels.wish((x, z), "focus", rank=4, fontsize=LEAST_POINTS)
    lost = sorted(
        {
            row
            for one in section.answer.speakers
            if one.room is not None and one.room.hides_focus_from is not None
            for row in one.room.hides_focus_from
        }
    )
    ends = pairwise((*rows.seating, None))
    last = [row for row, (one, after) in enumerate(ends) if one != after]
    # What is hidden is dashed and heavier: told apart without its colour too.
    for row, ink, width, dash in [(row, look.QUIET, 0.4, (0, (1, 4))) for row in last] + [
        (row, look.STOP, 0.8, (0, (7, 3))) for row in lost
    ]:
        eye = np.array([rows.x_m[row], rows.z_m[row] + focus.eyes_above_ears_m])
        line = np.stack([eye, at]) * per_m
        ax.plot(*line.T, color=ink, linewidth=width, linestyle=dash, zorder=1.5)


# Handover and delays in the drawn section.


def draw_handovers(ax: Any, section: Section) -> None:
    """A ring round each handover row, in the fill's own colour, with the fill's time and level."""
    rows, per_m = section.answer.rows, section.shown_per_m
    shown: dict[int, int] = {}
    for index, one in enumerate(section.answer.speakers):
        match = one.match
        if match is None or match.handover_row is None:
            continue
        row = match.handover_row
        at = (float(rows.x_m[row]) * per_m, float(rows.z_m[row]) * per_m)
        ink = look.nth(look.SPEAKER_INKS, index)
        ring = 13.0 + 4.0 * shown.get(row, 0)
        ax.plot(*at, "o", markersize=ring, markerfacecolor="none", color=ink, mew=1.4, zorder=7.5)
        shown[row] = shown.get(row, 0) + 1
        time = match.handover_after_main_ms
        text = "handover" if time is None else f"handover, {time:+.1f} ms".replace("-", "−")
        section.labels.wish(at, text, offsets=ROUND[8:], rank=3, color=ink, fontsize=LEAST_POINTS)


# One loudspeaker in the drawn section: its cabinet, its beam, its dimensions.


def draw_beam(ax: Any, section: Section, one: SpeakerAnswer, index: int) -> None:
    """Axis, coverage edges, setting window, uniform-level line."""
    per_m, ink = section.shown_per_m, look.nth(look.SPEAKER_INKS, index)
    centre = np.array([one.x_m, one.height_m]) * per_m
    far = 3.0 * per_m * (section.extent.width_m + section.extent.height_m)
    if one.window is not None:
        low, high = one.window.tilt_deg
        reach = per_m * (throw_m(one) or 0.5 * section.extent.width_m)
        wedge = [centre, *(centre + reach * along(turn) for turn in np.linspace(low, high, 9))]
        ax.fill(*np.array(wedge).T, facecolor=ink, alpha=0.10, linewidth=0, zorder=2.5)
    end = far if one.aim_point is None else per_m * (throw_m(one) or 0.0)
    tip = centre + end * along(one.tilt_deg)
    dash = look.nth(look.AXIS_DASHES, index)
    ax.plot(*np.stack([centre, tip]).T, color=ink, linewidth=1.3, linestyle=dash, zorder=4)
    if one.aim_point is not None:
        ax.plot(*tip, marker="x", markersize=9, markeredgewidth=2.0, color=ink, zorder=8)
    edges = section.answer.edges[one.name]
    for edge_deg in (edges.above_deg, edges.below_deg):
        if edge_deg is not None:
            line = np.stack([centre, centre + far * along(edge_deg)])
            dash = look.nth(look.EDGE_DASHES, index)
            ax.plot(*line.T, color=ink, linewidth=0.9, linestyle=dash, zorder=3)
    uniform = uniform_shown_m(section.answer, one)
    if uniform is not None:
        ax.plot(*(uniform * per_m).T, color=look.UNIFORM, linewidth=1.8, zorder=4)


def uniform_shown_m(answer: Answer, one: SpeakerAnswer) -> FloatArray | None:
    """(n, 2) of the uniform-level line, where it can be held against the audience plane.

    None where several loudspeakers play, since none of them alone decides then how loud it is, and
    where most of the line runs under the floor, where nobody sits.
    """
    if one.uniform_line is None or len(answer.speakers) > 1:
        return None
    points = one.uniform_line.points_m
    floor = np.full(len(points), -np.inf)
    for seating in answer.scenario.seatings:
        x, z = seating.floor_m.T
        over = (points[:, 0] >= x[0]) & (points[:, 0] <= x[-1])
        floor[over] = np.maximum(floor[over], np.interp(points[over, 0], x, z))
    above = points[:, 1] >= floor
    return points if len(points) > 1 and above.mean() > 0.5 else None


def draw_cabinet(ax: Any, section: Section, one: SpeakerAnswer, index: int) -> None:
    """The outline as it hangs, or the usual sign of a loudspeaker where none is known."""
    per_m, ink = section.shown_per_m, look.nth(look.SPEAKER_INKS, index)
    cabinet = section.scenario.speaker(one.name).cabinet
    outline = None if cabinet is None else cabinet.outline_m
    ax.plot(one.x_m * per_m, one.height_m * per_m, ".", color=ink, markersize=5, zorder=9)
    if outline is None:
        _sign(ax, (one.x_m * per_m, one.height_m * per_m), one.tilt_deg, ink)
        return
    body = turned_m(outline, tilt_deg=one.tilt_deg, flipped=one.orientation == "flipped")
    corners = (body + np.array([one.x_m, one.height_m])) * per_m
    ax.fill(*corners.T, facecolor="#d6d6d6", edgecolor=ink, linewidth=1.3, zorder=5)


def _sign(ax: Any, at: tuple[float, float], tilt_deg: float, ink: str) -> None:
    """The usual sign of a loudspeaker, small: nothing is known of its body."""
    from matplotlib.markers import MarkerStyle
    from matplotlib.path import Path
    from matplotlib.transforms import Affine2D

    horn = Path(np.array([[0, -1], [-0.6, -0.5], [-0.6, 0.5], [0, 1], [0, -1]]))
    marker = MarkerStyle(horn, transform=Affine2D().rotate_deg(tilt_deg))
    ax.plot(
        *at, marker=marker, markersize=_SIGN_POINTS, markerfacecolor="white", color=ink, zorder=5
    )


def draw_dimensions(ax: Any, section: Section, one: SpeakerAnswer, index: int) -> None:
    """Height, throw and tilt at the lines they belong to; several loudspeakers get their name."""
    per_m, ink = section.shown_per_m, look.nth(look.SPEAKER_INKS, index)
    unit = section.scenario.units
    x, z = one.x_m * per_m, one.height_m * per_m
    tilt = tilt_text(one.tilt_deg)
    label = tilt
    if section.several:  # gain and delay under it, where they are set
        label = "\n".join(filter(None, (f"{one.name}, {tilt}", setting_text(one))))
    section.labels.wish(
        (x, z),
        label,
        offsets=(
            (6, 9, "left", "bottom"),
            (6, -9, "left", "top"),
            (-6, 9, "right", "bottom"),
            *ROUND,
        ),
        rank=0,
        color=ink,
        weight="bold",
    )
    throw = throw_m(one)
    if throw is not None and not section.brief:
        turn = one.tilt_deg if abs(one.tilt_deg) <= 90.0 else 0.0
        at = np.array([x, z]) + 0.5 * throw * per_m * along(one.tilt_deg)
        section.labels.wish(
            (float(at[0]), float(at[1])),
            f"throw {length_text(throw, unit)}",
            offsets=((0, 0, "center", "center"), (0, 6, "center", "bottom"), *ROUND),
            rank=2,
            color=ink,
            rotation=turn,
        )
    # Heights of loudspeakers that hang close together stand side by side.
    step = 0.022 * (section.extent.width_m + section.extent.height_m)
    beside = sum(abs(other.x_m - one.x_m) < 4 * step for other in section.answer.speakers[:index])
    left = x - step * (1.3 + beside) * per_m
    arrow = {"arrowstyle": "<->", "color": ink, "linewidth": 0.8, "shrinkA": 0, "shrinkB": 0}
    ax.annotate("", xy=(left, z), xytext=(left, 0.0), arrowprops=arrow, zorder=3)
    ax.plot([left, x], [z, z], color=ink, linewidth=0.5, zorder=3)
    section.labels.wish(
        (left, 0.5 * z),
        length_text(one.height_m, unit),
        offsets=((0, 0, "center", "center"), *((0, up, "center", "center") for up in (25, -25))),
        rank=1,
        color=ink,
        rotation=90.0,
    )


# The section to scale: who sits where, where the loudspeaker points, how loud it gets.

TONES_DB = tuple(float(level) for level in range(-15, 13, 3))
"""Where one tone of the map gives way to the next, re the mean over the rows."""


def draw_section(ax: Any, section: Section) -> None:
    """Draw the section into a matplotlib Axes."""
    _frame(ax, section)
    _map(ax, section)
    _solid(ax, section)
    _house(ax, section)
    draw_room(ax, section)
    for index, one in enumerate(section.answer.speakers):
        draw_beam(ax, section, one, index)
        draw_cabinet(ax, section, one, index)
    _rows(ax, section)
    draw_handovers(ax, section)
    for index, one in enumerate(section.answer.speakers):
        draw_dimensions(ax, section, one, index)
    section.labels.place(ax)


def _frame(ax: Any, section: Section) -> None:
    extent, per_m = section.extent, section.shown_per_m
    ax.set_xlim(extent.x_from * per_m, extent.x_to * per_m)
    ax.set_ylim(extent.z_from * per_m, extent.z_to * per_m)
    ax.set_aspect("equal", adjustable="box")
    look.grid(ax, "#eeeeee")
    unit = section.scenario.units
    ax.set_xlabel(f"from the datum, {unit}", labelpad=1.5)
    ax.set_ylabel(f"above the datum, {unit}")
    ax.plot([0.0], [0.0], marker="+", markersize=11, color=look.INK, zorder=6)
    ax.plot(
        [0.0], [0.0], marker="o", markersize=6, markerfacecolor="none", color=look.INK, zorder=6
    )
    section.labels.wish((0.0, 0.0), "datum", offsets=ROUND[8:], rank=3)


def _map(ax: Any, section: Section) -> None:
    """Design level in one quiet hue, shadows and all, 3 dB from tone to tone."""
    found, per_m = needed(section.answer.section, "section").levels, section.shown_per_m
    level = found.design_level_db - section.answer.curves.mean_db
    if not np.isfinite(level).any():
        return
    ax.contourf(
        found.x_m * per_m,
        found.z_m * per_m,
        np.ma.masked_invalid(level),
        levels=TONES_DB,
        colors=look.TONES[: len(TONES_DB) + 1],
        extend="both",
        zorder=0.5,
    )


def _solid(ax: Any, section: Section) -> None:
    """Hatched on its inner side, what is taken as solid though no line of the file says so."""
    from matplotlib.patheffects import withTickedStroke

    per_m = section.shown_per_m
    depth_m = section.extent.z_from - section.extent.height_m
    strokes = withTickedStroke(spacing=6.0, angle=-125.0, length=0.7)
    for top in section.scenario.solid_tops_m:
        outline = [[top[0, 0], depth_m], *top, [top[-1, 0], depth_m]]
        x, z = np.array(outline).T * per_m
        ax.plot(x, z, color=look.QUIET, linewidth=0.5, path_effects=[strokes], zorder=1.8)


def _house(ax: Any, section: Section) -> None:
    per_m = section.shown_per_m
    for seating in section.scenario.seatings:
        x, z = seating.floor_m.T * per_m
        ax.plot(x, z, color=look.INK, linewidth=1.8, zorder=2)
        ears_x, ears_z = seating.audience_plane_m.T * per_m
        ax.plot(ears_x, ears_z, color=look.QUIET, linewidth=0.6, zorder=2)
        middle = float(0.5 * (x[0] + x[-1]))
        floor = float(np.interp(middle, x, z))
        under = tuple((x, y, ha, va) for x, y, ha, va in ROUND if va == "top")
        section.labels.wish((middle, floor), seating.name, offsets=(*under, *ROUND), rank=4)


def _rows(ax: Any, section: Section) -> None:
    rows, per_m = section.answer.rows, section.shown_per_m
    level = section.answer.curves.design_db
    section.labels.marks += list(zip(rows.x_m * per_m, rows.z_m * per_m, strict=True))
    size = float(np.clip(1800.0 / max(len(rows), 1), 9.0, 15.0 if section.brief else 40.0))
    left = left_rows(section.answer)

    def dots(which: BoolArray, **options: Any) -> None:
        at = (rows.x_m[which] * per_m, rows.z_m[which] * per_m)
        ax.scatter(*at, s=size, zorder=7, **options)

    for marker, alike in marked(level):
        hollow, chosen = alike & left, alike & ~left
        ink = {"marker": marker, "edgecolors": look.INK}
        dots(hollow, facecolors="white", linewidths=0.7, **ink)
        dots(chosen, c=level[chosen], linewidths=0.5, **look.BY_LEVEL, **ink)
    seating = rows.seating
    for row in range(0 if section.brief else len(rows)):
        if row in (0, len(rows) - 1) or not seating[row - 1] == seating[row] == seating[row + 1]:
            at = (float(rows.x_m[row]) * per_m, float(rows.z_m[row]) * per_m)
            # Farther away than this nobody would know which row is meant.
            section.labels.wish(
                at, rows.name[row], offsets=ROUND[:16], rank=5, fontsize=LEAST_POINTS
            )
    unknown = ~np.isfinite(level)
    if unknown.any():
        dots(unknown, marker="s", facecolors="white", edgecolors=look.STOP)


def left_rows(answer: Answer) -> BoolArray:
    """(rows,) those that a loudspeaker leaves to a fill and no other serves: drawn hollow."""
    found = np.zeros(len(answer.rows), dtype=bool)
    for one in answer.speakers:
        if one.left_to_fill is not None:
            found[list(one.left_to_fill.rows)] = True
    return found


def marked(level_db: FloatArray) -> tuple[tuple[str, BoolArray], ...]:
    """Marker and (n,) mask of the rows that are louder, within 3 dB of the mean, and softer."""
    with np.errstate(invalid="ignore"):
        return (
            (look.LOUDER, level_db > WITHIN_DB),
            (look.WITHIN, np.abs(level_db) <= WITHIN_DB),
            (look.SOFTER, level_db < -WITHIN_DB),
        )
