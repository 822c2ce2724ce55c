"""What bears it: limits of picks, parts, hoists and the structure, and what of them nobody gave."""

from collections.abc import Iterator
from dataclasses import replace

from ..base.limit import Limit
from ..base.units import length_text
from ..results.answer import Severity
from ..rigging.limits import (
    OFF_AXIS_MOST,
    SECONDARY_FALL_MOST,
    UTILISATION_FULL,
    UTILISATION_NEAR,
    WLL_SHARE_MOST,
)
from ..scenario.scenario import Scenario
from ..scenario.thresholds import threshold
from .declare import NOT_ASSUMED, Told, caution
from .facts import (
    LOADED,
    RIGGED,
    SpeakerFacts,
)
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


def _used_severity(scenario: Scenario, used: float | None) -> Severity | None:
    """A share of the allowed load: stop, caution, or nothing to say."""
    if used is None or used <= threshold(scenario, UTILISATION_NEAR):
        return None
    return "stop" if used > threshold(scenario, UTILISATION_FULL) else "caution"


def _loaded(of: SpeakerFacts, severity: Severity) -> Iterator[Told]:
    share, factor = 100.0 * of.loads.wll_share, factor_text(of.loads.dynamic_factor)
    change = ": take a point marked for more, or hang less on it" if severity == "stop" else ""
    for point in of.loads.points:
        used = point.utilisation
        if used is not None and _used_severity(of.scenario, used) == severity:
            yield Told(
                f"point {point.name} bears {100 * used:.0f} % of the allowed load ({share:g} % of "
                f"its working load limit, dynamic factor {factor}){change}",
                used,
            )


@caution("nearly-loaded", "caution", LOADED, limit=UTILISATION_NEAR)
def nearly_loaded(of: SpeakerFacts) -> Iterator[Told]:
    """A point bears more than this, but not too much."""
    yield from _loaded(of, "caution")


@caution("overloaded", "stop", LOADED, limit=UTILISATION_FULL)
def overloaded(of: SpeakerFacts) -> Iterator[Told]:
    """A point bears more than this."""
    yield from _loaded(of, "stop")


@caution("uneven-hoists", "caution", LOADED, limit=UTILISATION_FULL)
def uneven_hoists(of: SpeakerFacts) -> Iterator[Told]:
    """One of two points would bear more than this with the whole weight on it."""
    full, points = threshold(of.scenario, UTILISATION_FULL), of.loads.points
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

    A pull off the fitting's axis, by what it leaves of the limit.
    """
    full = threshold(of.scenario, UTILISATION_FULL)
    for point in of.loads.points:
        off, kept, used = point.off_axis_deg, point.kept_share, point.kept_utilisation
        if off is None or kept is None or off <= threshold(of.scenario, OFF_AXIS_MOST):
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


def _parts(of: SpeakerFacts, severity: Severity) -> Iterator[Told]:
    share, factor = 100.0 * of.loads.wll_share, factor_text(of.loads.dynamic_factor)
    for line in of.loads.lines:
        for part in line.parts:
            used = part.utilisation
            if used is not None and _used_severity(of.scenario, used) == severity:
                yield Told(
                    f"{part.name} in the line of {line.name} bears {100 * used:.0f} % of the "
                    f"allowed load ({share:g} % of its working load limit, dynamic factor "
                    f"{factor})",
                    used,
                )


@caution("part-nearly-loaded", "caution", LOADED, limit=UTILISATION_NEAR)
def part_nearly_loaded(of: SpeakerFacts) -> Iterator[Told]:
    """A part of a line bears more than this, but not too much."""
    yield from _parts(of, "caution")


@caution("part-overloaded", "stop", LOADED, limit=UTILISATION_FULL)
def part_overloaded(of: SpeakerFacts) -> Iterator[Told]:
    """A part of a line bears more than this."""
    yield from _parts(of, "stop")


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


def _carried(of: SpeakerFacts, severity: Severity) -> Iterator[Told]:
    for line in of.loads.lines:
        used = line.structure_utilisation
        if used is not None and _used_severity(of.scenario, used) == severity:
            yield Told(
                f"the structure over {line.name} carries {100 * used:.0f} % of the capacity stated",
                used,
            )


@caution(
    "structure-nearly-loaded", "caution", LOADED, limit=UTILISATION_NEAR, unit="of the capacity"
)
def structure_nearly_loaded(of: SpeakerFacts) -> Iterator[Told]:
    """The structure at a point carries more than this of the capacity stated, but not too much."""
    yield from _carried(of, "caution")


@caution("structure-overloaded", "stop", LOADED, limit=STRUCTURE_FULL)
def structure_overloaded(of: SpeakerFacts) -> Iterator[Told]:
    """The structure at a point carries more than this of the capacity stated."""
    yield from _carried(of, "stop")


@caution("secondary-not-declared", "caution", RIGGED, limit=SECONDARY_FALL_MOST)
def secondary_not_declared(of: SpeakerFacts) -> Iterator[Told]:
    """Rigging without `secondary_suspension = true`; the figure is the longest fall path."""
    if not of.rigging.secondary_suspension:
        fall = length_text(SECONDARY_FALL_MOST.value, of.scenario.units)
        yield Told(
            "no independent secondary suspension is declared: an overhead load usually needs one "
            f"with no fall path, or with at most {fall} for gear aligned after mounting"
        )
