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
points[].wll_n: number or null: its marked working load limit, N; null where it is not given
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
lines[].accept_n: [low, high] or null: readings at the tilt that the doubts in the centre of gravity
  and in the cell allow, N; never beyond `stop_over_n`; null where the line is slack or over it
lines[].level_accept_n: [low, high] or null: the same with the box level; null likewise
lines[].stop_over_n: number or null: the reading at which a point, a part or the structure comes to
  its limit, N; null where no limit is known
lines[].vertical_n: number: the line's own pull at rest on what it is made fast to, downwards, N;
  negative where it pulls up
lines[].horizontal_n: number: the same, level, towards the box, N
lines[].beside_n: number: weight at rest of its hoist or parts, and of its share of the cable, N
lines[].structure_vertical_n: number: everything on the structure there, times `dynamic_factor`,
  downwards, N
lines[].structure_horizontal_n: number: the same, level, N
lines[].on_structure_n: number: both together, N
lines[].structure_utilisation: number or null: that over the capacity stated; null where none is
lines[].parts: list of tables: what the line is made of, from the structure down
lines[].parts[].name: text: as declared
lines[].parts[].wll_n: number or null: its marked working load limit, N; null where not given
lines[].parts[].mass_kg: number: its own, kg
lines[].parts[].length_m: number: the least that it takes up, m
lines[].parts[].load_n: number: what hangs on it at rest, the parts below it counted, N
lines[].parts[].utilisation: number or null: as of a point; null without a limit
lines[].weakest: text: the part nearest its limit; empty where none has one
lines[].utilisation: number or null: that part's; null likewise
lines[].parts_m: number: what the parts take up together, m; 0 where none are given
lines[].spare_m: number or null: what the steel leaves over them, m; negative stops; null without a
  steel height and for a pulling line
difference_m: number or null: first hook's height less the second's, m: front less rear, carrying
  less pulled; null with one line
spacing_m: number or null: first hook's x less the second's, m; null with one line
shift_m: number or null: carrying steel point ahead of its hook, m; null for a leaning line without
  a steel height
total_n: number: weight at rest of box, extra mass, hoists or lines, and cable, N
not_counted: list of text: of `hoists` and `cable`, what is not stated and so not in the total
tilt_range_deg: [low, high] or null: tilts with every point in tension, degrees; null where there is
  none
least_share_tilt_range_deg: [low, high] or null: tilts with the least share on every point, degrees;
  null where there is none
settings: list of tables or null: the single tilts that can be set; null where any tilt of the range
  can
settings[].tilt_deg: number: degrees
settings[].hole_u_m: number or null: the bar's hole that gives it, m, u; null where steps give it
settings[].hole_from_rear: whole number or null: which hole that is, the rearmost being 1; null
  likewise
reachable: true or false: whether the rigging holds this tilt
unreachable: text: why no tilt is held; empty otherwise
hole_u_m: number or null: where a one-point hang's hole would have to be for this very tilt, m, u;
  null for other methods
doubt_deg: number or null: change of the tilt for 10 mm of doubt along u, degrees; null where the
  lines hold the tilt
pull_elevation_deg: number or null: of a pulling line, degrees; null for other methods
dynamic_factor: number: on what hangs, as declared
wll_share: number: share of a marked limit that may be used
wind: table or null: a steady wind on what hangs; null without `gust_speed` or `wind_area_m2`
wind.gust_speed_m_s: number: m/s
wind.density_kg_m3: number: of the air, kg/m³
wind.force_coefficient: number: of the wind force
wind.area_m2: number: that the wind sees, m²
wind.pressure_pa: number: ½ρv², Pa
wind.force_n: number: level push, N
wind.lean_deg: number: how far the lines lean from plumb then, degrees
wind.pull_n: number: in all lines together, N
wind.more_share: number: how much more that is than the weight, as a share of it
wind.source: text: whose formula
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
rear_x_m: number: rear tipping edge, m from the acoustic centre
front_x_m: number: front tipping edge, m from the acoustic centre
ballast_x_m: number: where ballast is reckoned to go, m from the acoustic centre
tied: true or false: whether the file says that the box is fixed to what it stands on
box: table or null: the box by itself on what it stands on; null where it is tied, or without an
  outline
box.front: table: tipping over the front end of its own face
box.rear: table: tipping over the rear end of its own face
box.wedge_deg: number: how far that face is from level, degrees
box.raised: text: `front` or `rear`, the end that is raised; empty where it stands flat
box.wedge_height_m: number: how much higher that end stands, m
box.face_m: number: length of that face, m
box.rear_x_m: number: its rear end, m from the acoustic centre
box.front_x_m: number: its front end, m from the acoustic centre
box.slides_deg: number or null: slope at which it slides by itself, degrees; null without friction
box.sliding_safety: number or null: friction over what pushes it down the wedge, wind included; null
  without friction or where nothing pushes
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
