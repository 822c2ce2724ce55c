"""The fixed words held from outside: what a file may not say."""

import pytest
from asked import evaluated, only, scene, solved

import aiming


def refused(text: str, **changes: object) -> list[str]:
    """Keys of the faults of a file."""
    named = {key.replace("__", "."): value for key, value in changes.items()}
    with pytest.raises(aiming.ScenarioError) as caught:
        aiming.load("-", stdin_text=text, changes=named)
    return [fault.key for fault in caught.value.faults]


@pytest.mark.parametrize(
    ("old", "new", "key"),
    [
        ("height = 6.0", "height = [7.0, 6.0]", "speaker.main.placement.height"),
        ("tilt = -20.0", "tilt = [10, -10]", "speaker.main.placement.tilt"),
        ("tilt = -20.0", "tilt = -90.5", "speaker.main.placement.tilt"),
        ("height = 6.0", "height = 6.0\nx = 100001", "speaker.main.placement.x"),
        ("[18.0, 1.4]", "[100001.0, 1.4]", "seating.tier.line.1.0"),
        ("coverage = 60", "coverage = 360", "speaker.main.pattern.coverage"),
        ("coverage = 60", "coverage = 0", "speaker.main.pattern.coverage"),
        ("coverage = 60", 'coverage = 181\nlobe = "piston"', "speaker.main.pattern.coverage"),
        ("coverage = 60", 'coverage = 60\nlobe = "cosine"', "speaker.main.pattern.lobe"),
        ("height = 6.0", "height = 6.0\ntrim = 5.0", "speaker.main.placement.trim"),
        ("height = 6.0", "height = nan", "speaker.main.placement.height"),
        ("height = 6.0", "height = inf", "speaker.main.placement.height"),
        ("height = 6.0", "height = '3,8 m'", "speaker.main.placement.height"),
        ("height = 6.0", "height = true", "speaker.main.placement.height"),
        ("coverage = 60", "coverage = 60\nfile = 'a.csv'", "speaker.main.pattern.coverage"),
        ('name = "main"', 'name = "main"\nserves = ["stalls"]', "speaker.main.serves.0"),
        ('name = "main"', 'name = "main"\nserves = []', "speaker.main.serves"),
        ('name = "main"', 'name = "main"\ncolour = "red"', "speaker.main.colour"),
        ('name = "main"', 'name = "main"\neq_db = { 1001 = 2 }', "speaker.main.eq_db.1001"),
        ('name = "tier"', 'name = "tier"\nrows = 5\nrow_spacing = 1', "seating.tier.row_spacing"),
        ('name = "tier"', 'name = "tier"\nrows = 100001', "seating.tier.rows"),
        ("height = 6.0", 'mount = "stacked"\nbase = 1.0', "speaker.main.placement.base"),
        ("tilt = -20.0", 'mount = "hung"', "speaker.main.placement.mount"),
        ("tilt = -20.0", 'orientation = "sideways"', "speaker.main.placement.orientation"),
    ],
)
def test_what_is_out_of_limits_is_a_fault_of_its_key(old: str, new: str, key: str) -> None:
    text = scene()
    assert text.count(old) == 1
    assert key in refused(text.replace(old, new))


@pytest.mark.parametrize(
    "more",
    [
        "schema = 2",
        'units = "yd"',
        "[aim]\nbands = []",
        "[aim]\nbands = [1000, 1000]",
        "[aim]\nbands = [1001]",
        '[aim]\nobjective = "best"',
        "[aim]\ngap_db = 0",
        "[aim]\nlower_if_within_db = -1",
        "[air]\nhumidity_percent = 101",
        "[wind]\nspeed = 2",
    ],
)
def test_wrong_tables_on_top_are_faults(more: str) -> None:
    assert len(refused(scene(more=more))) == 1


def test_limits_themselves_are_allowed() -> None:
    evaluated(scene(placement="x = -100000\nheight = 6.0\ntilt = -90"))
    evaluated(scene(pattern="coverage = 359.9"))
    evaluated(scene(pattern='coverage = 180\nlobe = "piston"'))
    assert only(solved(scene(placement="height = [6.0, 6.0]")))["height_m"] == 6.0
    seat = '[[seating]]\nname = "t"\nline = [[4, 0], [18, 0]]\nrows = 100000'
    assert aiming.load("-", stdin_text=scene(seating=seat)).title is not None
