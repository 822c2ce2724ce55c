"""More of answer_fields.py: what `aiming onsite` and `aiming what-if` give."""

INTERVAL = """
value: number: the estimate
low: number: lower end of its 90 % interval
high: number: upper end
"""

FOUND = """
tilt_error_deg: table or null: hung minus planned, degrees, positive up; from the readings where
  they tell it, otherwise from the levels; null where neither does
height_error_m: table or null: the same of the height, m; null likewise
pattern_scale: table or null: how much wider the real pattern is than its data, as a factor; null
  where the levels do not tell it to within 20 %
explained: true, false or null: whether aim and gain explain the levels; null where too few
  positions could tell, or none was measured
spread_now_db: number or null: over the rows served, as it hangs, dB; null where the tilt is unknown
spread_corrected_db: number or null: after the correction, dB; null where none is given
advice: text: what to change, in words
positions: list of tables: the microphones; empty without measured levels
speaker: text: the loudspeaker measured
levels_tilt_error_deg: table or null: what the levels alone say of the tilt, degrees; null where
  they do not tell it to within 20°
confirmed: true, false or null: whether the levels agree with the tilt that was read; null without
  both
spread_planned_db: number or null: as planned, dB; null where a level is unknown
rows_within_3db_percent: table: of the rows served, %
rows_within_3db_percent.planned: number or null: as planned; null where a level is unknown
rows_within_3db_percent.now: number or null: as it hangs; null with `spread_now_db`
rows_within_3db_percent.corrected: number or null: corrected; null with `spread_corrected_db`
planned: table: where it was to hang
hung: table or null: where it hangs, as far as known; null where the tilt is unknown
corrected: table or null: where it should; null where no correction is given
stands_out: list of tables: what the plan cannot explain
stands_out[].position: text: the microphone's
stands_out[].band_hz: number or null: the band; null for all of them
stands_out[].left_db: number: measured minus expected, dB
readings: list of tables: what each reading by itself says
readings[].text: text: the reading in words
readings[].tilt_deg: table or null: the tilt that it means, degrees; null where it tells none
readings[].height_m: table or null: the height that it means, m; null where it tells none
notes: list of text: what was assumed or left out
"""

POSITION = """
name: text: the microphone's
measured_db.BAND: number or null: as measured, dB; null where it was not
predicted_db.BAND: number or null: by the plan, shifted per band to lie nearest to the measured
  levels, since every band has its own unknown gain, dB; null where unknown
found_db.BAND: number or null: the same for what was found to hang, dB
x_m: number: m from the datum; on the ground, ahead of the acoustic centre
z_m: number: m above the datum; on the ground, aside of the axis towards the box's top
distance_m: number: from the acoustic centre as planned, m
off_axis_deg: number: as planned, degrees, positive above the axis
"""

PLACE = """
x_m: number: acoustic centre, m from the datum
height_m: number: acoustic centre, m above the datum
tilt_deg: number: degrees, positive up
orientation: text: `upright` or `flipped`
"""

PLAN = """
speaker: text: the loudspeaker
mic_height_m: number or null: of the microphones above the floor, m; null for the ears
tilt_doubt_deg: list of numbers or nulls: half of the tilt's 90 % interval that the first three
  positions would give, and all of them, degrees; null where they tell nothing
check_positions: list of tables: the most telling first
"""

TRIAL = """
speaker: text: the loudspeaker
distance_m: number: d, m
far_field_m: number or null: from where on the pattern has settled, m; null without an outline
edge_deg: number or null: the coverage edge towards the near seats, degrees off axis; null where
  there is none
points: list of tables: where to lay the microphones
points[].name: text: `axis at d`, `axis at 2d`, `edge at d`, `halfway`
points[].ahead_m: number: along the axis from the acoustic centre, m
points[].aside_m: number: aside of the axis, m, positive towards the box's top
points[].distance_m: number: from the acoustic centre, m
points[].off_axis_deg: number: degrees, positive above the axis
points[].levels_db.BAND: number or null: relative to the first point, dB; null where unknown
notes: list of text: what to expect and what was left out
"""

TRIED = """
speaker: text: the loudspeaker
distance_m: number: d, m
pattern_scale: table or null: how much wider the real pattern is than its data, as a factor; null
  where the levels do not tell it to within 20 %
explained: true, false or null: whether that and gains explain the levels; null where too few
  positions could tell
advice: text: what it comes to, in words
positions: list of tables: the microphones
notes: list of text: what to expect and what was left out
"""

SWEEP = """
schema: whole number: version of this form, 1
columns: list of text: the keys varied, then the figures
candidates: whole number: how many were tried
axes: list of tables: the keys varied; the last varies fastest
axes[].key: text: as given to `--over`
axes[].values: whole number: how many values it takes
by: text: the column that `best` is ranked by
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
