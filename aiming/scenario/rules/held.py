"""What a rigging method needs, a stack's footprint, a limit's name.

Forces that cannot be found are refused.
"""

from collections.abc import Iterator

from ...base.errors import found_text
from ...base.units import plain_length_text
from ...files.toml_places import Path
from .raw import Problem, Raw, Table, table_in

ORIENTATIONS = ("upright", "flipped")


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
    turning = ("pull_elevation_deg", "pulling_point")
    if method == "pull-back" and all(held.get(key) is None for key in turning):
        yield (
            (*path, "method"),
            f"{found_text(method)} without a direction of pull; one of {', '.join(turning)}",
        )
