"""Changes and axes of the command line: KEY=VALUE and KEY=LOW:HIGH:STEP."""

import json
from functools import lru_cache
from math import prod
from pathlib import Path
from random import Random
from typing import Any

from .case import Case, Kind, Options
from .texts import WORDS, broken_text, number_text

PLAN = "plan.toml"
MOST_CANDIDATES = 200
"""A larger sweep takes long and is no other."""
_SETS = (
    "speaker.main.placement.height=6.5", "speaker.main.placement.tilt=[-30, 10]", "units=ft",
    "speaker.main.placement={ height = 5, tilt = -10 }", 'seating.yard.ears="standing"',
    "seating.yard.line=[[4, 0], [20, 2]]", "speaker.main.pattern.coverage={ above = 9, below = 9 }",
    "aim.bands=[1000, 2000]", "speaker.main.eq_db.1000=2", 'speaker."main".cabinet.mass_kg=30',
    "speaker.0.placement.trim=5", "air.temperature_c=30", "title=a title", "seating.yard.rows=12",
    "speaker.main.placement.mount=stacked", "speaker.main.pattern.lobe=piston", "aim={}",
    "speaker.main.cabinet.outline.2.1=0.4", "datum.name='kerb stone'",
)  # fmt: skip
_OVERS = (
    "speaker.main.placement.tilt=-30:0:10", "speaker.main.placement.height=5,6,7",
    "speaker.main.pattern.coverage=40,50,60", "air.humidity_percent=20:80:30",
    "speaker.main.placement.height=5 m:7 m:50 cm", "seating.yard.ears=seated,standing",
    "speaker.main.placement.orientation=upright,upright", "aim.bands=[1000],[2000, 4000]",
    "speaker.main.placement.x=-1:1:0.5", "speaker.main.gain_db=0:6:3",
)  # fmt: skip


def _broken(expression: str, chance: Random) -> str:
    way = chance.random()
    key, _, value = expression.partition("=")
    if way < 0.1:
        return expression
    if way < 0.35:
        return f"{key}={number_text(chance)}"
    if way < 0.5:
        return f"{key}={chance.choice(WORDS)}"
    if way < 0.6:
        return f"{key}={chance.choice(_SETS + _OVERS).partition('=')[2]}"
    if way < 0.7:
        return f"{key}.{chance.choice((*WORDS, '0', '-1', 'name', 'main'))}={value}"
    return broken_text(expression, chance)


def make(chance: Random) -> Case:
    """One to three changes and at most two axes; the first is broken, the others may be."""
    sets = [_broken(chance.choice(_SETS), chance) for _ in range(chance.choice((0, 1, 1, 2, 3)))]
    overs = [_broken(chance.choice(_OVERS), chance) for _ in range(chance.choice((0, 0, 1, 2)))]
    text = json.dumps({"set": sets, "over": overs}, indent=1)
    return Case(text.encode(), {})


def beside() -> dict[str, bytes]:
    """The scenario that is changed: a placement without ranges."""
    from onsite_scenes import SCENARIO

    return {PLAN: SCENARIO.encode()}


@lru_cache
def _loaded(folder: Path) -> Any:
    import aiming

    return aiming.load(folder / PLAN)


def read(path: Path, _options: Options) -> None:
    """As `aiming solve --set` and `aiming what-if --over` do."""
    import aiming
    from aiming.scenario import parse_set
    from aiming.sweep.axes import axes_of, parse_over
    from aiming.sweep.run import what_if

    given = json.loads(path.read_text(encoding="utf-8"))
    changes = dict(parse_set(text) for text in given["set"])
    scenario = aiming.load(path.with_name(PLAN), changes=changes)
    over = parse_over(given["over"], unit=scenario.units)
    if not over:
        if len(scenario.rows) <= MOST_CANDIDATES:
            aiming.solve(scenario)
        return
    axes = axes_of(over, unit=scenario.units)
    if prod(axis.count for axis in axes) <= MOST_CANDIDATES:
        what_if(scenario, over)


KIND = Kind("changes", ".json", make, read, beside)
