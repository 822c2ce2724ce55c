"""A thousand random hangs: what the lines bring to the steel, by three equations solved apart."""

import numpy as np

from aiming.base.units import G_M_S2 as G
from aiming.rigging import RiggingError, bridle_to_points, loads_at
from aiming.rigging.wind import wind_on_hung
from aiming.speaker.cabinet import Cabinet, Pick
from aiming.speaker.rigging import Line, LinePart, Rigging

HANGS = 1000


def placed(point, tilt_deg):
    """A body point turned by the tilt, from the acoustic centre."""
    turn = np.radians(tilt_deg)
    (u, w), c, s = point, np.cos(turn), np.sin(turn)
    return np.array([u * c - w * s, u * s + w * c])


def forces_n(points, ways, weight_n, centre):
    """Carrying force (X, Z) and pull along `ways[1]`: ΣX = ΣZ = ΣM = 0, about the origin."""
    (xh, zh), (xp, zp) = points
    dx, dz = ways
    rows = [[1.0, 0.0, dx], [0.0, 1.0, dz], [-zh, xh, xp * dz - zp * dx]]
    return np.linalg.solve(rows, [0.0, weight_n, centre[0] * weight_n])


def test_the_load_path_of_random_hangs():
    rng = np.random.default_rng(7)
    tried = 0
    while tried < HANGS:
        mass, tilt = rng.uniform(8.0, 90.0), rng.uniform(-35.0, 15.0)
        centre = tuple(rng.uniform(-0.25, -0.1, 2))
        pull = bool(rng.integers(2))
        beta = float(rng.uniform(-20.0, 80.0)) if pull else None
        picks = ((-0.05, 0.4), (-0.4, -0.35) if pull else (-0.4, float(rng.uniform(0.3, 0.5))))
        parts = tuple(
            LinePart(f"part {k}", float(rng.uniform(300.0, 9000.0)), float(rng.uniform(0.0, 20.0)),
                     float(rng.uniform(0.0, 0.5)))
            for k in range(rng.integers(1, 4))
        )  # fmt: skip
        cable, factor = float(rng.uniform(0.0, 30.0)), float(rng.uniform(1.0, 2.0))
        rigging = Rigging(
            "pull-back" if pull else "two points", ("one", "other"), lines=(Line(parts),),
            cable_mass_kg=cable, dynamic_factor=factor, pull_elevation_deg=beta,
            steel_height_m=9.0, structure_capacity_n=3000.0,
        )  # fmt: skip
        named = (Pick("one", picks[0], 2000.0), Pick("other", picks[1], 2000.0))
        cabinet = Cabinet(mass_kg=mass, centre_of_gravity_m=centre, picks=named)
        at = (0.5, 6.0)
        found = loads_at(cabinet, rigging, flipped=False, tilt_deg=tilt, at_m=at)
        turned = [placed(pick, tilt) for pick in picks]
        elevation = np.radians(90.0 if beta is None else beta)
        way = (-np.cos(elevation), np.sin(elevation))
        x, z, pulls = forces_n(turned, way, mass * G, placed(centre, tilt))
        if min(z, pulls) <= 0.0:
            continue
        tried += 1
        lines = {line.name: line for line in found.lines}
        shares = (1.0, 0.0) if pull else (0.5, 0.5)
        own = G * sum(part.mass_kg for part in parts)
        for name, down, level, share in (
            ("one", z, abs(x), shares[0]),
            ("other", pulls * way[1], pulls * abs(way[0]), shares[1]),
        ):
            line = lines[name]
            whole = factor * (down + own + share * cable * G)
            assert np.isclose(line.structure_vertical_n, whole, rtol=0.0, atol=1e-7)
            assert np.isclose(line.structure_horizontal_n, factor * level, rtol=0.0, atol=1e-7)
            assert np.isclose(line.structure_utilisation, np.hypot(whole, factor * level) / 3000.0)
            hangs = [
                np.hypot(down + G * sum(part.mass_kg for part in parts[k + 1 :]), level)
                for k in range(len(parts))
            ]
            assert np.allclose([part.load_n for part in line.parts], hangs, rtol=0.0, atol=1e-7)
            used = [load * factor / (part.wll_n * 0.5)
                    for load, part in zip(hangs, parts, strict=True)]  # fmt: skip
            assert np.isclose(line.utilisation, max(used))
            assert line.weakest == parts[int(np.argmax(used))].name
        hook = at[1] + turned[0][1]
        spare = 9.0 - hook - sum(part.length_m for part in parts)
        assert np.isclose(lines["one"].spare_m, spare, rtol=0.0, atol=1e-9)


def test_the_pull_of_wind_on_random_boxes():
    """W, F and the lines' pull close a triangle of forces."""
    rng = np.random.default_rng(8)
    for _ in range(HANGS):
        weight, area, speed = (
            rng.uniform(50.0, 900.0),
            rng.uniform(0.05, 2.0),
            rng.uniform(1.0, 40.0),
        )
        found = wind_on_hung(weight_n=weight, area_m2=area, gust_speed_m_s=speed)
        lean = np.radians(found.lean_deg)
        rest = np.array([1.8 * 0.625 * speed**2 * area, -weight])
        rest += found.pull_n * np.array([-np.sin(lean), np.cos(lean)])
        assert np.allclose(rest, 0.0, atol=1e-7)


def test_random_bridles_to_points_balance_in_space():
    rng = np.random.default_rng(9)
    tried = 0
    while tried < HANGS:
        apex, points = rng.uniform(-2.0, 2.0, 3), rng.uniform(-4.0, 4.0, (3, 3))
        points[:, 2] = apex[2] + rng.uniform(0.5, 5.0, 3)
        try:
            found = bridle_to_points(
                load_n=700.0, apex_m=tuple(apex), points_m=tuple(map(tuple, points))
            )
        except RiggingError:
            continue
        tried += 1
        units = (points - apex) / np.linalg.norm(points - apex, axis=1)[:, np.newaxis]
        pulls = np.linalg.solve(units.T, [0.0, 0.0, 700.0])
        assert np.allclose([leg.tension_n for leg in found.legs], pulls, rtol=1e-9, atol=1e-6)
