"""More of answer_fields.py: loads, stacks, company, room, what comes back, site and sweeps."""

LOADS = """
method: text: `two points`, `one point` or `pull-back`
weight_n: number: of everything that hangs, extra mass included, N
mass_kg: number: the same, kg
centre_of_gravity_m: [u, w]: of all that, m, body axes as hung from the acoustic centre
points: list of tables: one per pick that bears
points[].name: text: the pick's
points[].tension_n: number: signed balance at rest, N; negative would push: the line is slack, which
  is a stop
points[].share: number: tension over weight
points[].utilisation: number or null: tension · `dynamic_factor` / (working load limit ·
  `wll_share`); null without a limit
points[].whole_weight_utilisation: number or null: the same with the whole weight on this point, as
  when a hoist runs uneven; null likewise
points[].lean_deg: number: of its line from plumb, degrees, positive with the upper end ahead
points[].off_axis_deg: number or null: of the pull from its fitting's axis, degrees; null where no
  fitting is declared
points[].kept_share: number or null: of the limit, what that angle leaves; null likewise
points[].kept_utilisation: number or null: utilisation of what is left; null likewise, without a
  limit, and where nothing is left
points[].above_centre_m: number: how far the pick lies above the centre of gravity at the tilt, m
points[].doubt_n: number: change of the tension for 10 mm of doubt in the centre of gravity, worst
  direction, N
lines: list of tables: what goes up to the steel: with a bar one line, otherwise one per point
lines[].name: text: the pick's, or the hole of the bar
lines[].x_m: number: hook at the box, m from the datum
lines[].height_m: number: hook at the box, m above the datum
lines[].lean_deg: number: from plumb, degrees, positive with the upper end ahead
lines[].steel_x_m: number or null: where the line is made fast, m from the datum; null for a leaning
  line without a steel height or pulling point
lines[].steel_z_m: number or null: the same, m above the datum; null without either
lines[].length_m: number or null: hook to steel along the line, m; null where its end is unknown or
  below the hook
lines[].reading_n: number or null: what a load cell in it shows at the tilt, N; null where the line
  is slack
lines[].level_reading_n: number or null: the same with the box level; null where the line is slack
  then, or the forces cannot be told
lines[].on_structure_n: number: with the hoist, where its mass is stated, N
lines[].structure_utilisation: number or null: that, with the dynamic factor on the box's part, over
  the capacity stated; null where none is
difference_m: number or null: first hook's height less the second's, m: front less rear, carrying
  less pulled; null with one line
spacing_m: number or null: first hook's x less the second's, m; null with one line
shift_m: number or null: carrying steel point ahead of its hook, m; null for a leaning line without
  a steel height
total_n: number: everything that the structure bears, N
not_counted: list of text: of `hoists` and `cable`, what is not stated and so not in the total
tilt_range_deg: [low, high] or null: tilts with every point in tension, degrees; null where there is
  none
least_share_tilt_range_deg: [low, high] or null: tilts with the least share on every point, degrees;
  null where there is none
settings: list of tables or null: the single tilts that can be set; null where any tilt of the range
  can
settings[].tilt_deg: number: degrees
settings[].hole_u_m: number or null: the bar's hole that gives it, m, u; null where steps give it
reachable: true or false: whether the rigging holds this tilt
unreachable: text: why no tilt is held; empty otherwise
hole_u_m: number or null: where a one-point hang's hole would have to be for this very tilt, m, u;
  null for other methods
doubt_deg: number or null: change of the tilt for 10 mm of doubt along u, degrees; null where the
  lines hold the tilt
pull_elevation_deg: number or null: of a pulling line, degrees; null for other methods
dynamic_factor: number: on what hangs, as declared
wll_share: number: share of a marked limit that may be used
"""

STACK = """
mass_kg: number: of everything that stands on the base, kg
centre_of_gravity_m: [x, z]: x from the acoustic centre, z above the ground, m
gust_speed_m_s: number: wind that it was held against, m/s; 0 where none is
density_kg_m3: number: of the air, kg/m³
force_coefficient: number: of the wind force
friction: number or null: coefficient between base and ground; null where not given
wind_area_m2: number: everything that the wind sees, m²
wind_z_m: number: its middle above the ground, m; 0 without an area
pressure_pa: number: ½ρv², Pa
wind_n: number: the force on all of it, N
front: table: tipping over the front edge, in wind from behind
rear: table: tipping over the rear edge, in wind from ahead
sliding_safety: number or null: friction over wind; null without wind or without friction
sliding_ballast_kg: number: least mass against sliding, kg; 0 where sliding was not checked
ballast_kg: number or null: the least that serves both edges and sliding, kg; null where none can
wind_checked: true or false: false where a wind is given and the wind area is not
asked: number: what holds over what upsets must reach, times
asked_source: text: who asks for that
"""

EDGE = """
name: text: `front` or `rear`
margin_m: number: centre of gravity inside the edge, m; negative: it tips by itself
tip_deg: number: slope at which it would tip by itself, degrees
safety: number or null: holding over upsetting moment in the wind; null without wind
ballast_arm_m: number: ballast inside the edge, m
ballast_kg: number or null: least mass there that reaches what is asked, kg; null where none can
"""

