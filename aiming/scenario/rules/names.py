"""Names: each one once, and each reference to something that is there."""

from collections.abc import Iterator

from ...base.errors import found_text
from ..address import suggestion
from .raw import Problem, Raw, table_in, tables_in, texts

NAMED = {
    "seating": "seating",
    "surface": "surface",
    "point": "point",
    "speaker": "loudspeaker",
    "variant": "variant",
}
PICKS_OF_METHOD = {"two points": (2, 2), "one point": (1, 2), "pull-back": (2, 2)}

UNKNOWN_FORCES = (
    ", since statics give two equations for lines in one plane: how more of them share the load "
    "depends on their stretch and length, and cannot be computed"
)


def name_rules(raw: Raw) -> Iterator[Problem]:
    """Duplicate names, and references that name nothing."""
    for key, thing in NAMED.items():
        seen: set[str] = set()
        for path, table in raw.tables(key):
            name = table.get("name")
            if not isinstance(name, str):
                continue
            if name in seen:
                yield (*path, "name"), f"{found_text(name)} again; each {thing} its own name"
            seen.add(name)
    yield from _row_names(raw)
    seatings = [
        name for _, one in raw.tables("seating") if isinstance(name := one.get("name"), str)
    ]
    for path, speaker in raw.tables("speaker"):
        if speaker.get("serves") == []:
            yield (*path, "serves"), "a list of 0; at least one seating, or no serves for all"
        served: set[str] = set()
        for position, name in texts(speaker.get("serves")):
            if name not in seatings:
                yield (
                    (*path, "serves", position),
                    f"no seating {found_text(name)}; {suggestion(name, seatings)}",
                )
            elif name in served:
                yield (*path, "serves", position), f"{found_text(name)} again; each seating once"
            served.add(name)
        yield from _picks(path, speaker, raw)


def _row_names(raw: Raw) -> Iterator[Problem]:
    for path, seating in raw.tables("seating"):
        names = texts(seating.get("row_names"))
        seen: set[str] = set()
        for position, name in names:
            if name in seen:
                yield (
                    (*path, "row_names", position),
                    f"{found_text(name)} again; each row its own name",
                )
            seen.add(name)


def _picks(path: tuple[str | int, ...], speaker: dict[str, object], raw: Raw) -> Iterator[Problem]:
    """Picks of one cabinet, and the rigging that names them."""
    cabinet = table_in(speaker, "cabinet")
    known: list[str] = []
    places: dict[tuple[float, float], str] = {}
    for pick_path, pick in tables_in(cabinet.get("picks"), (*path, "cabinet", "picks")):
        name = pick.get("name")
        if isinstance(name, str):
            if name in known:
                yield (*pick_path, "name"), f"{found_text(name)} again; each pick its own name"
            known.append(name)
        at = raw.point(pick.get("at"))
        if at is not None:
            if at in places:
                yield (
                    (*pick_path, "at"),
                    f"the same point as pick {found_text(places[at])}; each pick its own point",
                )
            places.setdefault(at, str(name))
    rigging = table_in(speaker, "rigging")
    for orientation in ("upright", "flipped"):
        held = table_in(rigging, orientation)
        used = texts(held.get("picks"))
        here = (*path, "rigging", orientation)
        for position, name in used:
            if name not in known:
                yield (
                    (*here, "picks", position),
                    f"no pick {found_text(name)}; {suggestion(name, known)}",
                )
            elif name in [other for _, other in used[:position]]:
                yield (*here, "picks", position), f"{found_text(name)} again; each pick once"
        method = held.get("method")
        if isinstance(method, str) and method in PICKS_OF_METHOD:
            least, most = PICKS_OF_METHOD[method]
            if not least <= len(used) <= most:
                allowed = f"{most}" if least == most else f"{least} or {most}"
                why = UNKNOWN_FORCES if len(used) > most else ""
                yield (
                    (*here, "picks"),
                    f"a list of {len(used)}; {allowed} for {found_text(method)}{why}",
                )
