"""Many answers: sweeps over any keys of a scenario, tables, trade-offs, and which box to choose."""

from .run import what_if
from .table import Table, best_rows, front

__all__ = ["Table", "best_rows", "front", "what_if"]
