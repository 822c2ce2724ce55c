"""What bears it: limits of picks, parts, hoists and the structure, and what of them nobody gave."""

from collections.abc import Callable, Iterator
from dataclasses import replace

from ..base.limit import Limit
from ..rigging.limits import (
    OFF_AXIS_MOST,
    SECONDARY_FALL_MOST,
    UTILISATION_FULL,
    UTILISATION_NEAR,
    WLL_SHARE_MOST,
)
from .declare import NOT_ASSUMED, Told, caution
from .facts import LOADED, RIGGED, SpeakerFacts
from .general import factor_text


@caution("load-limits-missing", "caution", LOADED, basis=NOT_ASSUMED)
def load_limits_missing(of: SpeakerFacts) -> Iterator[Told]:
    """A point, or a part of a line, without a working load limit."""
    unknown = [point.name for point in of.loads.points if point.utilisation is None]
    unknown += [
        f"{part.name} (line {line.name})"
        for line in of.loads.lines
        for part in line.parts
        if part.wll_n is None
    ]
    if unknown:
        yield Told(
            f"no working load limit is given for {', '.join(unknown)}: whether they bear the load "
            "was not checked"
        )


def _used(
    nearly: str,
    over: str,
    when: str,
    uses: Callable[[SpeakerFacts], Iterator[tuple[float | None, str]]],
    *,
    full: Limit = UTILISATION_FULL,
    unit: str | None = None,
    helps: str = "",
) -> None:
    """Declare what is said where much of a limit is used: a caution, and beyond it a stop.

    uses: shares that are used, None where no limit is known, each with the sentence
    helps: what the sentence of a stop adds
    """

    @caution(nearly, "caution", LOADED, limit=UTILISATION_NEAR, unit=unit,
             when=f"{when}, but not too much.")  # fmt: skip
    def says_caution(of: SpeakerFacts) -> Iterator[Told]:
        for used, text in uses(of):
            if used is not None and of.limit(UTILISATION_NEAR) < used <= of.limit(full):
                yield Told(text, used)

    @caution(over, "stop", LOADED, limit=full, unit=unit, when=f"{when}.")
    def says_stop(of: SpeakerFacts) -> Iterator[Told]:
        for used, text in uses(of):
            if used is not None and used > of.limit(full):
                yield Told(f"{text}{helps}", used)


def _allowed_text(of: SpeakerFacts) -> str:
    share, factor = 100.0 * of.loads.wll_share, factor_text(of.loads.dynamic_factor)
    return f"allowed load ({share:g} % of its working load limit, dynamic factor {factor})"


def _points(of: SpeakerFacts) -> Iterator[tuple[float | None, str]]:
    for point in of.loads.points:
        used = point.utilisation
        yield (
            used,
            f"point {point.name} bears {100 * (used or 0.0):.0f} % of the {_allowed_text(of)}",
        )


_used(
    "nearly-loaded",
    "overloaded",
    "A point bears more than this",
    _points,
    helps=": take a point marked for more, or hang less on it",
)


@caution("uneven-hoists", "caution", LOADED, limit=UTILISATION_FULL)
def uneven_hoists(of: SpeakerFacts) -> Iterator[Told]:
    """One of two points would bear more than this with the whole weight on it."""
    full, points = of.limit(UTILISATION_FULL), of.loads.points
    for point in points if len(points) > 1 else ():
        used, whole = point.utilisation, point.whole_weight_utilisation
        if used is not None and whole is not None and whole > full >= used:
            yield Told(
                f"with the whole weight on point {point.name}, as when hoists run unevenly, it "
                f"bears {100 * whole:.0f} % of the allowed load",
                whole,
            )


@caution("off-axis-pull", ("caution", "stop"), LOADED, limit=OFF_AXIS_MOST)
def off_axis_pull(of: SpeakerFacts) -> Iterator[Told]:
    """The pull is further than this off the axis of a declared fitting; stop where nothing of its
    limit is left, or too little (training texts on ASME B30.26, which vary: shackle to 45° keeps
    70 %, to 90° 50 %; shoulder eyebolt to 15/30/45/90° keeps 80/65/30/25 %; plain eyebolt
    straight only).
    """
    full = of.limit(UTILISATION_FULL)
    for point in of.loads.points:
        off, kept, used = point.off_axis_deg, point.kept_share, point.kept_utilisation
        if off is None or kept is None or off <= of.limit(OFF_AXIS_MOST):
            continue
        left = (
            f"keeps {100 * kept:.0f} % of its limit (training texts vary; the maker's table counts)"
        )
        if used is not None:
            left += f", of which {100 * used:.0f} % is used"
        yield Told(
            f"the pull on point {point.name} is {off:.0f}° off the axis of its "
            f"{of.rigging.fitting}: "
            + ("that is not to be pulled sideways at all" if kept == 0.0 else f"it {left}"),
            off,
            severity="stop" if kept == 0.0 or (used or 0.0) > full else "caution",
        )


