"""What each field of the answer holds: the data of docs/answer.md, read by make_answer.py.

One entry is `path: kind: meaning`; lines that are indented go on with it.  Paths are from the
section's prefix; BAND, NAME and SPEAKER stand for names that a file chooses.
"""

TOP = """
schema: whole number: version of this form, 1; fields may be added under it, none changes meaning
version: text: of aiming
title: text: as in the file
speakers: list of tables: one per loudspeaker, in the file's order; empty where no placement meets
  the limits
together: table or null: all loudspeakers over all rows; null where no placement meets the limits
rows: list of tables: every row of every seating, in the file's order; empty likewise
cautions: list of tables: never empty
"""

SPEAKER = """
name: text: as in the file
mount: text: `flown` or `stacked`
orientation: text: `upright` or `flipped`, as it is placed
x_m: number: acoustic centre, m from the datum, positive towards the audience
height_m: number: acoustic centre, m above the datum
trim_m: number: lowest point of the outline as placed, m above the datum; the height without an
  outline
tilt_deg: number: elevation of the axis, degrees, positive up
aim_point: [x, z] or null: where the axis meets the audience plane served, m from the datum; null
  where it meets none
aim_seating: text or null: the seating of the aim point; null without one
aim_row: whole number or null: index into `rows` of that seating's row nearest to the aim point;
  null without one
spread_db: number or null: largest minus smallest design level, dB; null where a level is unknown
worst_band_spread_db: number or null: the largest spread of any one design band, dB; null likewise
deviation_db: number or null: weighted standard deviation about each band's own mean, variances
  averaged over the design bands, dB; null likewise
rows_within_3db_percent: number or null: weighted share of rows whose design level is within ±3 dB
  of the mean, %; null likewise
best: table or null: the best there is in the ranges, whatever is taken in the end; null where
  nothing was searched: in `evaluate`, without ranges, and for what hangs under another
best.objective_db: number: the objective there, dB: spread, worst band or deviation, with
  `objective_at = "worst"` its worst case
best.x_m: number: acoustic centre there, m from the datum
best.height_m: number: acoustic centre there, m above the datum
best.tilt_deg: number: axis there, degrees, positive up
best.orientation: text: `upright` or `flipped`
gap_db: number or null: proven: `best.objective_db` is at most this far from the true optimum, dB of
  the objective; null with `best`
limited_by: list of text: what holds the best, then the placement taken: `axis_on_audience`,
  `rigging`, `max_front_elevation_deg`, `softest_db`, or a range's end such as `height high`,
  `tilt low`
window: table or null: how far it may be set off; null where a level is unknown, and for what hangs
  under another
window.tilt_deg: [low, high]: at this place, the tilts that cost at most `within_db` more spread,
  degrees
window.height_m: [low, high]: at this tilt and x, such heights, m above the datum
window.within_db: number: 0.5 dB
softest_db: number or null: the softest row's design level re what this loudspeaker would give the
  farthest last row, in free sight, with its axis on it, dB; null where a level is unknown
left_to_fill: table or null: front rows left to a front fill and so out of every figure of evenness;
  null where `left_to_fill` leaves none
left_to_fill.rows: list of whole numbers: indices into `rows`, the foremost first
left_to_fill.distance_m: [least, most]: from the acoustic centre, m
left_to_fill.short_db: [least, most] or null: how far they fall short of the mean of the rows that
  count, dB; negative where louder; null where a level is unknown
left_to_fill.band_hz: number: in this design band, the nearest to 4 kHz
shortcut: table: the common practice to compare with: same place, axis at the last row of the
  farthest seating served
shortcut.tilt_deg: number: its tilt, degrees, positive up
shortcut.spread_db: number or null: its spread, dB; null where a level is unknown
by_band.BAND: table: one design band over the rows served
by_band.BAND.spread_db: number or null: largest minus smallest level, dB; null where one is unknown
by_band.BAND.loudest: whole number or null: index into `rows`; null likewise
by_band.BAND.softest: whole number or null: index into `rows`; null likewise
uniform_line: table or null: where the design level equals the aim point's, from there to the
  coverage edge; null without an aim point
uniform_line.points: list of [x, z]: m from the datum, the aim point first
uniform_line.edge: [x, z] or null: its end at the coverage edge; null where the pattern has no edge
  on that side
check_positions: list of tables: where a microphone tells something of the hang, the most telling
  first; at ear height
gain_db: number: as set: the file's, or that found for a fill, dB
delay_ms: number: likewise, ms
hung_under: text or null: the loudspeaker that it hangs under; null where it has a place of its own
loads: table or null: of what hangs; null where it stands or hangs under another, and where
  something is missing, which a caution names
stack: table or null: of what stands; null where it hangs, and where something is missing
tone: table or null: over the rows served; null where only one band is of interest
output: table or null: absolute levels of it alone; null without a sensitivity or a greatest level
lobe_family: table or null: the same for every shape of lobe that fits the data sheet; null for a
  measured pattern
tolerance: table or null: the worst case within the file's tolerance; null without one, for what
  hangs under another, and where a level may be unknown within it
match: table or null: how a fill is matched to its main; null for what is no fill
adds: table or null: all others without it; null where it is the only one
pair: table or null: it and the one that hangs under it; null where none does
room: table: what it is near, and whose view it takes
reflections: list of tables: first reflections at rows and `[[point]]`s
lands_percent: table: where the pattern's sound of the section goes first, share of its energy
"""

