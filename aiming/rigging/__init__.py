"""Statics of one box: what its points bear, which tilts it can hold, where its lines come down.

Takes a cabinet, its declared rigging and a tilt; knows no acoustics.  Nothing here says that a hang
is fit to be used: local code, the makers' data and a competent or licensed person prevail.
"""

from .body import NotChecked, RiggingError
from .bridle import Bridle, bridle, bridle_to_points
from .lines import HangLine
from .loads import Loads, loads_at
from .points import PointLoad
from .reach import Reach, reachable_tilt_deg

__all__ = [
    "Bridle",
    "HangLine",
    "Loads",
    "NotChecked",
    "PointLoad",
    "Reach",
    "RiggingError",
    "bridle",
    "bridle_to_points",
    "loads_at",
    "reachable_tilt_deg",
]
