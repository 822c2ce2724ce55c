"""An empty table to fill in, laid out as the check sheet is: a row a position, a column a band."""


def template_csv(names: tuple[str, ...], bands_hz: tuple[float, ...]) -> str:
    """The table's text; cells that stay empty count as not measured."""
    lines = ["position," + ",".join(f"{band:g}" for band in bands_hz)]
    lines += [f"{_cell(name)}," + "," * (len(bands_hz) - 1) for name in names]
    return "\n".join(lines) + "\n"


def _cell(name: str) -> str:
    """A name as one cell, whatever it holds."""
    if any(mark in name for mark in ',;"\t'):
        return '"' + name.replace('"', '""') + '"'
    return name