CHECK = """
name: text: of the row
x_m: number: microphone, m from the datum
z_m: number: microphone, m above the datum
distance_m: number: from the acoustic centre, m
off_axis_deg: number: degrees, positive above the axis
levels_db.BAND: number or null: predicted level **relative to the first position**, which has 0 in
  every band, dB; null where unknown
level_per_degree_db: number: what a degree of tilt upwards does to the design level there, dB
reason: text: what the position is for
"""

TOLERANCE = """
tilt_deg: number: the file's tolerance either way, degrees
height_m: number: the same of the height, m
x_m: number: the same of x, m
objective: text: `spread`, `worst band` or `deviation`
worst_db: number: nothing within the tolerance has a larger objective; proven, dB
gap_db: number: at most this much above the true worst case, dB
worst_at: list of numbers: by how much tilt (degrees), height (m) and x (m) are off where it is
  worst
costs_db: number: the worst case minus the objective of the placement itself, dB
tilt_costs_db: number: the same with the tilt alone off, dB
place_costs_db: number: the same with height and x alone off, dB
"""

TONE = """
bands: list of numbers: the bands of interest, Hz, ascending
low_hz: number: the lowest of them
high_hz: number: the highest of them
worst_change_db: number or null: largest magnitude of `rows[].change_db`, dB; null where one is
  unknown or the axis meets no audience
worst_row: whole number or null: index into the answer's `rows` where that is; null likewise
range_db: number or null: largest minus smallest of highest band against lowest over the rows, aim
  point or not, dB; null where one is unknown
rows: list of tables: of the rows served
rows[].row: whole number: index into the answer's `rows`
rows[].relative_db.BAND: number or null: level re the same band at the aim point, dB; null where
  unknown or without an aim point
rows[].change_db: number or null: highest band against lowest, both re the aim point, dB; negative
  sounds duller; null likewise
"""

OUTPUT = """
programme: text: `pink`, `speech 2011` or `speech 2020`
source: text: where that spectrum is from
weighting: text: of the target and of `level_db`: `A` or `Z`
target_db: number or null: level wanted at every row, dB re 20 µPa; null where the file gives none
missing_bands: list of numbers: bands of the programme that are left out of the sums, pattern or
  output being unknown, Hz
one_watt: table or null: 1 W of the programme into gain and equaliser; null without a sensitivity
greatest: table or null: driven to its greatest level; null without one
"""

