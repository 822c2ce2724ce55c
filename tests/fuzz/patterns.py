"""Pattern tables: read as `aiming pattern` and as a scenario reads them."""

from functools import lru_cache
from pathlib import Path
from random import Random

from .case import Case, Kind, Options
from .scenarios import SHIPPED, VALID
from .tables import table_case

_WIDTHS = (None, None, "octave", "third")
_BANDS = (
    None,
    None,
    None,
    None,
    (1000.0,),
    (1000.0, 2000.0, 4000.0, 8000.0),
    (500.0, 630.0, 800.0),
    (31.5,),
)
_SMALL = (
    "angle_deg,500,1000,2000,4000,8000\n-20,-3,-4,-5,-6,-7\n-10,-0.4,-1.1,-2,-2,-2\n0,0,0,0,0,0\n"
    "10,-0.3,-0.9,-1.8,-2,-2.5\n20,-2,-3,-4,-5,-6\n",
    "# counted upwards\nangle,1000,2000\n0,80,81\n90,70,\n180,60,60\n270,69,68\n350,79,80\n",
    "angle_deg,1000\n-180,-20\n0,0\n180,-20\n",
)


@lru_cache
def _good() -> tuple[str, ...]:
    horn = (SHIPPED / "patterns" / "invented_horn_60.csv").read_text(encoding="utf-8").split("\n")
    few = [line for k, line in enumerate(horn) if k < 3 or k % 6 == 3]
    box = (VALID / "patterns" / "box.csv").read_text(encoding="utf-8")
    return (*_SMALL, box, "\n".join(few))


def options_of(chance: Random) -> Options:
    """How the pattern is asked for."""
    return {"width": chance.choice(_WIDTHS), "bands_hz": chance.choice(_BANDS)}


def make(chance: Random) -> Case:
    """One of a few tables, broken."""
    return table_case(chance.choice(_good()), options_of(chance), chance)


def read(path: Path, options: Options) -> None:
    """As `aiming pattern` does, with both kinds of output."""
    from aiming.report.json_text import json_text
    from aiming.report.text.pattern import pattern_text
    from aiming.scenario.pattern_report import pattern_report

    report = pattern_report(path, display=path.name, **options)
    json_text(report.to_dict())
    pattern_text(report).encode()


KIND = Kind("pattern", ".csv", make, read)
