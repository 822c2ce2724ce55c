"""Makes riverside_hall.dxf, the invented section of scenarios/from_drawing.toml.  Run as a script.

Drawn in millimetres as an architect might: the origin is a grid line 12 m behind the stage edge,
rows of seats are blocks, the raked tier is drawn stair by stair, the ceiling has an arc.
"""

from pathlib import Path

import ezdxf

ORIGIN_MM = (12_000.0, 1_100.0)
"""Stage front edge at house floor, in the drawing."""


def main() -> None:
    """Write the drawing into scenarios/drawings: the same lines every time."""
    ezdxf.options.write_fixed_meta_data_for_testing = True
    document = ezdxf.new("R2010", units=4)
    space = document.modelspace()

    def at(x_m: float, z_m: float) -> tuple[float, float]:
        return ORIGIN_MM[0] + 1000.0 * x_m, ORIGIN_MM[1] + 1000.0 * z_m

    for layer in ("STALLS FLOOR", "TIER FLOOR", "TIER FRONT", "BACK WALL", "CEILING", "SEATS"):
        document.layers.add(layer)
    on = {name: {"layer": name} for name in ("STALLS FLOOR", "TIER FLOOR", "BACK WALL", "CEILING")}
    space.add_lwpolyline(
        [at(3.2, 0.0), at(9.0, 0.0), at(16.4, 0.74)], dxfattribs=on["STALLS FLOOR"]
    )
    # The tier: treads and risers as single lines, in no order.
    x, z, pieces = 14.0, 4.1, []
    for _ in range(9):
        pieces.append((at(x, z), at(x + 0.95, z)))
        pieces.append((at(x + 0.95, z), at(x + 0.95, z + 0.42)))
        x, z = x + 0.95, z + 0.42
    pieces.append((at(x, z), at(x + 0.95, z)))
    for start, end in sorted(pieces, key=lambda piece: piece[0][1] % 700.0):
        space.add_line(start, end, dxfattribs=on["TIER FLOOR"])
    front = document.blocks.new("front")
    front.add_lwpolyline([(0, -700), (0, 800)])
    space.add_blockref("front", at(13.6, 4.1), dxfattribs={"layer": "TIER FRONT"})
    space.add_line(at(23.6, 0.74), at(23.6, 11.0), dxfattribs=on["BACK WALL"])
    space.add_lwpolyline(
        [(*at(-1.0, 9.5), 0.0), (*at(6.0, 10.5), -0.18), (*at(23.6, 11.0), 0.0)],
        format="xyb",
        dxfattribs=on["CEILING"],
    )
    seat = document.blocks.new("seat")
    seat.add_lwpolyline([(0, 0), (0, 420), (420, 420), (520, 900)])
    for row in range(7):
        space.add_blockref("seat", at(3.2 + 0.9 * row, 0.0), dxfattribs={"layer": "SEATS"})
    root = Path(__file__).parents[3]
    document.saveas(root / "scenarios" / "drawings" / "riverside_hall.dxf")


if __name__ == "__main__":
    main()
