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
        shown = (None if one is None else float(f"{one:g}") for one in known)
        lines.append(csv_line([name, *shown]))
    return "".join(lines)
