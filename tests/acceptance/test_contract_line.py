"""The fixed words held from outside: aim point, line, departures, shortcut, window."""

import json
import math

import pytest
from asked import BLOCKS, FINE_DB, design, evaluated, mains, only, scene, solved
from outside import (
    BANDS,
    Point,
    level,
    mean,
    quadratic,
    range_of,
    seen,
)


def own_lobe(phi: float) -> float:
    return quadratic(phi, above=30, below=30)


def own_design(ear: Point, centre: Point, tilt: float) -> float:
    return mean([level(ear, centre, tilt, hz, own_lobe) for hz in BANDS])


# The aim point


def met(tilt: float, line: tuple[Point, Point], centre: Point) -> Point | None:
    """Where the axis meets one straight plane."""
    (x0, z0), (x1, z1) = line
    ux, uz = math.cos(math.radians(tilt)), math.sin(math.radians(tilt))
    dx, dz = x1 - x0, z1 - z0
    across = ux * dz - uz * dx
    out = ((x0 - centre[0]) * dz - (z0 - centre[1]) * dx) / across
    share = ((x0 - centre[0]) * uz - (z0 - centre[1]) * ux) / across
    if out <= 0.0 or not -1e-9 <= share <= 1 + 1e-9:
        return None
    return centre[0] + out * ux, centre[1] + out * uz


PLANES: dict[str, tuple[Point, Point]] = {
    "pit": ((3.0, 1.2), (9.0, 1.2)),
    "tier": ((11.0, 1.7), (20.0, 3.7)),
    "balcony": ((14.0, 6.2), (20.0, 8.2)),
}


@pytest.mark.parametrize("serves", [("pit", "tier", "balcony"), ("tier",), ("pit", "tier")])
@pytest.mark.parametrize("tilt", [-50.0, -33.0, -20.0, -8.0, -2.0, 2.0, 30.0, -89.0])
def test_the_aim_point_is_the_first_served_plane_along_the_axis(
    serves: tuple[str, ...], tilt: float
) -> None:
    text = scene(
        seating=BLOCKS,
        speaker=f"serves = {json.dumps(serves)}",
        placement=f"height = 7.0\ntilt = {tilt}",
    )
    answer = evaluated(text)
    one = only(answer)
    found = {name: met(tilt, PLANES[name], (0.0, 7.0)) for name in serves}
    hits = [(seen(at, (0.0, 7.0))[0], name, at) for name, at in found.items() if at]
    if not hits:
        assert one["aim_point"] is one["aim_seating"] is one["aim_row"] is None
        return
    _, name, at = min(hits)
    assert one["aim_point"] == pytest.approx(at)
    assert one["aim_seating"] == name
    away = [seen((row["x_m"], row["z_m"]), at)[0] for row in answer["rows"]]
    assert away[one["aim_row"]] == pytest.approx(min(away))


# The uniform-level line and the departures


def test_departures_are_from_the_aim_points_level_and_its_line() -> None:
    answer = evaluated(scene())
    one = only(answer)
    aim = tuple(one["aim_point"])
    asked = own_design(aim, (0.0, 6.0), -20.0)
    for row, heard in zip(answer["rows"], mains(answer), strict=True):
        ear = (row["x_m"], row["z_m"])
        r, elevation = seen(ear, (0.0, 6.0))
        assert heard["departure_db"] == pytest.approx(
            mean(list(heard["levels_db"].values())) - asked, abs=FINE_DB
        )
        low, high = 1e-3, 1e3
        for _ in range(80):
            middle = math.sqrt(low * high)
            there = (
                middle * math.cos(math.radians(elevation)),
                6.0 + middle * math.sin(math.radians(elevation)),
            )
            low, high = (
                (middle, high) if own_design(there, (0.0, 6.0), -20.0) > asked else (low, middle)
            )
        assert heard["departure_m"] == pytest.approx(r - low, abs=6e-3)
        assert (heard["departure_m"] > 0) == (heard["departure_db"] < 0)


