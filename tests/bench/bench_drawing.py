"""How long a drawing of 50,000 entities takes; target: 5 s.  Run as a script."""

import tempfile
import time
from pathlib import Path

import ezdxf
import numpy as np

from aiming.files.drawing import drawing_summary, floor_from_drawing


def main() -> None:
    """Lines, polylines, arcs and blocks, 10,000 of them on the layer that is asked for."""
    document = ezdxf.new("R2010", units=4)
    space = document.modelspace()
    seat = document.blocks.new("seat")
    seat.add_line((0, 0), (500, 0))
    seat.add_arc((250, 250), 250, 0, 180)
    for index in range(10_000):
        x = 10.0 * index
        on = {"layer": f"clutter {index % 40}"}
        space.add_line((x, 0), (x + 10.0, 1.0), dxfattribs={"layer": "tier"})
        space.add_line((x, 900), (x + 400.0, 1200.0), dxfattribs=on)
        space.add_arc((x, 500), 300.0, 0, 120, dxfattribs=on)
        space.add_lwpolyline([(x, 0), (x, 300, 0.4), (x + 90, 300)], dxfattribs=on)
        space.add_blockref("seat", (x, 0), dxfattribs={**on, "rotation": 15.0, "xscale": 0.5})
    # A saw-tooth: every tread ends where the next begins.
    for line, y in zip(space.query('LINE[layer=="tier"]'), np.arange(10_000), strict=True):
        line.dxf.start = (line.dxf.start.x, 0.1 * y)
        line.dxf.end = (line.dxf.end.x, 0.1 * (y + 1))
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "large.dxf"
        document.saveas(path)
        print(f"{len(space):,} entities, {path.stat().st_size / 1e6:.1f} MB")
        start = time.perf_counter()
        floor = floor_from_drawing(path, layer="tier")
        first = time.perf_counter()
        print(f"floor of {len(floor):,} points: {first - start:.2f} s, the drawing's first layer")
        floor_from_drawing(path, layer="tier")
        second = time.perf_counter()
        print(f"the same again: {second - first:.2f} s")
        layers = drawing_summary(path).layers
        print(f"summary of {len(layers)} layers: {time.perf_counter() - second:.2f} s")


if __name__ == "__main__":
    main()
