"""Where an answer in Python differs from its data: a part of docs/answer.md."""

PYTHON_HEAD = """\
## In Python

`aiming.solve` and `aiming.evaluate` return an `Answer` with the same names as attributes, null
being `None` and band keys being numbers in Hz (`speaker.by_band[1000.0]`). `answer.bands_hz` are
the design bands, `answer.stopped` tells whether a stop stands. `loads` and `stack` are plain
dictionaries there too. Rows are arrays, not a list of tables. What differs:

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
    "speakers[].tone.rows[].row": ("speakers[].tone.row", "array (rows served,)"),
    "speakers[].tone.rows[].relative_db.BAND": (
        "speakers[].tone.relative_db",
        "array (bands, rows served)",
    ),
    "speakers[].tone.rows[].change_db": ("speakers[].tone.change_db", "array (rows served,)"),
    "speakers[].output.missing_bands": ("speakers[].output.missing_hz", ""),
    "speakers[].output.one_watt.bands": (
        "speakers[].output.one_watt.bands_hz",
        "so in `greatest`",
    ),
    "speakers[].output.one_watt.softest.row": (
        "speakers[].output.one_watt.softest",
        "so is `loudest`",
    ),
    "speakers[].output.one_watt.softest.level_db": (
        "speakers[].output.one_watt.total_db",
        "array (rows,)",
    ),
    "speakers[].output.one_watt.softest.a_weighted_db": (
        "speakers[].output.one_watt.a_db",
        "array (rows,)",
    ),
    "speakers[].output.one_watt.softest.levels_db.BAND": (
        "speakers[].output.one_watt.levels_db",
        "array (bands, rows)",
    ),
    "speakers[].lobe_family.assumed": ("speakers[].lobe_family.nominal.lobe", ""),
    "speakers[].lobe_family.coverage_deg.above": (
        "speakers[].lobe_family.nominal.above_deg",
        "so is `below_deg`",
    ),
    "speakers[].lobe_family.control_from_hz": (
        "speakers[].lobe_family.nominal.control_from_hz",
        "so is `control_height_m`",
    ),
    "speakers[].room.nearest_listener.row": ("speakers[].room.listener.name", ""),
    "speakers[].room.nearest_surface": (
        "speakers[].room.surface",
        'without one its name is "" and its distance None',
    ),
    "speakers[].room.hides_focus_from": ("speakers[].room.hidden_rows", "array"),
    "speakers[].reflections": ("speakers[].misses.reflections_list", "a method"),
    "speakers[].lands_percent": ("speakers[].misses.lands_dict", "a method"),
}
"""By path in the data: attributes of an Answer, and what is to be said of them."""