MATCH = """
main: text: the loudspeaker that it fills for
handover_row: whole number or null: index into `rows` where both are matched; null where a level is
  unknown
behind_ms: number: how far behind the main it is to be there, ms
ceiling_db: number: how much louder than the main it may be where the main is not hidden, dB
level_gain_db: number or null: gain at which both are equally loud there, dB; null without a row
ceiling_gain_db: number or null: the most that keeps the ceiling, dB; null where no row asks
ceiling_row: whole number or null: index into `rows` of the row that asks; null likewise
aligned_delay_ms: number or null: delay that brings it in on time there, ms; negative where even
  none is too late; null without a row
gain_given: true or false: whether the file fixes the gain
delay_given: true or false: whether the file fixes the delay
handover_re_main_db: number or null: level against the main there, as set, dB; null without a row
handover_after_main_ms: number or null: time after the main there, as set, ms; null likewise
drift_ms: [low, high]: of the time after the main over the rows served, ms
warming_ms: number: largest change of that time for 10 °C, ms
chosen_gain_db: number or null: the gain where it was chosen for the sum of all, dB; null where it
  was matched or given
at_ceiling: true or false: whether the ceiling, not the match or the sum, sets the gain
"""

ADDS = """
spread_without_db: number or null: spread of all others without it, dB; null where a level is
  unknown
rows_within_3db_without_percent: number or null: the same of the rows within 3 dB, %; null likewise
"""

PAIR = """
under: text: the loudspeaker that hangs under it
splay_deg: number: how much further nose-down that points, degrees
spread_db: number or null: of both over the rows of both, dB; null where a level is unknown
worst_band_spread_db: number or null: the same, worst band, dB; null likewise
deviation_db: number or null: the same, deviation, dB; null likewise
rows_within_3db_percent: number or null: the same, %; null likewise
"""

ROOM = """
nearest_listener: table: from the outline, or from the acoustic centre without one
nearest_listener.row: text: the row, as printed
nearest_listener.distance_m: number: m
front_elevation_deg: number: how high the front row's ears see the acoustic centre, degrees
over_heads_m: number or null: least height of the cabinet over heads, m; null where no seating lies
  beneath it, or without an outline
nearest_surface: table or null: the nearest surface or floor; null without an outline
nearest_surface.name: text: its name
nearest_surface.distance_m: number: from the outline, m
collides: list of text: surfaces and floors that the cabinet runs through
hides_focus_from: list of whole numbers or null: indices into `rows` whose view of the focus it
  takes; null without `[focus]`
"""

REFLECTIONS = """
surface: text: what sends it back
row: whole number or null: index into `rows` of who gets it; null where that is a `[[point]]`
point: text or null: the `[[point]]`'s name; null where that is a row
at: [x, z]: where it is sent back, m from the datum
distance_m: number: the whole way by the surface, m
delay_ms: number: after the direct sound, ms
level_db.BAND: number or null: re the direct sound there, dB; null where unknown
design_level_db: number or null: mean of that over the design bands, dB; null likewise
"""

LANDS = """
seating.NAME: number or null: on the rows of this seating, %; null where the pattern is unknown
surface.NAME: number or null: on this surface, %; null likewise
beneath_floors: number or null: on the undersides of floors, %; null likewise
nowhere: number or null: past everything, %; null likewise
known_deg: number: how much of the circle the pattern knows; the shares are of that, degrees
"""

TOGETHER = """
spread_db: number or null: of the design level, dB; null where a level is unknown
worst_band_spread_db: number or null: the largest spread of any one design band, dB; null likewise
by_band.BAND: table: one design band
by_band.BAND.spread_db: number or null: largest minus smallest level, dB; null likewise
by_band.BAND.loudest: whole number or null: index into `rows`; null likewise
by_band.BAND.softest: whole number or null: index into `rows`; null likewise
rows_within_3db_percent: number or null: weighted share within ±3 dB of the mean, %; null likewise
sum: text: how they add up: `power` or `coherent`
proof: table or null: where they were chosen together, what is proven; null elsewhere
proof.gap_db: number or null: nothing within all ranges is better by more, dB; null where untried
proof.gains_gap_db: number or null: no other gains of these placements are, dB; null where none is
  open
proof.each_alone_gap_db: number: no loudspeaker re-aimed with its own gain is better by more, dB
proof.status: text: how far the proof over everything came
proof.starts: whole number: distinct starts of the search
proof.agreeing: whole number: how many of them ended at the same objective; that proves nothing
proof.boxes: whole number: boxes bounded for gap_db
one_by_one_db: number or null: spread if each were aimed alone, dB; null where not chosen together
higher_ceilings: table or null: what higher ceilings would give; null where none binds
higher_ceilings.by_db: number: how much higher every ceiling, dB
higher_ceilings.objective_db: number: the objective then, dB
"""
