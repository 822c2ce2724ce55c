"""All loudspeakers at every row: their sum, what each adds to it, and a pair by itself."""

import numpy as np

from ..aim import measures
from ..arrays import FloatArray
from ..field.levels import power_sum_db
from ..field.together import coherent_sum_db
from ..scenario.scenario import Scenario
from .company import Adds, Pair
from .model import SpeakerRows
from .placed import Placed
from .plain import known


def sum_db(scenario: Scenario, by_speaker: dict[str, SpeakerRows]) -> FloatArray:
    """(bands, n) of these loudspeakers together, by power or with their phase as the file says."""
    levels = np.stack([one.levels_db for one in by_speaker.values()])
    arrivals = [one.arrival_ms for one in by_speaker.values() if one.arrival_ms is not None]
    if not scenario.company.coherent or len(arrivals) < len(levels):
        return power_sum_db(levels)
    return coherent_sum_db(levels, np.stack(arrivals), scenario.aim.bands_hz)


def adds_of(scenario: Scenario, by_speaker: dict[str, SpeakerRows], name: str) -> Adds | None:
    """What all give without this one; None where it is the only one."""
    others = {of: rows for of, rows in by_speaker.items() if of != name}
    if not others:
        return None
    levels = sum_db(scenario, others)
    within = measures.rows_within_percent(levels, scenario.rows.weight)
    return Adds(
        spread_without_db=known(float(measures.spread_db(levels))),
        rows_within_3db_without_percent=known(float(within)),
    )


def pair_of(scenario: Scenario, at: Placed) -> Pair | None:
    """It and the one that hangs under it, over the rows of both; None where none does."""
    under = scenario.company.under(at.speaker.name)
    if at.together is None or under is None:
        return None
    levels, weight = at.together.levels_db(at.placement), at.together.rows.weight
    return Pair(
        under=under,
        splay_deg=float(at.placement.splay_deg),
        spread_db=known(float(measures.spread_db(levels))),
        worst_band_spread_db=known(float(measures.worst_band_spread_db(levels))),
        deviation_db=known(float(measures.deviation_db(levels, weight))),
        rows_within_3db_percent=known(float(measures.rows_within_percent(levels, weight))),
    )
