"""What `aiming what-if` gives: `path: kind: meaning`, indented lines go on."""

SWEEP = """
schema: whole number: version of this form, 1
columns: list of text: the keys varied, then the figures
candidates: whole number: how many were tried
axes: list of tables: the keys varied; the last varies fastest
axes[].key: text: as given to `--over`
axes[].unit: text: of its values; empty where they have none
axes[].values: whole number: how many values it takes
by: text: the column that `best` is ranked by
left_out: table: candidates that have no figures or keep no limit
left_out.count: whole number: how many
left_out.reasons: list of tables: why, each with one of them
left_out.reasons[].reason: text: in words
left_out.reasons[].example.COLUMN: value of a column or null: as in `best`
best: list of tables: the best candidates, best first
best[].COLUMN: value of a column or null: one member per column, null where unknown
fronts: list of tables: trade-offs: the candidates that no other beats in both columns
fronts[].x: text: one column
fronts[].y: text: the other, that of `by`
fronts[].rows: list of tables: such candidates, ascending in `x`
fronts[].rows[].COLUMN: value of a column or null: as in `best`
"""

COLUMNS = """
spread_db: number or null: largest minus smallest design level over the rows, dB
worst_band_spread_db: number or null: the largest spread of any one design band, dB
deviation_db: number or null: as in the answer, dB
rows_within_3db_percent: number or null: as in the answer, %
softest_row_level_db: number or null: the design level of the softest row, output included, dB
spread_db_BAND: number or null: the spread of one design band, such as `spread_db_1000`, dB
tonal_change_db: number or null: the answer's `tone.worst_change_db`, dB; also null with one band
  of interest
seating_share_percent: number or null: share of the energy sent into the section that starts towards
  the seating served, %; null where the pattern is not known all round
tilt_deg: number or null: as given or found, degrees, positive up
height_m: number or null: acoustic centre, as given or found, m
trim_m: number or null: lowest point of the outline, m
x_m: number or null: acoustic centre, m
flipped: number or null: 1 flipped, 0 upright
feasible: true or false: whether the limits are kept and every level is known
gap_db: number or null: how far from the true optimum a solved candidate can be at most, dB; null
  where it was evaluated
cautions: number or null: how many the answer has, mere notes not counted
stops: number or null: how many of them stop
"""
