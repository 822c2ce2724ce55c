"""Cautions about what bears the load: marked limits, uneven hoists, fittings, the structure."""

from collections.abc import Iterator

from ..rigging.limits import SECONDARY_FALL_MOST
from ..rigging.loads import Loads, PointLoad
from ..rigging.plumb import HangLayout
from ..scenario.scenario import Scenario
from ..speaker.rigging import Rigging
from ..units import length_text
from .caution_general import factor_text
from .caution_limits import threshold
from .held import Held
from .model import Caution, Severity


def capacity_cautions(scenario: Scenario, held: Held) -> Iterator[Caution]:
    """Of one flown loudspeaker whose loads are known, and of what else it needs."""
    if held.rigging is None:
        return
    name = held.speaker.name
    if held.loads is not None and held.layout is not None:
        yield from _marked(scenario, name, held.loads)
        for point in held.loads.points:
            yield from _fitting(scenario, name, held.rigging, point)
        yield from _structure(scenario, name, held.rigging, held.layout)
    if not held.rigging.secondary_suspension:
        fall = length_text(SECONDARY_FALL_MOST.value, scenario.units)
        yield Caution(
            "secondary-not-declared",
            "caution",
            "no independent secondary suspension is declared: overhead loads are usually to have "
            f"one without fall path, or with at most {fall} for gear aligned after mounting",
            limit=SECONDARY_FALL_MOST.value,
            unit="m",
            speaker=name,
        )


def _marked(scenario: Scenario, name: str, loads: Loads) -> Iterator[Caution]:
    unknown = [point.name for point in loads.points if point.utilisation is None]
    if unknown:
        yield Caution(
            "load-limits-missing",
            "caution",
            f"no working load limit given for {', '.join(unknown)}: utilisation not checked",
            speaker=name,
        )
    share, factor = 100.0 * loads.wll_share, factor_text(loads.dynamic_factor)
    for point in loads.points:
        used = point.utilisation
        if used is None:
            continue
        found = _used(scenario, used)
        if found is not None:
            severity, limit = found
            yield Caution(
                "overloaded" if severity == "stop" else "nearly-loaded",
                severity,
                f"point {point.name} bears {100 * used:.0f} % of what may be used "
                f"({share:g} % of its marked limit, dynamic factor {factor})",
                value=used,
                unit="of what may be used",
                limit=limit,
                speaker=name,
            )
        whole, full = point.whole_weight_utilisation, threshold(scenario, "utilisation_full")
        if len(loads.points) > 1 and whole is not None and whole > full >= used:
            yield Caution(
                "uneven-hoists",
                "caution",
                f"with the whole weight on point {point.name}, as when hoists run unevenly, it "
                f"bears {100 * whole:.0f} % of what may be used",
                value=whole,
                unit="of what may be used",
                limit=full,
                speaker=name,
            )


def _used(scenario: Scenario, used: float) -> tuple[Severity, float] | None:
    full, near = threshold(scenario, "utilisation_full"), threshold(scenario, "utilisation_near")
    if used > full:
        return "stop", full
    return ("caution", near) if used > near else None


def _fitting(
    scenario: Scenario, name: str, rigging: Rigging, point: PointLoad
) -> Iterator[Caution]:
    """A pull off the fitting's axis, by what it leaves of the limit."""
    limit = threshold(scenario, "off_axis_deg")
    off, kept = point.off_axis_deg, point.kept_share
    if off is None or kept is None or off <= limit:
        return
    used = point.kept_utilisation
    left = f"keeps {100 * kept:.0f} % of its limit (training texts vary; the maker's table counts)"
    if used is not None:
        left += f", of which {100 * used:.0f} % is used"
    full = threshold(scenario, "utilisation_full")
    severity: Severity = "stop" if kept == 0.0 or (used or 0.0) > full else "caution"
    yield Caution(
        "off-axis-pull",
        severity,
        f"the pull on point {point.name} is {off:.0f}° off the axis of its {rigging.fitting}: "
        + ("that is not to be pulled sideways at all" if kept == 0.0 else f"it {left}"),
        value=off,
        unit="°",
        limit=limit,
        speaker=name,
    )


def _structure(
    scenario: Scenario, name: str, rigging: Rigging, layout: HangLayout
) -> Iterator[Caution]:
    if rigging.structure_capacity_n is None:
        yield Caution(
            "structure-capacity-missing",
            "caution",
            "what the structure may carry at each point is not stated, so not checked",
            speaker=name,
        )
        return
    for line in layout.points:
        used = line.structure_utilisation
        found = None if used is None else _used(scenario, used)
        if used is None or found is None:
            continue
        severity, limit = found
        yield Caution(
            "structure-overloaded" if severity == "stop" else "structure-nearly-loaded",
            severity,
            f"the structure over {line.name} carries {100 * used:.0f} % of the capacity stated",
            value=used,
            unit="of the capacity",
            limit=limit,
            speaker=name,
        )
