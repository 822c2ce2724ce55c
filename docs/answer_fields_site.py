"""More of answer_fields.py: what `aiming onsite` and `aiming what-if` give."""

INTERVAL = """
value: number: the estimate
low: number: lower end of its 90 % interval
high: number: upper end
"""

FOUND = """
tilt_error_deg: table or null: hung minus planned, degrees, positive up, by readings and levels
  together; where a reading tells it, if that reading is right; null where nothing tells it
height_error_m: table or null: the same of the height, m; null where no reading tells it and the
  levels would not to within 0.3 m
pattern_scale: table or null: how much wider the real pattern is than its data, as a factor; null
  where the levels do not tell it to within 20 %
explained: true, false or null: whether levels and readings fit without a slip; null where too few
  positions could tell, or none was measured
spread_now_db: number or null: over the rows served, as it hangs, the middle of what may be, dB;
  null where a level is unknown
spread_corrected_db: number or null: expected after the move, dB, or as it hangs where it is left;
  null where something does not fit
advice: text: headline, outcome and reasons in one
positions: list of tables: the microphones; empty without measured levels
speaker: text: the loudspeaker measured
headline: text: the one thing to do
outcome: text: what the rows hear now and after
reasons: list of text: why
move: true or false: whether a move is advised
gain_db: number or null: what the best move would take off the spread, expected, dB; null where
  there is none
worse_share: number or null: the chance that it would make the spread larger; null with `gain_db`
tilt_assumes: text: what the interval of the tilt rests on
x_error_m: table or null: hung minus planned, m; null where no reading tells it
levels_tilt_error_deg: table or null: what the levels alone say of the tilt, degrees; null where
  they do not tell it to within 20°
against_reading: number or null: how many times better the levels fit the tilts that may be than the
  one that was read; null without both
blind_deg: number or null: an inclinometer wrong by less than this would pass unseen in one site of
  ten or more, degrees; null where no error tried would be seen, or nothing was read
spread_planned_db: number or null: as planned, dB; null where a level is unknown
spread_now_interval_db: table or null: of the spread as it hangs, dB; null where unknown
rows_within_3db_percent: table: of the rows served, %
rows_within_3db_percent.planned: number or null: as planned; null where a level is unknown
rows_within_3db_percent.now: number or null: as it hangs, expected; null with `spread_now_db`
rows_within_3db_percent.corrected: number or null: after the move, expected; null with
  `spread_corrected_db`
planned: table: where it was to hang
hung: table or null: where it hangs, as far as known; null where the tilt is unknown
corrected: table or null: where it should; null where no move is advised
rows: list of tables: the rows served, in the scenario's order
rows[].name: text: the row
rows[].planned_db: number or null: design level as planned, about the mean of all rows, dB; null
  where a level is unknown
rows[].now_db: table or null: the same as it hangs, dB; null likewise
rows[].after_db: number or null: the same after the move, dB; null where none is advised
stands_out: list of tables: positions that fit only as a slip, the likeliest first
stands_out[].position: text: the microphone's
stands_out[].band_hz: number or null: the band; null for all of them
stands_out[].left_db: number: measured minus what fits the rest, dB
stands_out[].likely: number: how likely that it is the slip, 0 to 1
swapped: list of text or null: two positions that fit swapped; null where none do
arrivals: list of tables: what the phases tell of where the microphones of the first set stood;
  empty where they tell nothing
arrivals[].position: text: the microphone's
arrivals[].after_ms: number: how much later the sound came than to the first position, ms
arrivals[].expected_ms: number: the same by its distance, ms
arrivals[].farther_m: number: how much farther than its place the microphone stood by that, m
arrivals[].other_sign: true or false: whether its polarity is against that of the others
stops: list of tables: what load cells forbid or warn of
stops[].text: text: what was read, and against what
stops[].stops: true or false: whether nothing may go on before it is cleared
stops[].utilisation: number or null: share of the allowed load; null where it is no single cell's
weighed: table or null: what load cells told of the centre of gravity, level and tilted; null
  where nothing was weighed
weighed.whole: table: of everything that hangs, body axes as hung
weighed.whole.weight_n: table: N, with `value`, `low` and `high`, 90 %
weighed.whole.weight_n.value: number: by the cells, or as the file states it where a line has
  none, N
weighed.whole.weight_n.low: number: N
weighed.whole.weight_n.high: number: N
weighed.whole.u_m: table: how far forward its centre of gravity lies, likewise
weighed.whole.u_m.value: number: m
weighed.whole.u_m.low: number: m
weighed.whole.u_m.high: number: m
weighed.whole.w_m: table or null: how high, likewise; null where only one tilt was weighed
weighed.whole.w_m.value: number: m
weighed.whole.w_m.low: number: m
weighed.whole.w_m.high: number: m
weighed.usable: true or false: whether both are known well enough to plan with
weighed.mass_kg: number or null: of the cabinet alone, by the cells; null where the file's weight
  stood in for one
weighed.centre_of_gravity_m: [u, w] or null: of the cabinet alone as built, for the file; null
  without a second tilt
weighed.cells: list of tables: with that centre, what each cell is to read
weighed.cells[].name: text: the pick's
weighed.cells[].level_reading_n: number or null: with the box level, N; null where slack
weighed.cells[].level_accept_n: [low, high] or null: what may be accepted then, N; null likewise
weighed.cells[].reading_n: number or null: at the planned tilt, N; null where slack
weighed.cells[].accept_n: [low, high] or null: what may be accepted then, N; null likewise
weighed.cells[].stop_over_n: number or null: the reading at which something comes to its limit, N;
  null where no limit is known
floor_ripples: list of tables: the floor's reflection where a trace shows it, taken out
floor_ripples[].position: text: the microphone's
floor_ripples[].share: number: of the sound pressure that comes back
floor_ripples[].first_notch_hz: number: Hz
floor_ripples[].detour_m: number: how much longer the way over the floor is, m
readings: list of tables: what each reading by itself says
readings[].text: text: the reading in words
readings[].tilt_deg: table or null: the tilt that it means, degrees; null where it tells none
readings[].height_m: table or null: the height that it means, m; null where it tells none
readings[].x_m: table or null: the x that it means, m; null where it tells none
readings[].state: text: `right`, `sign lost` or `gross`, whichever is likeliest
readings[].likely: number: how likely that is, 0 to 1
notes: list of text: what was assumed or left out
"""

