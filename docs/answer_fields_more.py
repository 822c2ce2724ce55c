"""What the loads and the stack of the answer hold; read by make_answer.py."""

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
