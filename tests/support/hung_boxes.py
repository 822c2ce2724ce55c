"""The box of the tests of hanging, and the ways to hang it: invented, easy to work by hand."""

from aiming.base.units import G_M_S2 as G
from aiming.speaker.cabinet import Cabinet, Pick
from aiming.speaker.rigging import Rigging

BOX = Cabinet(
    mass_kg=26.0,
    centre_of_gravity_m=(-0.17, 0.08),
    picks=(
        Pick("front", (-0.06, 0.44), 130.0 * G),
        Pick("rear", (-0.34, 0.44), 130.0 * G),
        Pick("rear, base", (-0.34, -0.20)),
    ),
)
ONE = Rigging("one point", ("front",))
BAR = Rigging("one point", ("front", "rear"), holes_u_m=(-0.20, -0.15), bar_w_m=0.5)
PULL = Rigging("pull-back", ("front", "rear, base"), pull_elevation_deg=30.0)