POSITION = """
name: text: the microphone's
measured_db.BAND: number or null: as measured, dB; null where it was not
predicted_db.BAND: number or null: by the plan, shifted per band to lie nearest to the measured
  levels, since every band has its own unknown gain, dB; null where unknown
found_db.BAND: number or null: the same for what was found to hang, dB
doubt_db.BAND: number or null: half of the 90 % interval within which the plan would let it lie,
  dB; null on the ground in bands beside the design bands
stands_out: list of numbers: bands whose level does not fit what was found
off_db: number or null: measured minus planned, mean over the bands, dB; null where none was
  measured
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
told: table or null: what these positions would tell, the spare ones left out; null for too few
told.tilt_deg: number: half of the tilt's 90 % interval, degrees
told.row_db: number: half of that of a row's level about the mean of all, on average, dB
told.worst_row_db: number: the same at the worst row, dB
told.blind_deg: number or null: the least error of an inclinometer that they would speak against in
  nine of ten sites, degrees; null where it is larger than any tried
check_positions: list of tables: in walking order, spare ones last
check_positions[].spare: true or false: to be taken where another cannot be reached
"""

TRIAL = """
speaker: text: the loudspeaker
distance_m: number: d, m
far_field_m: number or null: from where on the pattern has settled, m; null without an outline
edge_deg: number or null: the coverage edge towards the near seats, degrees off axis; null where
  there is none
other_edge_deg: number or null: the edge on the other side; null where there is none
coverage_deg: number or null: between the two by the data, degrees; null without both
points: list of tables: where to lay the microphones
points[].name: text: `axis at d`, `axis at 2d`, `edge at d`, `other edge at d`, `halfway`
points[].line_share: number or null: how far along the line from the edge at d to the axis at 2d;
  null beside it
points[].ahead_m: number: along the axis from the acoustic centre, m
points[].aside_m: number: aside of the axis, m, positive towards the box's top
points[].distance_m: number: from the acoustic centre, m
points[].off_axis_deg: number: degrees, positive above the axis
points[].levels_db.BAND: number or null: relative to the first point, dB; null where unknown
line_db: list of numbers: design level along that line, evenly spaced, re the edge, dB
notes: list of text: what to expect and what was left out
"""

TRIED = """
speaker: text: the loudspeaker
distance_m: number: d, m
coverage_deg: table or null: between the directions where the design pattern is 6.02 dB down,
  degrees; null where the levels do not tell it to within a fifth
pattern_scale: table or null: its ratio to the data's; null likewise
turned_deg: table or null: how far the box pointed off the line of the microphones, degrees,
  towards its top; null where the levels do not tell it
headline: text: the coverage angle with its interval
verdicts: list of tables: the rules of the trade that the positions allow
verdicts[].rule: text: which
verdicts[].text: text: measured and computed
verdicts[].holds: true or false: whether they agree within the errors
line_spread_db.BAND: number or null: loudest minus softest along the line, dB; null where not
  measured
edge_spread_db.BAND: number or null: from the axis to the edge at d, dB; null where not measured
explained: true, false or null: whether that and gains explain the levels; null where too few
  positions could tell
advice: text: what it comes to, in words
positions: list of tables: the microphones
notes: list of text: what to expect and what was left out
"""

FITTED = """
title: text: the scenario's
main: text: what is filled
fill: text: the fill
row: text: their handover row
after_ms: number or null: how much later than the main the fill arrives there, ms; null where the
  phases do not tell it
planned_after_ms: number: the same as planned, ms
re_main_db: number: design level of the fill over the main's, measured there, dB
planned_re_main_db: number: the same as planned, dB
by_band_db.BAND: number or null: the same by band, dB; null where not measured
planned_by_band_db.BAND: number or null: the same as planned, dB; null where unknown
reversed: true, false or null: whether the fill's polarity is against the main's; null where the
  phases are neither alike nor opposite, or do not tell the time
planned_delay_ms: number: the fill's, as planned and set, ms
planned_gain_db: number: likewise, dB
delay_ms: number or null: what it is to be set to, ms, negative where even none is too late; null
  with `after_ms`
gain_db: number: what it is to be set to, dB
headline: text: the one thing to do
reasons: list of text: what that rests on
"""

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
