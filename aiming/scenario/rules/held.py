"""What a rigging method needs, a stack's footprint, a limit's name.

Forces that cannot be found are refused.
"""

from collections.abc import Iterator

from ...base.errors import found_text
from ...base.units import plain_length_text
from ...files.toml_places import Path
from .raw import Problem, Raw, Table, table_in

ORIENTATIONS = ("upright", "flipped")
BELOW_GROUND_M = 1e-3


def held_rules(raw: Raw) -> Iterator[Problem]:
    """Keys that a method cannot do without, a footprint's order, and where a level limit holds."""
    limits = table_in(raw.document, "cautions")
    for one, other in (
        ("level_limit_db", "level_limit_name"),
        ("level_limit_name", "level_limit_db"),
    ):
        if limits.get(one) is not None and limits.get(other) is None:
            yield ("cautions", one), f"{one} without {other}; both, or none"
    for path, speaker in raw.tables("speaker"):
        rigging = table_in(speaker, "rigging")
        for orientation in ORIENTATIONS:
            if isinstance(rigging.get(orientation), dict):
                yield from _method((*path, "rigging", orientation), rigging[orientation])
        ends = raw.point(table_in(speaker, "stack").get("footprint"))
        if ends is not None and not ends[0] < ends[1]:
            shown = f"[{', '.join(plain_length_text(end, raw.unit) for end in ends)}]"
            yield (*path, "stack", "footprint"), f"{shown}; [rear, front] with the front ahead"
        yield from _ground(path, speaker, raw)


def _ground(path: Path, speaker: Table, raw: Raw) -> Iterator[Problem]:
    """Nothing of a stack lies below the ground that it stands on."""
    stack = table_in(speaker, "stack")
    base = raw.length(table_in(speaker, "placement").get("base"))
    given = raw.length(stack.get("ground"))
    if given is not None and base is not None and given > base + BELOW_GROUND_M:
        yield (
            (*path, "stack", "ground"),
            f"{given:g} m, above the base of {base:g} m; the z of what the footprint stands on, "
            "at most the base",
        )
    ground = base if given is None else given
    also = stack.get("also")
    if ground is None or not isinstance(also, list):
        return
    for place, other in enumerate(also):
        if not isinstance(other, dict):
            continue
        at = raw.point(other.get("at"))
        heights = [
            ("at", None if at is None else at[1]),
            ("wind_z", raw.length(other.get("wind_z"))),
        ]
        for key, z in heights:
            if z is not None and z < ground - BELOW_GROUND_M:
                yield (
                    (*path, "stack", "also", place, key),
                    f"z = {z:g} m, {ground - z:.2f} m below the ground at {ground:g} m that the "
                    "stack stands on; its z from the datum, or `ground`, the z of the ground",
                )


def _method(path: Path, held: Table) -> Iterator[Problem]:
    method, picks = held.get("method"), held.get("picks")
    if method == "one point":
        bar = [key for key in ("holes", "bar") if held.get(key) is not None]
        if bar and held.get("holes_w") is None:
            yield (*path, bar[0]), f"{bar[0]} without holes_w; holes_w, the height of the bar"
        if not bar and isinstance(picks, list) and len(picks) == 2:
            yield (
                (*path, "picks"),
                'a list of 2 for "one point" without a pick bar; holes or bar too, or one pick',
            )
    yield from _lines(path, held)
    turning = ("pull_elevation_deg", "pulling_point")
    if method == "pull-back" and all(held.get(key) is None for key in turning):
        yield (
            (*path, "method"),
            f"{found_text(method)} without a direction of pull; one of {', '.join(turning)}",
        )


def _lines(path: Path, held: Table) -> Iterator[Problem]:
    """Lines and cable of picks that the rigging has; each line once; masses in one place."""
    picks = held.get("picks")
    known = [one for one in picks if isinstance(one, str)] if isinstance(picks, list) else []
    cable = held.get("cable_pick")
    if isinstance(cable, str) and cable not in known:
        yield (*path, "cable_pick"), f"{found_text(cable)}; one of its picks"
    lines = held.get("line")
    if not isinstance(lines, list):
        return
    told: list[str] = []
    for place, line in enumerate(one for one in lines if isinstance(one, dict)):
        names = line.get("picks") or known
        for name in names if isinstance(names, list) else []:
            if name not in known:
                yield (*path, "line", place, "picks"), f"{found_text(name)}; one of its picks"
            elif name in told:
                yield (*path, "line", place), f"a second line for {found_text(name)}; each once"
            told.append(name)
        parts = line.get("parts")
        parts = parts if isinstance(parts, list) else []
        heavy = any("mass" in part for part in parts if isinstance(part, dict))
        for key in ("hoist_mass_kg", "hoist_mass"):
            if heavy and held.get(key) is not None:
                yield (*path, key), f"{key} beside parts of a line with a mass; give it there alone"
