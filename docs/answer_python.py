"""Where an answer in Python differs from its data: a part of docs/answer.md."""

PYTHON_HEAD = """\
## In Python

`aiming.solve` and `aiming.evaluate` return an `Answer` with the same names as attributes, null
being `None` and band keys being numbers in Hz (`speaker.by_band[1000.0]`). `answer.scenario` is the
scenario as it was set, `answer.bands_hz` are the design bands, `answer.stopped` tells whether a
stop stands. A list of tables that is long is a table of arrays there: `rows`, `tone.rows`,
`reflections`. What differs:

| in the data | in Python | |
|---|---|---|
"""
PYTHON = {
    "rows[].x_m": ("rows.x_m", "array (rows,); so are `z_m`, `design_level_db`, NaN if unknown"),
    "rows[].name": ("rows.name", "tuple of text; so is `seating`"),
    "rows[].levels_db.BAND": ("rows.levels_db", "array (bands, rows)"),
    "rows[].by_speaker.SPEAKER": ("rows.by_speaker", "by name; distance_m and others (rows,)"),
    "together.sum": ("together.summed", ""),
    "speakers[].uniform_line.points": ("speakers[].uniform_line.points_m", "array (n, 2)"),
    "speakers[].tone.bands": ("speakers[].tone.bands_hz", ""),
    "speakers[].tone.rows[].row": ("speakers[].tone.rows.row", "array (rows served,)"),
    "speakers[].tone.rows[].relative_db.BAND": (
        "speakers[].tone.rows.relative_db",
        "array (bands, rows served)",
    ),
    "speakers[].output.missing_bands": ("speakers[].output.missing_hz", ""),
    "speakers[].output.one_watt.bands": (
        "speakers[].output.one_watt.bands_hz",
        "so in `greatest`; `levels_db` (bands, rows) and `total_db` (rows,) are of every row",
    ),
    "speakers[].reflections[].delay_ms": ("speakers[].reflections.delay_ms", "array (m,)"),
    "speakers[].reflections[].at": ("speakers[].reflections.at", "array (m, 2)"),
    "speakers[].reflections[].level_db.BAND": (
        "speakers[].reflections.level_db",
        "array (bands, m)",
    ),
}
"""By path in the data: attributes of an Answer, and what is to be said of them."""