PLAYED = """
bands: list of numbers: the bands that are summed, Hz
softest: table or null: the softest row served; null where a level is unknown
loudest: table or null: the loudest; null likewise
limited_by_hz: number or null: the band that reaches its greatest level first; null where limits by
  band are not given, and in `one_watt`
headroom_db: number or null: `softest.level_db` less the target, dB; null without a target, and in
  `one_watt`
needed_w: number or null: power that gives the target at the softest row, W, thermal compression
  left out; null without a target, and in `greatest`
"""

PLAYED_ROW = """
row: whole number: index into the answer's `rows`
level_db: number: sum over the bands with the target's weighting, dB re 20 µPa
a_weighted_db: number: the same, A-weighted
levels_db.BAND: number: by band, unweighted, dB re 20 µPa
"""

LOBE_FAMILY = """
assumed: text: the shape that the aim was worked with: `quadratic`, `piston` or `flat`
coverage_deg: table: half-angles as built
coverage_deg.above: number: degrees above the axis
coverage_deg.below: number: degrees below it
control_from_hz: number or null: below it the coverage angle grows; null where it never does
control_height_m: number or null: of horn or cabinet, m, where `control_from_hz` is estimated from
  it; null where it is not
spread_db: [low, high] or null: least and largest spread of the placement taken over the shapes, dB;
  null where one is unknown
best_spread_db: [low, high] or null: the same of the best at this place, dB; null likewise
best_tilt_deg: [low, high] or null: lowest and highest of the best tilts, degrees; null likewise
lobes: list of tables: one per shape that fits the data sheet
lobes[].lobe: text: the shape
lobes[].spread_db: number or null: of the placement taken, dB; null where a level is unknown
lobes[].best_tilt_deg: number or null: best tilt at this place, scanned, not proven, degrees; null
  where none is allowed
lobes[].best_spread_db: number or null: its spread, dB; null likewise
"""

ROWS = """
name: text: the row's
seating: text: its seating
x_m: number: m from the datum
z_m: number: of the ear, m above the datum
levels_db.BAND: number or null: all loudspeakers together, dB; null where one is unknown
design_level_db: number or null: mean over the design bands, dB; null likewise
by_speaker.SPEAKER: table: every loudspeaker at every row, whatever it serves
by_speaker.SPEAKER.distance_m: number: from the acoustic centre, m
by_speaker.SPEAKER.off_axis_deg: number: degrees in ±180, positive above the axis
by_speaker.SPEAKER.levels_db.BAND: number or null: its level, shadow taken off, dB; null where the
  pattern is unknown
by_speaker.SPEAKER.shadow_db.BAND: number: loss by what stands in the way, dB, 0 or positive
by_speaker.SPEAKER.departure_db: number or null: design level minus the aim point's, dB, positive
  is louder; null where the pattern is unknown or without an aim point
by_speaker.SPEAKER.departure_m: number or null: along the ray, from the uniform-level line to the
  row, m, positive beyond it; null likewise
by_speaker.SPEAKER.arrival_ms: number: its delay and the way, ms
by_speaker.SPEAKER.after_reference_ms: number: after sound from the time reference, ms; only there
  with `[time] reference`
by_speaker.SPEAKER.after_main_ms: number: of a fill, after its main, ms; only there for a fill
by_speaker.SPEAKER.re_main_db: number or null: of a fill, its design level minus its main's, dB;
  only there for a fill; null where one is unknown
"""

CAUTIONS = """
code: text: stable; every one stands in [cautions](cautions.md)
severity: text: `stop`, `caution` or `note`
text: text: the sentence as printed
value: number or null: the figure that brought it about, in `unit`; null where there is none
unit: text or null: such as `m`, `°`, `dB`, `times`, `rows`; null where there is no figure
limit: number or null: the threshold, in `unit`; null where there is none
speaker: text or null: the loudspeaker that it is about; null for the whole scenario
"""
