"""Loudspeakers that go with others: fills, boxes under boxes, sums: keys, rules, construction."""

from collections.abc import Iterator
from dataclasses import replace
from typing import TYPE_CHECKING, Literal

from pydantic import Field

from ..base.errors import found_text
from ..files.toml_places import Path
from ..geometry.section import Rows, Seating
from ..speaker.cabinet import drop_m
from ..speaker.groups import BEHIND_MS, CEILING_DB, Company, Fill, HungUnder
from ..speaker.speaker import Hang, Range, Speaker
from .keys import Name, Point, Strict, suggestion
from .raw import Gathered, Problem, Raw, Table, number, pair, table_in
from .speaker import SpeakerModel

if TYPE_CHECKING:
    from .root import ScenarioModel


class TogetherModel(Strict):
    """How several loudspeakers are aimed, and how their levels are summed."""

    aim: Literal["all at once", "one by one"] = Field(
        "all at once",
        description='"all at once" (default where several play): placements, gains and delays are '
        'chosen for the sum over all rows; "one by one": each for the rows it serves, then fills '
        "levelled at their handover rows",
    )

    without: list[Name] = Field(
        default_factory=list,
        description="Fills, and loudspeakers hung under others, that are left out; what one of "
        "them filled for, or hung under, takes over its rows and what filled for it",
    )

    sum: Literal["power", "coherent"] = Field(
        "power",
        description='"power" (default), or "coherent": with the relative phase that path and delay '
        "bring, averaged over each band",
    )


class TimeModel(Strict):
    """What arrivals are counted from."""

    reference: Point = Field(description="[x, z] on stage where the sound starts from, at time 0")


# Loudspeakers that are left out.


def without_rules(raw: Raw) -> Iterator[Problem]:
    """Left out are loudspeakers of the file that the others can do without."""
    tables = [one for _, one in raw.tables("speaker")]
    named = {name: one for one in tables if isinstance(name := one.get("name"), str)}
    without = table_in(raw.document, "together").get("without")
    given = [(n, of) for n, of in enumerate(without if isinstance(without, list) else [])]
    out = [of for _, of in given if isinstance(of, str)]
    for n, name in given:
        path = ("together", "without", n)
        if not isinstance(name, str):
            continue
        if name not in named:
            yield path, f"no loudspeaker {found_text(name)}; {suggestion(name, list(named))}"
        elif not {"fills", "hung_under"} & set(named[name]):
            yield (
                path,
                f"{found_text(name)}, which fills for none and hangs under none; name a fill",
            )
        for below in tables:
            if below.get("hung_under") == name and below.get("name") not in out:
                yield (
                    path,
                    f"{found_text(name)} alone; name {found_text(below.get('name'))} with it",
                )


def playing(model: "ScenarioModel") -> list[tuple[int, SpeakerModel]]:
    """The loudspeakers that are not left out, with their places in the file.

    What one that is left out filled for, or hung under, takes over its rows and its fills.
    """
    out = set(model.together.without)
    heir = {table.name: table.fills or table.hung_under for table in model.speaker}

    def playing_heir(name: str | None) -> str | None:
        while name in out:
            name = heir[name]
        return name

    serves = {table.name: table.serves for table in model.speaker}
    for table in model.speaker:
        to = playing_heir(table.name)
        if table.name in out and to is not None:
            own, more = serves[to], table.serves
            serves[to] = None if own is None or more is None else [*own, *more]
    return [
        (
            index,
            table.model_copy(
                update={"fills": playing_heir(table.fills), "serves": serves[table.name]}
            ),
        )
        for index, table in enumerate(model.speaker)
        if table.name not in out
    ]


# Loudspeakers that go with others: fills and their mains, boxes hung under boxes.

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
                    yield (*path, one), f"{one} without {key}; give both, or none"
        if speaker.get("hung_under") is None:
            if "placement" not in speaker:
                yield (*path, "placement"), "missing; say where it may hang"
        else:
            yield from _hung(path, speaker, named)


