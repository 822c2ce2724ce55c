"""An empty table to fill in, laid out as the check sheet is: a row a position, a column a band."""

from collections.abc import Mapping, Sequence

from ..base.csv_cells import csv_line


def template_csv(
    names: tuple[str, ...],
    bands_hz: tuple[float, ...],
    levels_db: Mapping[str, Sequence[float | None]] | None = None,
) -> str:
    """The table's text; cells that stay empty count as not measured.

    levels_db: what is known already, by name and band
    """
    lines = [csv_line(["position", *(f"{band:g}" for band in bands_hz)])]
    for name in names:
        known = (levels_db or {}).get(name, [None] * len(bands_hz))
        lines.append(csv_line([name, *map(_shortest, known)]))
    return "".join(lines)


def _shortest(level_db: float | None) -> float | None:
    """A level as a person writes it: to six digits, whole ones without a point."""
    if level_db is None:
        return None
    shown = float(f"{level_db:g}")
    return int(shown) if shown.is_integer() else shown
