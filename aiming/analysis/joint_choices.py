"""The decision about all loudspeakers with its alternatives, each chosen for the whole anew.

As for one alone (choices.py): a choice changes keys of the file, and solving with them gives its
figures.  It is looked for from what was taken and from a few places besides, and nothing of it is
proven: what only a proof finds better is not in it.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np

from ..base.errors import ScenarioError
from ..base.units import FOOT_M
from ..results.answer import Answer, RowsAnswer, SpeakerAnswer, Together
from ..results.choices import MOST_PRINTED, Choice, ChoiceKind, Setting
from ..results.serialise import known
from ..scenario.keys import quoted
from ..scenario.read import rebuilt
from ..scenario.scenario import Scenario
from .choices import LEAST_WORTH, SAME_DB, SAME_M, has_room, more, net, ordered
from .fill_alignment import as_answered
from .front_rows import most_left
from .problems import judged_rows
from .solve import Chosen, NoPlacementError, heard_when_chosen
from .together import NamedSetting

_COUNTS = (1, 2)
"""Front rows that are tried to be left to a fill: each takes a search."""
_LEFT = "aim.left_to_fill"
_USELESS = ("fill-useless-place", "fill-not-needed")
_ALONG = (-0.25, 0.0, 0.25, 0.5)
"""Places that are tried for a useless fill, as shares of the way over its rows."""
_ALWAYS: tuple[ChoiceKind, ...] = ("one by one", "fill")
"""Kinds that are told though they bring nothing: that is what one wants to know of them."""


@dataclass(frozen=True)
class _Asked:
    """One decision: the keys that it sets.

    anew: the loudspeakers of which it changes what is best for each alone; None for all
    """

    name: str
    kind: ChoiceKind
    set: dict[str, Setting]
    anew: tuple[str, ...] | None = ()


def choices_of_all(answer: Answer, alone: Mapping[str, Chosen]) -> tuple[Choice, ...]:
    """What is taken first, then what differs most; empty where each is aimed by itself.

    alone: every loudspeaker as it is best on its own rows, by name
    """
    scenario, together = answer.scenario, answer.together
    if together is None or len(answer.speakers) < 2 or not scenario.company.all_at_once:
        return ()
    start = NamedSetting(
        {one.name: one.placement for one in answer.speakers},
        {one.name: one.gain_db for one in answer.speakers},
    )
    softest_db = _softest_db(as_answered(answer), answer.rows)
    taken = _choice(_Asked("as taken", "taken", {}), together, softest_db=0.0)

    def chosen(asked: _Asked) -> Choice | None:
        anew = alone if asked.anew is None else asked.anew
        still = {name: one for name, one in alone.items() if name not in anew}
        try:
            changed = _same_house(rebuilt(scenario, asked.set), scenario)
            rows, whole = heard_when_chosen(changed, start, still)
        except (NoPlacementError, ScenarioError):
            return None
        softer = _softest_db(changed, rows) - softest_db
        choice = _choice(asked, whole, softest_db=known(softer))
        return replace(choice, costs=_costs(choice, taken))

    found = []
    for several in _asked(answer):
        solved = [choice for asked in several if (choice := chosen(asked)) is not None]
        best = max(solved, key=lambda choice: net(choice, taken), default=None)
        if best is not None and (best.kind in _ALWAYS or best.worth(taken) > LEAST_WORTH):
            found.append(best)
    return (taken, *ordered(found, taken)[: MOST_PRINTED - 1])


def _same_house(changed: Scenario, scenario: Scenario) -> Scenario:
    """With the seats and walls as they were: no choice moves them, and what they hide is known."""
    return replace(
        changed, seatings=scenario.seatings, surfaces=scenario.surfaces, rows=scenario.rows
    )


def _asked(answer: Answer) -> Iterator[tuple[_Asked, ...]]:
    """Every other decision; of several in one the best stands for all."""
    scenario = answer.scenario
    if answer.together is not None and answer.together.proof is not None:
        yield (_Asked("aimed one by one", "one by one", {"together.aim": "one by one"}),)
    yield from _left_out(scenario)
    yield from _front_rows(answer)
    if scenario.aim.axis_on_audience and not scenario.aim.axis_on_any:
        key: dict[str, Setting] = {"aim.axis_on_audience": "any"}
        yield (_Asked("axis on any seating", "axis", key, anew=None),)
    for one in answer.speakers:
        if one.name in scenario.company.fills:
            yield (*_moved(scenario, one), *_elsewhere(answer, one))


def _left_out(scenario: Scenario) -> Iterator[tuple[_Asked, ...]]:
    """Without each fill, and with each that the file leaves out."""
    document, company = scenario.document, scenario.company
    out: list[str] = list(document.get("together", {}).get("without", []))
    above = {one["name"]: one.get("hung_under") for one in document["speaker"]}
    for name in out:
        if above[name] not in out:
            rest: list[str] = [other for other in out if other != name]
            yield (_Asked(f"with {name}", "fill", {"together.without": rest}, anew=None),)
    for name in (one.name for one in scenario.speakers):
        if name in company.fills or name in company.hung_under:
            below = company.under(name)
            less = [*out, name, *([] if below is None else [below])]
            # It takes over the rows of what is gone.
            heir = above[name] or company.fills[name].main
            yield (_Asked(f"without {name}", "fill", {"together.without": less}, anew=(heir,)),)


def _front_rows(answer: Answer) -> Iterator[tuple[_Asked, ...]]:
    """Front rows left to a fill: a few, or none where some are left already."""
    scenario = answer.scenario
    mains = [one for one in scenario.speakers if len(scenario.front_rows(one.name))]
    most = min((most_left(scenario, one) for one in mains), default=0)
    if scenario.aim.left_to_fill:
        key: dict[str, Setting] = {_LEFT: 0}
        yield (_Asked("no front row left to a fill", "front rows", key, anew=None),)
    yield tuple(
        _Asked(
            f"{count} front row{'s' * (count > 1)} left to a fill",
            "front rows",
            {_LEFT: count},
            anew=tuple(one.name for one in mains),
        )
        for count in _COUNTS
        if count <= most and count != scenario.aim.left_to_fill
    )


def _moved(scenario: Scenario, one: SpeakerAnswer) -> Iterator[_Asked]:
    """A metre (3 ft) nearer to the stage or further away, where a given place leaves that open."""
    speaker = scenario.speaker(one.name)
    low, high = speaker.hang.x_m
    unit_m, step, places = (FOOT_M, 3.0, 1) if scenario.units == "ft" else (1.0, 1.0, 2)
    for sign, word in ((-1.0, "nearer to the stage"), (1.0, "further out")):
        end = low if sign < 0.0 else high
        if abs(one.x_m - end) > SAME_M:
            continue  # the range had room there already
        there = round(end / unit_m + sign * step, places)
        if has_room(scenario, speaker, one.placement, along_m=there * unit_m - one.x_m):
            yield _Asked(
                f"{one.name} {step:g} {scenario.units} {word}",
                "place",
                {f"speaker.{quoted(one.name)}.placement.x": there},
                anew=(one.name,),
            )


def _elsewhere(answer: Answer, one: SpeakerAnswer) -> Iterator[_Asked]:
    """Places before and over its rows, of a fill whose own place makes it useless."""
    scenario = answer.scenario
    if not any(of.code in _USELESS and of.speaker == one.name for of in answer.cautions):
        return
    unit = scenario.units
    unit_m, speaker = FOOT_M if unit == "ft" else 1.0, scenario.speaker(one.name)
    x_m = scenario.rows.x_m[scenario.rows.of(speaker.serves)]
    for share in _ALONG:
        there = round((x_m.min() + share * np.ptp(x_m)) / unit_m)
        if has_room(scenario, speaker, one.placement, along_m=there * unit_m - one.x_m):
            yield _Asked(
                f"{one.name} at {there} {unit}",
                "place",
                {f"speaker.{quoted(one.name)}.placement.x": there},
                anew=(one.name,),
            )


def _choice(asked: _Asked, whole: Together, *, softest_db: float | None) -> Choice:
    return Choice(
        name=asked.name,
        kind=asked.kind,
        speaker=None,
        set=asked.set,
        orientation=None,
        tilt_deg=None,
        x_m=None,
        height_m=None,
        spread_db=whole.spread_db,
        rows_within_3db_percent=whole.rows_within_3db_percent,
        softest_db=softest_db,
    )


def _softest_db(scenario: Scenario, rows: RowsAnswer) -> float:
    """The softest of the rows that all are judged on."""
    return float(rows.design_level_db[judged_rows(scenario)].min())


def _costs(choice: Choice, taken: Choice) -> tuple[str, ...]:
    """In what respects a choice is worse than what is taken, and what of the file it leaves."""
    given_up = (
        ("front rows", choice.kind == "front rows"),
        ("axis off its rows", choice.kind == "axis"),
        ("loudspeakers", choice.kind == "fill"),
        ("range", choice.kind == "place"),
        ("spread", more(choice.spread_db, taken.spread_db, SAME_DB)),
        ("rows within 3 dB", more(taken.rows_within_3db_percent, choice.rows_within_3db_percent)),
        ("softest row", more(taken.softest_db, choice.softest_db, SAME_DB)),
    )
    return tuple(name for name, so in given_up if so)
