"""An empty table to fill in, laid out as the check sheet is: a row a position, a column a band."""

from ..base.csv_cells import csv_line


def template_csv(names: tuple[str, ...], bands_hz: tuple[float, ...]) -> str:
    """The table's text; cells that stay empty count as not measured."""
    lines = [csv_line(["position", *(f"{band:g}" for band in bands_hz)])]
    return "".join(lines + [csv_line([name, *[None] * len(bands_hz)]) for name in names])
