"""Loudspeakers that go with others: fills and their mains, boxes hung under boxes."""

from collections.abc import Iterator

from ...base.errors import found_text
from ...files.toml_places import Path
from ..address import suggestion
from .raw import Problem, Raw, Table, number, table_in

OF_FILL = ("handover", "behind_ms", "ceiling_db")
OF_HUNG = ("splay", "joint", "own_joint")
_NOT_HUNG = ("x", "height", "trim", "base", "tilt")


def company_rules(raw: Raw) -> Iterator[Problem]:
    """What fills and hung boxes name and need, and no going round in circles."""
    named = {
        name: one for _, one in raw.tables("speaker") if isinstance(name := one.get("name"), str)
    }
    for path, speaker in raw.tables("speaker"):
        for key in ("fills", "hung_under"):
            yield from _names((*path, key), speaker, key, named)
        for keys, key in ((OF_FILL, "fills"), (OF_HUNG, "hung_under")):
            for one in keys:
                if speaker.get(one) is not None and speaker.get(key) is None:
                    yield (*path, one), f"{one} without {key}; both, or none"
        if speaker.get("hung_under") is None:
            if "placement" not in speaker:
                yield (*path, "placement"), "missing; where it may hang"
        else:
            yield from _hung(path, speaker, named)


def _names(path: Path, speaker: Table, key: str, named: dict[str, Table]) -> Iterator[Problem]:
    """A reference to another loudspeaker, which does not lead back to this one."""
    own, other = speaker.get("name"), speaker.get(key)
    if not isinstance(other, str):
        return
    if other == own:
        yield path, f"{found_text(other)}, itself; another loudspeaker"
    elif other not in named:
        known = [name for name in named if name != own]
        yield path, f"no loudspeaker {found_text(other)}; {suggestion(other, known)}"
    elif key == "fills" and isinstance(own, str):
        chain = [own]
        while isinstance(other, str) and other in named and other not in chain:
            chain.append(other)
            other = named[other].get("fills")
        first = next(name for name in named if name in chain)
        if other == own == first:  # told once for the whole circle
            shown = ", which fills ".join(found_text(one) for one in [*chain[1:], own])
            yield path, f"{shown} again; a main that fills nothing at the end"


def _hung(path: Path, speaker: Table, named: dict[str, Table]) -> Iterator[Problem]:
    own = speaker.get("name") == speaker.get("hung_under")
    above = {} if own else named.get(str(speaker.get("hung_under")), {})
    for key in OF_HUNG:
        if speaker.get(key) is None:
            yield (*path, key), f"missing; {key} too, as hung_under is given"
    if speaker.get("fills") is not None:
        yield (
            (*path, "fills"),
            "fills beside hung_under; one of them, as a box hung under another is aimed with it",
        )
    splay = speaker.get("splay")
    if isinstance(splay, list) and len(splay) == 2:
        low, high = number(splay[0]), number(splay[1])
        if low is not None and high is not None and low > high:
            yield (*path, "splay"), f"[{low:g}, {high:g}]; [low, high] with low not above high"
    placement = table_in(speaker, "placement")
    for key in _NOT_HUNG:
        if placement.get(key) is not None:
            yield (
                (*path, "placement", key),
                f"{key} beside hung_under; its place follows from the loudspeaker above",
            )
    if placement.get("orientation") == "either":
        yield (
            (*path, "placement", "orientation"),
            '"either" beside hung_under; "upright" or "flipped"',
        )
    if placement.get("mount", "flown") != "flown":
        yield (*path, "placement", "mount"), '"stacked" beside hung_under; "flown"'
    if speaker.get("rigging") is not None:
        yield (*path, "rigging"), "rigging beside hung_under; it is held by the loudspeaker above"
    if above.get("hung_under") is not None:
        shown = found_text(speaker.get("hung_under"))
        yield (
            (*path, "hung_under"),
            f"{shown}, which hangs under another itself; one that holds itself",
        )
    if table_in(above, "placement").get("mount", "flown") != "flown":
        yield (*path, "hung_under"), f"{found_text(above.get('name'))}, which stands; a flown one"
    for orientation in ("upright", "flipped"):
        if table_in(table_in(above, "rigging"), orientation).get("below") is not None:
            yield (
                (*path, "hung_under"),
                f"the rigging of {found_text(above.get('name'))} has a second box below already; "
                "one of the two",
            )
            break
    twins = [
        name for name, one in named.items() if one.get("hung_under") == above.get("name") and above
    ]
    if len(twins) > 1 and speaker.get("name") == twins[-1]:
        yield (
            (*path, "hung_under"),
            f"{found_text(above.get('name'))} again; one box under another at most",
        )