@caution("wll-share-high", "caution", RIGGED, limit=WLL_SHARE_MOST)
def wll_share_high(of: SpeakerFacts) -> Iterator[Told]:
    """`wll_share` over this."""
    used = of.rigging.wll_share
    if used > WLL_SHARE_MOST.value:
        yield Told(
            f"{100.0 * used:g} % of working load limits is used: {WLL_SHARE_MOST.source}; more "
            "only where nobody can come underneath, or as a competent person decides",
            used,
        )


@caution("line-parts-missing", "note", LOADED, basis=NOT_ASSUMED)
def line_parts_missing(of: SpeakerFacts) -> Iterator[Told]:
    """Rigging without `line` tables for every line."""
    bare = [line.name for line in of.loads.lines if not line.parts]
    if bare:
        yield Told(
            f"the parts of the lines at {', '.join(bare)} are not given: hoist, sling, shackle and "
            "clamp were not checked"
        )


def _parts(of: SpeakerFacts) -> Iterator[tuple[float | None, str]]:
    for line in of.loads.lines:
        for part in line.parts:
            used, what = part.utilisation, f"{part.name} in the line of {line.name}"
            yield used, f"{what} bears {100 * (used or 0.0):.0f} % of the {_allowed_text(of)}"


_used("part-nearly-loaded", "part-overloaded", "A part of a line bears more than this", _parts)


@caution(
    "wind-on-flown",
    "caution",
    LOADED,
    unit="°",
    basis="EN 1991-1-4, read in a secondary text, without its site factors",
)
def wind_on_flown(of: SpeakerFacts) -> Iterator[Told]:
    """A flown loudspeaker with `wind_area_m2`, outdoors with `gust_speed`: q = ½ρv², ρ 1.25 kg/m³,
    c_f 1.8 of sign-boards unless given.
    """
    wind = of.loads.wind
    if wind is not None:
        yield Told(
            f"a steady {wind.gust_speed_m_s:g} m/s pushes with {wind.force_n / 1000.0:.3f} kN "
            f"({wind.pressure_pa:.0f} Pa on {wind.area_m2:g} m², c_f {wind.force_coefficient:g}; "
            f"{wind.source}): the lines lean {wind.lean_deg:.1f}°, and all together pull "
            f"{100.0 * wind.more_share:.0f} % more than the weight; gusts swing it further, and "
            "how the lines share that is not worked out",
            wind.lean_deg,
        )


@caution("structure-capacity-missing", "caution", LOADED, basis=NOT_ASSUMED)
def structure_capacity_missing(of: SpeakerFacts) -> Iterator[Told]:
    """Rigging without `structure_capacity_kn`."""
    if of.rigging.structure_capacity_n is None:
        yield Told("what the structure may carry at each point is not given, so it was not checked")


STRUCTURE_FULL: Limit = replace(
    UTILISATION_FULL,
    unit="of the capacity",
    kind="ours",
    source="the capacity as stated in the scenario",
)


def _structure(of: SpeakerFacts) -> Iterator[tuple[float | None, str]]:
    for line in of.loads.lines:
        used = line.structure_utilisation
        share = f"{100 * (used or 0.0):.0f} % of the capacity stated"
        yield used, f"the structure over {line.name} carries {share}"


_used(
    "structure-nearly-loaded",
    "structure-overloaded",
    "The structure at a point carries more than this of the capacity stated",
    _structure,
    full=STRUCTURE_FULL,
    unit="of the capacity",
)


@caution("secondary-not-declared", "caution", RIGGED, limit=SECONDARY_FALL_MOST)
def secondary_not_declared(of: SpeakerFacts) -> Iterator[Told]:
    """Rigging without `secondary_suspension = true`; the figure is the longest fall path."""
    if not of.rigging.secondary_suspension:
        fall = of.length(SECONDARY_FALL_MOST.value)
        yield Told(
            "no independent secondary suspension is declared: an overhead load usually needs one "
            f"with no fall path, or with at most {fall} for gear aligned after mounting"
        )
