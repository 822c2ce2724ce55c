"""How long a house of four loudspeakers takes, solved in process.  Run as a script.

Four seatings, 240 rows, 8 bands, floors and surfaces that hide rows, tilt and height free, each
loudspeaker proven to within 0.05 dB.
"""

import cProfile
import pstats
import sys
import time

import aiming

HOUSE = """
title = "Bench: a house of three tiers"
[[seating]]
name = "stalls"
line = [[4.0, 0.0], [20.0, 1.0]]
rows = 90
[[seating]]
name = "under balcony"
line = [[20.5, 1.1], [28.0, 1.8]]
rows = 50
[[seating]]
name = "first balcony"
line = [[19.0, 5.0], [27.0, 8.0]]
rows = 50
[[seating]]
name = "second balcony"
line = [[22.0, 9.5], [29.0, 13.5]]
rows = 50
[[surface]]
name = "first front"
line = [[19.0, 4.4], [19.0, 5.8]]
[[surface]]
name = "second front"
line = [[22.0, 9.0], [22.0, 10.3]]
[[surface]]
name = "back wall"
line = [[29.0, 1.8], [29.0, 18.0]]
[[surface]]
name = "ceiling"
line = [[-2.0, 15.0], [14.0, 18.0], [29.0, 18.0]]
[aim]
bands = [63, 125, 250, 500, 1000, 2000, 4000, 8000]
[[speaker]]
name = "main"
serves = ["stalls"]
pattern = { coverage = 50, control_from_hz = 500 }
placement = { height = [6.0, 11.0] }
[[speaker]]
name = "balcony"
serves = ["first balcony"]
pattern = { coverage = 30, control_from_hz = 600 }
placement = { height = [7.0, 12.0], x = -0.5 }
[[speaker]]
name = "upper"
serves = ["second balcony"]
pattern = { coverage = { above = 15, below = 25 }, control_from_hz = 600 }
placement = { height = [9.0, 14.0], x = 0.5, orientation = "either" }
[[speaker]]
name = "delay"
serves = ["under balcony"]
pattern = { coverage = 90, control_from_hz = 900 }
placement = { x = 19.8, height = [3.2, 4.2] }
"""


def main() -> None:
    """Time of solve, best of five; with --profile, where it goes."""
    import pathlib
    import tempfile

    with tempfile.TemporaryDirectory() as folder:
        path = pathlib.Path(folder) / "house.toml"
        path.write_text(HOUSE, encoding="utf-8")
        scenario = aiming.load(path)
    took = []
    for _ in range(5):
        start = time.perf_counter()
        answer = aiming.solve(scenario)
        took.append(time.perf_counter() - start)
    print(f"{len(scenario.rows)} rows, {len(scenario.aim.bands_hz)} bands")
    for one in answer.speakers:
        gap = "-" if one.gap_db is None else f"{one.gap_db:.3f} dB"
        print(f"{one.name:<10} tilt {one.tilt_deg:7.2f} height {one.height_m:6.2f} gap {gap}")
    print(f"solve: {1e3 * min(took):.0f} ms (first {1e3 * took[0]:.0f} ms)")
    if "--profile" in sys.argv:
        profile = cProfile.Profile()
        profile.runcall(aiming.solve, scenario)
        pstats.Stats(profile).sort_stats("tottime").print_stats(25)


if __name__ == "__main__":
    main()
