"""An empty table to fill in, laid out as the check sheet is: a row a position, a column a band."""

from collections.abc import Mapping, Sequence


def template_csv(
    names: tuple[str, ...],
    bands_hz: tuple[float, ...],
    levels_db: Mapping[str, Sequence[float | None]] | None = None,
) -> str:
    """The table's text; cells that stay empty count as not measured.

    levels_db: what is known already, by name and band
    """
    lines = ["position," + ",".join(f"{band:g}" for band in bands_hz)]
    for name in names:
        known = (levels_db or {}).get(name, [None] * len(bands_hz))
        lines.append(",".join([_cell(name), *("" if one is None else f"{one:g}" for one in known)]))
    return "\n".join(lines) + "\n"


def _cell(name: str) -> str:
    """A name as one cell, whatever it holds."""
    if any(mark in name for mark in ',;"\t'):
        return '"' + name.replace('"', '""') + '"'
    return name
