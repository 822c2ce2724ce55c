"""Surveys: lists of points and laser shots, read as a scenario reads them."""

from functools import lru_cache
from pathlib import Path
from random import Random

from .case import Case, Kind, Options
from .scenarios import SHIPPED, VALID
from .tables import table_case

_SMALL = (
    "x_m,z_m\n4.00,0.00\n9.50,0.62\n18.0,2.0\n",
    "x (ft),z (ft),line,note\n13,0,stalls,front\n30,2,stalls,\n40,12,tier,\n60,20,tier,back\n",
    "x,z\n4,0\n4,0.5\n3.99,1\n9,1\n",
    "station,instrument_height_m,point,distance_m,inclination_deg\nA,1.5,datum,3,-30\n"
    "A,,row A,5,-17\nA,,row F,9.5,-5\nA,,row K,14,-2\n",
    "station,station_x_m,station_z_m,instrument_height_m,point,line,distance_m,inclination_deg,"
    "target_height_m\nA,0,0,1.5,p,stalls,4,-20,0\nA,,,,q,stalls,9,-5,0.1\nA,,,,t,,9,5,\n"
    "B,,,1.4,t,,4,20,\nB,,,,r,stalls,4,-10,\nB,,,,q,stalls,2,-35,0.1\n",
)


@lru_cache
def _good() -> tuple[str, ...]:
    barn = (SHIPPED / "surveys" / "mill_barn.csv").read_text(encoding="utf-8")
    return (*_SMALL, (VALID / "survey.csv").read_text(encoding="utf-8"), barn, barn)


def make(chance: Random) -> Case:
    """One of a few surveys, broken; sometimes a line is asked for, or another unit."""
    options = {
        "unit": chance.choice(("m", "m", "ft", "mm")),
        "line": chance.choice((None, None, None, None, "stalls", "stalls", "tier", "no such line")),
    }
    return table_case(chance.choice(_good()), options, chance)


def read(path: Path, options: Options) -> None:
    """As a scenario does."""
    from aiming.files.survey import floor_from_survey

    floor_from_survey(path, display=path.name, **options)


KIND = Kind("survey", ".csv", make, read)