def _names(path: Path, speaker: Table, key: str, named: dict[str, Table]) -> Iterator[Problem]:
    """A reference to another loudspeaker, which does not lead back to this one."""
    own, other = speaker.get("name"), speaker.get(key)
    if not isinstance(other, str):
        return
    if other == own:
        yield path, f"{found_text(other)}, itself; must be another loudspeaker"
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
            yield path, f"{shown} again; the last of a chain must be a main that fills nothing"


def _hung(path: Path, speaker: Table, named: dict[str, Table]) -> Iterator[Problem]:
    own = speaker.get("name") == speaker.get("hung_under")
    above = {} if own else named.get(str(speaker.get("hung_under")), {})
    for key in OF_HUNG:
        if speaker.get(key) is None:
            yield (*path, key), f"missing; give {key} too, as hung_under is given"
    if speaker.get("fills") is not None:
        yield (
            (*path, "fills"),
            "fills beside hung_under; give one of them: what hangs under another is aimed with it",
        )
    splay = speaker.get("splay")
    if isinstance(splay, list) and len(splay) == 2:
        low, high = number(splay[0]), number(splay[1])
        if low is not None and high is not None and low > high:
            yield (
                (*path, "splay"),
                f"[{low:g}, {high:g}]; must be [low, high], with low not above high",
            )
    placement = table_in(speaker, "placement")
    for key in _NOT_HUNG:
        if placement.get(key) is not None:
            yield (
                (*path, "placement", key),
                f"{key} beside hung_under; leave it out, its place follows from the one above",
            )
    if placement.get("orientation") == "either":
        yield (
            (*path, "placement", "orientation"),
            '"either" beside hung_under; must be "upright" or "flipped"',
        )
    if placement.get("mount", "flown") != "flown":
        yield (*path, "placement", "mount"), '"stacked" beside hung_under; must be "flown"'
    if speaker.get("rigging") is not None:
        yield (
            (*path, "rigging"),
            "rigging beside hung_under; leave it out, it is held by the loudspeaker above",
        )
    if above.get("hung_under") is not None:
        shown = found_text(speaker.get("hung_under"))
        yield (
            (*path, "hung_under"),
            f"{shown}, which hangs under another itself; must be one that does not",
        )
    if table_in(above, "placement").get("mount", "flown") != "flown":
        yield (
            (*path, "hung_under"),
            f"{found_text(above.get('name'))}, which stands; must be a flown one",
        )
    for orientation in ("upright", "flipped"):
        if table_in(table_in(above, "rigging"), orientation).get("below") is not None:
            yield (
                (*path, "hung_under"),
                f"the rigging of {found_text(above.get('name'))} has a second box below already; "
                "give one of the two",
            )
            break
    twins = [
        name for name, one in named.items() if one.get("hung_under") == above.get("name") and above
    ]
    if len(twins) > 1 and speaker.get("name") == twins[-1]:
        yield (
            (*path, "hung_under"),
            f"{found_text(above.get('name'))} again; only one box may hang under another",
        )


# Who goes with whom: fills with their handover rows, boxes hung under boxes.

_TURN_DEG = tuple(float(tilt) for tilt in range(-90, 91))


def build_company(model: "ScenarioModel", rows: Rows, gathered: Gathered) -> Company:
    """Fills, hung boxes, the sum and the time; a handover that is no row is a fault."""
    fills: dict[str, Fill] = {}
    tables = playing(model)
    for index, table in tables:
        if table.fills is None:
            continue
        handover = None
        if table.handover is not None:
            handover = _handover_row(table, model, rows, ("speaker", index, "handover"), gathered)
        fills[table.name] = Fill(
            main=table.fills,
            handover_row=handover,
            behind_ms=BEHIND_MS if table.behind_ms is None else table.behind_ms,
            ceiling_db=CEILING_DB if table.ceiling_db is None else table.ceiling_db,
            gain_given=isinstance(table.gain_db, float) and "gain_db" in table.model_fields_set,
            delay_given="delay_ms" in table.model_fields_set,
        )
    return Company(
        fills=fills,
        hung_under={
            table.name: held for _, table in tables if (held := hung_under(table)) is not None
        },
        coherent=model.together.sum == "coherent",
        all_at_once=model.together.aim == "all at once",
        gain_range_db={
            table.name: (table.gain_db[0], table.gain_db[1])
            for _, table in tables
            if isinstance(table.gain_db, list)
        },
        reference_m=None if model.time is None else pair(model.time.reference),
    )


