"""How long losses and their bounds take; 500 boxes, 60 rows, some ten edges.  Run as a script."""

import time
from collections.abc import Callable

import numpy as np

from aiming.field.diffraction import Screening
from aiming.field.walls import walls_of
from aiming.geometry.section import Seating, Surface, rows_of


def best_of(times: int, work: Callable[..., object], *given: object) -> float:
    """Shortest time of several runs, milliseconds."""
    took = []
    for _ in range(times):
        start = time.perf_counter()
        work(*given)
        took.append(time.perf_counter() - start)
    return 1e3 * min(took)


def main() -> None:
    """A house with a balcony, its front and its back wall."""
    seatings = (
        Seating("stalls", np.array([[4.0, 0.0], [22.0, 0.9]]), row_count=35),
        Seating("balcony", np.array([[15.0, 4.6], [23.0, 7.4]]), row_count=25),
    )
    surfaces = (
        Surface("front", np.array([[15.0, 4.6], [15.0, 5.5]])),
        Surface("back wall", np.array([[23.0, 0.0], [23.0, 11.0]])),
        Surface("ceiling", np.array([[0.0, 10.0], [12.0, 11.0], [23.0, 11.0]])),
    )
    rows = rows_of(seatings)
    walls = walls_of(seatings, surfaces)
    hz = 1000.0 * 10.0 ** (0.3 * np.arange(4))
    print(f"{len(rows)} rows, {len(walls.start_m)} edges, {len(walls.corner_m)} corners")
    height = np.linspace(3.0, 9.0, 501)
    nothing = np.zeros(500)
    start = time.perf_counter()
    screening = Screening(walls, rows.x_m, rows.z_m, hz, 343.2)
    screening.loss_db(0.0, 5.0)
    print(f"first loss: {1e3 * (time.perf_counter() - start):.1f} ms")
    took = best_of(5, screening.loss_db, nothing, height[1:])
    print(f"losses at 500 placements: {took:.1f} ms")
    took = best_of(5, screening.bounds_db, (nothing, nothing), (height[:-1], height[1:]))
    print(f"bounds over 500 boxes: {took:.1f} ms")


if __name__ == "__main__":
    main()