def test_the_line_goes_from_the_aim_point_to_the_coverage_edge_at_equal_level() -> None:
    for tilt, near in ((-20.0, -50.0), (-5.0, -35.0)):
        answer = evaluated(scene(placement=f"height = 6.0\ntilt = {tilt}"), aim__bands=[1000, 8000])
        one = only(answer)
        if one["aim_point"] is None:
            assert one["uniform_line"] is None
            continue
        points, edge = one["uniform_line"]["points"], one["uniform_line"]["edge"]
        assert points[0] == pytest.approx(one["aim_point"])
        assert points[-1] == pytest.approx(edge)
        assert seen(tuple(edge), (0.0, 6.0))[1] == pytest.approx(near, abs=1e-2)
        asked = None
        for at in points:
            value = mean([level(tuple(at), (0.0, 6.0), tilt, hz, own_lobe) for hz in (1000, 8000)])
            asked = value if asked is None else asked
            assert value == pytest.approx(asked, abs=2 * FINE_DB)


def test_in_shadow_the_level_counts_and_the_line_does_not() -> None:
    wall = '[[surface]]\nname = "rail"\nline = [[8.0, 0.0], [8.0, 2.6]]\n[[speaker]]'
    open_air, screened = evaluated(scene()), evaluated(scene().replace("[[speaker]]", wall))
    lost = 0.0
    for free, row in zip(mains(open_air), mains(screened), strict=True):
        shadow = mean(list(row["shadow_db"].values()))
        lost = max(lost, shadow)
        assert row["departure_m"] == pytest.approx(free["departure_m"], abs=1e-9)
        assert row["departure_db"] == pytest.approx(free["departure_db"] - shadow, abs=1e-9)
    assert lost > 3.0


# The shortcut, the window


def test_the_shortcut_is_the_axis_at_the_last_row_of_the_farthest_served_seating() -> None:
    for serves, last in (("pit", (9.0, 1.2)), ("tier", (20.0, 3.7))):
        text = scene(
            seating=BLOCKS, speaker=f'serves = ["{serves}"]', placement="height = 7.0\ntilt = -30.0"
        )
        short = only(evaluated(text))["shortcut"]
        _, elevation = seen(last, (0.0, 7.0))
        assert short["tilt_deg"] == pytest.approx(elevation)
        text = text.replace("tilt = -30.0", f"tilt = {elevation!r}")
        assert short["spread_db"] == pytest.approx(range_of(design(evaluated(text), serves)))


def test_the_farthest_last_row_is_farthest_from_the_acoustic_centre_in_whatever_order() -> None:
    blocks = [
        '[[seating]]\nname = "floor"\nline = [[4, 0], [20, 0]]\n',
        '[[seating]]\nname = "balcony"\nline = [[14, 8], [20, 10]]\n',
    ]
    for order in (blocks, blocks[::-1]):
        for height, last in ((2.0, (20.0, 11.2)), (11.0, (20.0, 1.2))):
            text = scene(seating="".join(order), placement=f"height = {height}\ntilt = 0.0")
            tilt = only(evaluated(text))["shortcut"]["tilt_deg"]
            assert tilt == pytest.approx(seen(last, (0.0, height))[1])


def test_in_the_window_no_tilt_costs_more_than_half_a_decibel_more() -> None:
    one = only(solved(scene(placement="height = [4.0, 8.0]")))
    low, high = one["window"]["tilt_deg"]
    assert low <= one["tilt_deg"] <= high
    assert one["window"]["within_db"] == 0.5
    place = f"height = {one['height_m']!r}\ntilt = "
    for k in range(21):
        tilt = low + (high - low) * k / 20
        cost = only(evaluated(scene(placement=place + repr(tilt))))["spread_db"] - one["spread_db"]
        assert cost <= 0.5 + 1e-3


def test_the_coverage_edge_is_towards_the_near_end_and_null_where_there_is_none() -> None:
    for pattern, tilt, found in (
        ("coverage = { above = 20, below = 40 }", -50.0, -90.0),
        ("coverage = 250", -50.0, -175.0),
        ("coverage = 60\nlowest_db = -6", -50.0, None),
    ):
        place = f"height = 6.0\ntilt = {tilt}"
        line = only(evaluated(scene(pattern=pattern, placement=place)))["uniform_line"]
        if found is None:
            assert line["edge"] is None
        else:
            assert seen(tuple(line["edge"]), (0.0, 6.0))[1] == pytest.approx(found, abs=2e-2)
    # From a low box on a flat floor the near end is above the axis.
    flat = '[[seating]]\nname = "t"\nline = [[4, 0], [18, 0]]'
    low = only(evaluated(scene(seating=flat, placement="height = 0.8\ntilt = 2.0")))
    assert seen(tuple(low["uniform_line"]["edge"]), (0.0, 0.8))[1] == pytest.approx(32.0, abs=0.02)