def hung_under(table: SpeakerModel) -> HungUnder | None:
    """How a loudspeaker is fixed under another; None where it is not."""
    joint, own_joint, splay = pair(table.joint), pair(table.own_joint), table.splay
    if table.hung_under is None or joint is None or own_joint is None or splay is None:
        return None
    splay_deg = (splay[0], splay[1]) if isinstance(splay, list) else (splay, splay)
    return HungUnder(table.hung_under, joint, own_joint, splay_deg)


def hung_within(speakers: list[Speaker], company: Company) -> tuple[Speaker, ...]:
    """The loudspeakers, those that hang under others with the ranges that follow for them."""
    by_name = {one.name: one for one in speakers}
    return tuple(
        _hanging(one, held, by_name[held.above])
        if (held := company.hung_under.get(one.name)) is not None
        else one
        for one in speakers
    )


def _hanging(speaker: Speaker, held: HungUnder, above: Speaker) -> Speaker:
    hang, reach = above.hang, held.reach_m
    low, high = hang.vertical_m
    if hang.vertical == "trim":
        turns = [name == "flipped" for name in hang.orientations]
        drops = [drop_m(above.cabinet, tilt_deg=_TURN_DEG, flipped=turn) for turn in turns]
        low += min(float(drop.min()) for drop in drops)
        high += max(float(drop.max()) for drop in drops)
    return replace(
        speaker,
        hang=Hang(
            mount="flown",
            x_m=(hang.x_m[0] - reach, hang.x_m[1] + reach),
            vertical="height",
            vertical_m=(low - reach, high + reach),
            tilt_deg=_splayed(hang.tilt_deg, held.splay_deg),
            orientations=speaker.hang.orientations,
        ),
    )


def _splayed(tilt_deg: Range, splay_deg: Range) -> Range:
    return tilt_deg[0] - splay_deg[1], tilt_deg[1] - splay_deg[0]


def _handover_row(
    table: SpeakerModel, model: "ScenarioModel", rows: Rows, path: Path, gathered: Gathered
) -> int | None:
    """The row that a handover names: of its own seatings first, then of any."""
    wanted = table.handover or ""
    seatings = rows.seatings
    named = next((n for n, one in enumerate(seatings) if one.name == wanted), None)
    if named is not None:
        return _first_towards(rows, named, _main_x_m(table, model))
    labels = [
        f"{name} of {seatings[of].name}" for name, of in zip(rows.names, rows.seating, strict=True)
    ]
    found = [row for row, label in enumerate(labels) if label == wanted]
    if not found:
        found = [row for row, name in enumerate(rows.names) if name == wanted]
    own = [row for row in found if _serves(table, seatings[rows.seating[row]])]
    found = own or found
    if len(found) == 1:
        return found[0]
    if found:
        several = " and ".join(found_text(labels[row]) for row in found[:3])
        gathered.problems.append((path, f"{found_text(wanted)} is {several}; name one of them"))
    else:
        gathered.problems.append(
            (
                path,
                f"no row or seating {found_text(wanted)}; must be named as {found_text(labels[0])}",
            )
        )
    return None


def _serves(table: SpeakerModel, seating: Seating) -> bool:
    return table.serves is None or seating.name in table.serves


def _main_x_m(table: SpeakerModel, model: "ScenarioModel") -> float:
    """Middle of the main's range of x."""
    main = next(one for one in model.speaker if one.name == table.fills)
    x = main.placement.x
    return 0.5 * (x[0] + x[1]) if isinstance(x, list) else x


def _first_towards(rows: Rows, seating: int, x_m: float) -> int:
    """The row of a seating at its end towards x."""
    own = rows.of((seating,))
    return int(min(own, key=lambda row: abs(float(rows.x_m[row]) - x_m)))
