"""The decision with its alternatives side by side, each solved and proven like the answer itself.

A choice changes keys of the file, and solving with them gives exactly its figures.  None is better
in every respect than the answer: within the file's rules and ranges the answer has the least
objective of all places that are no higher, to its gap; every other choice breaks a rule, leaves
rows out or asks for something else, and says so in `costs`.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import zip_longest
from math import isfinite

import numpy as np

from ..aim import measures
from ..aim.energy import seating_share_percent
from ..aim.problem import Problem
from ..base.units import FOOT_M
from ..field.walls import walls_of
from ..geometry.section import elevation_deg
from ..geometry.sight_lines import crossed
from ..results.answer import Answer, SpeakerAnswer
from ..results.choices import WORTH_DB, Choice, ChoiceKind, Setting
from ..results.serialise import known
from ..scenario.keys import quoted
from ..scenario.pattern import lobe_of, with_coverage
from ..scenario.scenario import Scenario
from ..speaker.speaker import Hang, Orientation, Placement, Speaker
from .clearances import collided, outline_at_m
from .fill_alignment import as_answered
from .front_rows import KNEE_DB, scan_front_rows
from .problems import fixed, left_count, only_placement, searched_problem_of
from .solve import NoPlacementError, solve_problem
from .tolerance import worst_db

LEAST_WORTH = 0.2
"""Of that: another box is named from here up."""
SAME_DB, SAME_M, SAME_DEG = 0.05, 0.02, 0.1
"""A choice that differs by no more than this is the other one again."""
COVERAGES_DEG = (20, 25, 30, 35, 40, 45, 50, 55, 60, 70, 80, 90, 100, 120)
"""Vertical coverage angles that boxes are built with; our own list, round figures."""
_STEP_DEG = 1.0
_ASIDE: tuple[ChoiceKind, ...] = ("height", "coverage", "place")
"""Kinds that ask for another hang or box: behind those that are decided at the desk."""


@dataclass(frozen=True, eq=False)
class _Asked:
    """One decision to be solved: the keys it sets, and the scenario that they make.

    placement: what it comes to, where that is known already
    """

    name: str
    kind: ChoiceKind
    set: dict[str, Setting]
    scenario: Scenario
    placement: Placement | None = None


def choices_of(answer: Answer) -> tuple[Choice, ...]:
    """The answer first, then what differs most, each kind once before any comes again.

    With several loudspeakers each is looked at alone, over the rows that it serves; where they are
    aimed all at once, what one of them would do alone is no choice: only what is taken stands.
    """
    scenario = as_answered(answer)
    each = [_of_speaker(scenario, answer, one) for one in answer.speakers if one.hung_under is None]
    # Those of all loudspeakers in turn, so that the first few are about each of them.
    turns = zip_longest(*each)
    return tuple(choice for turn in turns for choice in turn if choice is not None)


def _of_speaker(scenario: Scenario, answer: Answer, one: SpeakerAnswer) -> list[Choice]:
    speaker = answer.scenario.speaker(one.name)
    problem = searched_problem_of(scenario, speaker)
    taken = _choice(_Asked("as taken", "taken", {}, scenario), speaker, problem, one.placement)
    if one.tolerance is not None and scenario.aim.at_worst:
        taken = replace(taken, worst_db=one.tolerance.worst_db)
    if scenario.company.all_at_once and len(answer.speakers) > 1:
        return [taken]
    front = _front_choices(answer.scenario, one, taken)
    others = [
        choice
        for asked in _asked(answer.scenario, one, problem)
        if (choice := _solved(asked, one, taken, answer.scenario)) is not None
    ]
    return [taken, *ordered(_told_apart(front + others, taken), taken)]


def _front_choices(scenario: Scenario, one: SpeakerAnswer, taken: Choice) -> list[Choice]:
    """Front rows left to a fill, one, two, and up to where more gains little."""
    speaker = scenario.speaker(one.name)
    counts = _worth_solving(scenario, speaker, one, taken)
    solved = (_solved(asked, one, taken, scenario) for asked in _front_rows(scenario, counts))
    return [choice for choice in solved if choice is not None]


def _worth_solving(
    scenario: Scenario, speaker: Speaker, one: SpeakerAnswer, taken: Choice
) -> list[int]:
    """How many rows to leave: one, two, and what a scan of the ranges finds to be worth most.

    Of the rows each is charged KNEE_DB; where that leaves nothing that is worth a look, the fewest
    that are.
    """
    now = left_count(scenario, speaker.name)
    scanned = {
        count: replace(taken, spread_db=spread, rows_within_3db_percent=rows)
        for count, (spread, rows) in scan_front_rows(scenario, speaker, one.orientation).items()
        if count != now
    }
    if not scanned:
        return []
    sought = max(scanned, key=lambda count: net(scanned[count], taken, count))
    if scanned[sought].worth(taken) < 1.0:
        sought = next((n for n, of in scanned.items() if of.worth(taken) >= 1.0), sought)
    return sorted({0, 1, 2, sought} & {count for count in scanned if count <= sought})


def _asked(scenario: Scenario, one: SpeakerAnswer, problem: Problem) -> Iterator[_Asked]:
    """Every other decision about one loudspeaker, but those about front rows."""
    speaker = scenario.speaker(one.name)
    aim, open_ = scenario.aim, not fixed(problem)
    best = one.best
    if best is not None and aim.lower_if_within_db > 0.0:
        at = Placement(best.x_m, best.height_m, best.tilt_deg, best.orientation == "flipped")
        yield _Asked(
            "best in the ranges",
            "best",
            {"aim.lower_if_within_db": 0},
            replace(scenario, aim=replace(aim, lower_if_within_db=0.0)),
            at if problem.under is None else None,  # its splay would be missing
        )
    if aim.axis_on_audience and open_:
        yield _Asked(
            "axis off the audience",
            "axis",
            {"aim.axis_on_audience": False},
            replace(scenario, aim=replace(aim, axis_on_audience=False)),
        )
    if aim.objective != "deviation" and open_:
        yield _Asked(
            "least deviation",
            "evenest",
            {"aim.objective": "deviation", "aim.lower_if_within_db": 0},
            replace(scenario, aim=replace(aim, objective="deviation", lower_if_within_db=0.0)),
        )
    key = f"speaker.{quoted(one.name)}"
    yield from _turned(scenario, speaker, one, key)
    yield from _heights(scenario, speaker, one, problem, key)
    if problem.hang.tilt_deg[0] == problem.hang.tilt_deg[1]:
        yield _Asked(
            "best tilt here",
            "tilt",
            {f"{key}.placement.tilt": [-90.0, 90.0]},
            _hung(scenario, speaker, replace(speaker.hang, tilt_deg=(-90.0, 90.0))),
        )
    yield from _coverage(scenario, speaker, one, problem, key)


def _front_rows(scenario: Scenario, counts: list[int]) -> Iterator[_Asked]:
    """So many front rows left to a fill."""
    for count in counts:
        rows = "row" if count == 1 else "rows"
        yield _Asked(
            f"{count} front {rows} left to a fill" if count else "no front row left to a fill",
            "front rows",
            {"aim.left_to_fill": count},
            replace(scenario, left_to_fill={}, aim=replace(scenario.aim, left_to_fill=count)),
        )


def _turned(scenario: Scenario, speaker: Speaker, one: SpeakerAnswer, key: str) -> Iterator[_Asked]:
    other: Orientation = "upright" if one.orientation == "flipped" else "flipped"
    declared = scenario.rigging.get(one.name, {})
    if speaker.pattern.symmetric or (declared and other not in declared):
        return
    yield _Asked(
        other,
        "turned",
        {f"{key}.placement.orientation": other},
        _hung(scenario, speaker, replace(speaker.hang, orientations=(other,))),
    )


def _heights(
    scenario: Scenario, speaker: Speaker, one: SpeakerAnswer, problem: Problem, key: str
) -> Iterator[_Asked]:
    """A metre (3 ft) higher and lower, in round figures, where a flown box has room."""
    hang = speaker.hang
    if hang.mount != "flown":
        return
    unit_m, step, places = (FOOT_M, 3.0, 1) if scenario.units == "ft" else (1.0, 1.0, 2)
    flipped = one.orientation == "flipped"
    now_m = one.height_m - float(problem.drop_m(one.tilt_deg, flipped))
    for change, word in ((step, "higher"), (-step, "lower")):
        there = round(now_m / unit_m + change, places)
        if not has_room(scenario, speaker, one.placement, there * unit_m - now_m):
            continue
        yield _Asked(
            f"{step:g} {scenario.units} {word}",
            "height",
            {f"{key}.placement.{hang.vertical}": there},
            _hung(scenario, speaker, replace(hang, vertical_m=(there * unit_m, there * unit_m))),
        )


def has_room(
    scenario: Scenario,
    speaker: Speaker,
    at: Placement,
    change_m: float = 0.0,
    *,
    along_m: float = 0.0,
) -> bool:
    """Whether a box can be moved up, or along the section, by this: nothing in its way, nor in it.

    What is in its way is a floor under it or a surface.
    """
    x_m = at.x_m + along_m
    moved = replace(at, x_m=x_m, height_m=at.height_m + change_m)
    outline = outline_at_m(speaker, moved)
    lowest = moved.height_m if outline is None else float(outline[:, 1].min())
    floors = [
        np.interp(x_m, of.floor_m[:, 0], of.floor_m[:, 1])
        for of in scenario.seatings
        if of.floor_m[0, 0] <= x_m <= of.floor_m[-1, 0]
    ]
    ground = min((float(of.floor_m[:, 1].min()) for of in scenario.seatings), default=0.0)
    beneath = [z for z in floors if z <= at.height_m]
    if lowest <= max(beneath, default=min(ground, 0.0)) + 0.3:
        return False
    if collided(scenario, outline):
        return False
    walls = walls_of(scenario.seatings, scenario.surfaces)
    start = np.array([[at.x_m, at.height_m]])
    end = np.array([[x_m, moved.height_m]])
    return not bool(crossed(start, end, walls.start_m, walls.end_m).any())


def _coverage(
    scenario: Scenario, speaker: Speaker, one: SpeakerAnswer, problem: Problem, key: str
) -> Iterator[_Asked]:
    """The round coverage angle that a scan of tilts at this place finds best, solved in full."""
    nominal = speaker.nominal
    if nominal is None or problem.under is not None:
        return
    own_deg = nominal.above_deg + nominal.below_deg
    low, high = problem.hang.tilt_deg
    tilts = np.arange(low, high + 1e-9, _STEP_DEG)
    spots = one.placement.varied(tilt_deg=tilts)
    # All other limits are the same for every pattern.
    spots = spots.pick(replace(problem, softest_db=None).allowed(spots))
    found: dict[float, float] = {}
    for angle in COVERAGES_DEG:
        pattern = lobe_of(with_coverage(nominal, angle), problem.pattern.band_hz)
        there = replace(problem, pattern=pattern)
        kept = spots.pick(there.allowed(spots))
        found[angle] = float(there.objective_db(kept).min(initial=np.inf))
    best = min(found, key=lambda angle: found[angle])
    if best == own_deg or not isfinite(found[best]):
        return
    other = with_coverage(nominal, best)
    box = replace(speaker, nominal=other, pattern=lobe_of(other, speaker.pattern.band_hz))
    yield _Asked(
        f"a box of {best:g}°",
        "coverage",
        {f"{key}.pattern.coverage": best},
        _with(scenario, box),
    )


def _hung(scenario: Scenario, speaker: Speaker, hang: Hang) -> Scenario:
    return _with(scenario, replace(speaker, hang=hang))


def _with(scenario: Scenario, changed: Speaker) -> Scenario:
    return replace(
        scenario,
        speakers=tuple(changed if one.name == changed.name else one for one in scenario.speakers),
    )


def _solved(asked: _Asked, one: SpeakerAnswer, taken: Choice, as_filed: Scenario) -> Choice | None:
    """The choice as the search finds it; None where no placement is allowed."""
    scenario, speaker = asked.scenario, asked.scenario.speaker(one.name)
    problem = searched_problem_of(scenario, speaker)
    if asked.placement is not None:
        place = asked.placement
    elif fixed(problem):
        place = only_placement(problem)
    else:
        try:
            found = solve_problem(scenario, problem, one.name, beyond=False)
        except NoPlacementError:
            return None
        assert found.taken.placement is not None
        place = found.taken.placement
    off = asked.kind == "axis" and not replace(problem, axis_on_audience=True).allowed(place)
    if asked.kind == "axis" and not off:
        return None
    choice = _choice(asked, speaker, problem, place)
    worst = worst_db(
        scenario, replace(problem, objective=as_filed.aim.objective), place, speaker.nominal
    )
    choice = replace(choice, worst_db=worst)
    hang = as_filed.speaker(one.name).hang
    return replace(choice, costs=_costs(choice, taken, hang, problem))


def _named(asked: _Asked, problem: Problem, place: Placement) -> str:
    if asked.kind != "axis":
        return asked.name
    x, z = problem.last_ears_m.T
    away = elevation_deg(np.abs(x - place.x_m), z - place.height_m)
    return "axis over the last row" if place.tilt_deg > away.max() else asked.name


def _choice(asked: _Asked, speaker: Speaker, problem: Problem, place: Placement) -> Choice:
    levels, weight = problem.levels_db(place), problem.rows.weight
    return Choice(
        name=_named(asked, problem, place),
        kind=asked.kind,
        speaker=speaker.name,
        set=dict(asked.set),
        orientation=place.orientation,
        tilt_deg=place.tilt_deg,
        x_m=place.x_m,
        height_m=place.height_m,
        spread_db=known(measures.spread_db(levels)),
        rows_within_3db_percent=known(measures.rows_within_percent(levels, weight)),
        deviation_db=known(measures.deviation_db(levels, weight)),
        softest_db=known(problem.softest_re_last_db(place)),
        misses_percent=known(100.0 - seating_share_percent(problem.pattern, problem.planes, place)),
    )


def _costs(choice: Choice, taken: Choice, hang: Hang, problem: Problem) -> tuple[str, ...]:
    """In what respects a choice is worse than the answer; hang: as the file has it."""
    tilt = choice.tilt_deg or 0.0
    vertical = (choice.height_m or 0.0) - float(
        problem.drop_m(tilt, choice.orientation == "flipped")
    )
    (low, high), (least, most) = hang.vertical_m, hang.tilt_deg
    outside = not (low - SAME_M <= vertical <= high + SAME_M and least <= tilt <= most)
    height = (choice.height_m or 0.0) > (taken.height_m or 0.0) + SAME_M
    given_up = (
        ("front rows", choice.kind == "front rows"),
        ("another box", choice.kind == "coverage"),
        ("axis off the audience", choice.kind == "axis"),
        ("orientation", choice.orientation not in hang.orientations),
        ("range", outside),
        ("height", height),
        ("spread", more(choice.spread_db, taken.spread_db, SAME_DB)),
        ("worst case", more(choice.worst_db, taken.worst_db, SAME_DB)),
        ("rows within 3 dB", more(taken.rows_within_3db_percent, choice.rows_within_3db_percent)),
        ("softest row", more(taken.softest_db, choice.softest_db, SAME_DB)),
        ("deviation", more(choice.deviation_db, taken.deviation_db, SAME_DB)),
        ("sound that misses", more(choice.misses_percent, taken.misses_percent)),
    )
    return tuple(name for name, so in given_up if so)


def more(one: float | None, other: float | None, by: float = 0.1) -> bool:
    return one is not None and other is not None and one > other + by


def _differs(choice: Choice, other: Choice) -> bool:
    """Whether it is another placement, or over other rows, or of another box."""
    if choice.kind == "front rows":
        return True
    return (
        choice.orientation != other.orientation
        or abs((choice.height_m or 0.0) - (other.height_m or 0.0)) > SAME_M
        or abs((choice.tilt_deg or 0.0) - (other.tilt_deg or 0.0)) > SAME_DEG
        or abs((choice.spread_db or 0.0) - (other.spread_db or 0.0)) > SAME_DB
    )


def _told_apart(choices: list[Choice], taken: Choice) -> list[Choice]:
    """Those that are worth their line: each placement once, a box only where it is better."""
    kept: list[Choice] = []
    for one in choices:
        better_box = one.kind != "coverage" or one.worth(taken) > LEAST_WORTH
        if better_box and all(_differs(one, other) for other in (taken, *kept)):
            kept.append(one)
    return kept


def net(choice: Choice, taken: Choice, left: int | None = None) -> float:
    """Its worth less what each front row that is left out should at least gain."""
    if left is None:
        given = choice.set.get("aim.left_to_fill", 0)
        left = given if isinstance(given, int) else 0
    return choice.worth(taken) - left * KNEE_DB / WORTH_DB


def ordered(choices: list[Choice], taken: Choice) -> list[Choice]:
    """One of each kind before any comes again; those worth a look first, then by difference."""
    first: list[Choice] = []
    rest: list[Choice] = []
    for kind in dict.fromkeys(one.kind for one in choices):
        group = sorted(
            (one for one in choices if one.kind == kind),
            key=lambda one: (one.worth(taken) < 1.0, -net(one, taken)),
        )
        first.append(group[0])
        rest += group[1:]

    def rank(one: Choice) -> tuple[bool, bool, float]:
        gain = one.worth(taken)
        return gain < 1.0, one.kind in _ASIDE, -abs(gain)

    return sorted(first, key=rank) + sorted(rest, key=rank)
