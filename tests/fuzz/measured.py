"""What was measured on site: levels, traces, places and readings, held against one plan."""

from functools import lru_cache
from pathlib import Path
from random import Random
from typing import Any

from .case import Case, Kind, Options
from .tables import table_case

PLAN = "plan.toml"
_TABLE = "good.csv"
_LEVELS = {1: (1.0, 0.5, 0.2, -2.0), 5: (2.0, 1.5, 1.0, 0.5), 9: (1.2, 1.6, 2.0, 2.1),
           13: (0.3, 0.7, 1.1, 0.9), 17: (-1.0, -0.8, -0.9, -3.0)}  # fmt: skip
_BANDS_HZ = (1000, 2000, 4000, 8000)


@lru_cache
def _good() -> dict[str, tuple[str, ...]]:
    """Sound files, by what they are handed over as."""
    head = "position,frequency_hz,level_db"
    rows = [
        f"{row},{band},{80.0 + level:.2f}"
        for row, levels in _LEVELS.items()
        for band, level in zip(_BANDS_HZ, levels, strict=True)
    ]
    coherent = [f"{row},0.9{k % 10}" for k, row in enumerate(rows)]
    trace = [f"{20.0 * 2 ** (k / 6):.2f},{80 - k / 8:.2f},{k * 7 % 360 - 180}" for k in range(60)]
    return {
        "measured": (
            "\n".join([head, *rows]) + "\n",
            "\n".join(["# by octave", f"{head},coherence", *coherent]) + "\n",
        ),
        "at": (
            "\n".join(["* exported", "frequency,magnitude,phase", *trace]) + "\n",
            "\n".join(f"{line.rsplit(',', 1)[0]},0.9" for line in trace) + "\n",
        ),
        "places": (
            "position,x,z\naisle,12,2.1\n3,9,1.6\n",
            "position,x_ft,z_ft,microphone\naisle,40,7,stand\n",
        ),
        "readings": (
            "reading,at,value,plus_minus\ninclinometer,reference face,-12.5,0.3\n"
            "laser,floor,14.20 m,100 mm\nload,front,152 N,3 %\nload,rear,290 N,\n"
            "height,acoustic centre,6.02 m,20 mm\n",
            "reading,at,value\nheight,lowest point,5.6\ninclinometer,axis,nose down 15\n",
        ),
    }


def make(chance: Random) -> Case:
    """One file of one of the four sorts, broken."""
    sort = chance.choice(("measured", "measured", "measured", "at", "places", "readings"))
    options = {"sort": sort, "magnitude": chance.choice((None, None, None, "db", "linear"))}
    return table_case(chance.choice(_good()[sort]), options, chance)


def beside() -> dict[str, bytes]:
    """The plan, and levels to go with the other sorts."""
    from onsite_scenes import SCENARIO

    table = _good()["measured"][0].replace("\n17,", "\naisle,")
    return {PLAN: SCENARIO.encode(), _TABLE: table.encode()}


@lru_cache
def _plan(folder: Path) -> tuple[Any, Any]:
    import aiming

    scenario = aiming.load(folder / PLAN)
    return scenario, aiming.solve(scenario)


def read(path: Path, options: Options) -> None:
    """As `aiming onsite` does, with both kinds of output; the plan is solved once."""
    from aiming.report.json_text import json_text
    from aiming.report.text.onsite import onsite_text
    from aiming.site.run import onsite

    scenario, answer = _plan(path.parent.resolve())
    sort = options.get("sort", "measured")
    given: dict[str, Any] = {sort: path}
    if sort == "places":
        given["measured"] = path.with_name(_TABLE)
    elif sort == "at":
        given["at"] = {"3": path, "7": path}
    found = onsite(scenario, answer=answer, magnitude=options.get("magnitude"), **given)
    json_text(found.to_dict())
    onsite_text(scenario, found).encode()


KIND = Kind("measured", ".csv", make, read, beside)
