"""The tonal change from row to row: low against high, as a listener who walks would hear it."""

import numpy as np

from ..arrays import FloatArray
from ..scenario.scenario import Scenario
from .every_band import EveryBand, on_axis_db
from .placed import Placed
from .plain import known
from .sound import Tone


def tone_of(scenario: Scenario, at: Placed, every: EveryBand) -> Tone | None:
    """Tone over the rows that the loudspeaker serves; None where only one band is of interest."""
    bands = at.speaker.tone_hz
    if len(bands) < 2:
        return None
    level = every.of(bands)[:, at.served]
    aim: FloatArray = np.full(len(bands), np.nan)
    if at.throw_m is not None:
        aim = on_axis_db(scenario, bands, at.throw_m)
    relative = level - aim[:, np.newaxis]
    change = relative[-1] - relative[0]
    unknown = bool(np.isnan(change).any())
    worst = None if unknown else int(np.argmax(np.abs(change)))
    return Tone(
        bands_hz=bands,
        row=at.served,
        relative_db=relative,
        change_db=change,
        worst_change_db=None if worst is None else float(np.abs(change[worst])),
        worst_row=None if worst is None else int(at.served[worst]),
        range_db=known(np.ptp(level[-1] - level[0])),
    )
