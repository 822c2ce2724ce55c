"""The fixed words held from outside: the scenario file, its defaults, lengths and addresses."""

import json
from pathlib import Path

import pytest
from asked import FULL, Plain, design, evaluated, mains, only, scene, solved
from command_line import run
from outside import write


def told(folder: Path, text: str, *more: str, command: str = "evaluate") -> Plain:
    """The answer on the command line."""
    ended = run(command, write(folder, text), *more, "--json")
    assert ended.code in (0, 3), ended.err
    return dict(json.loads(ended.out))


def test_the_whole_file_is_read(tmp_path: Path) -> None:
    answer = told(tmp_path, FULL, command="solve")
    one = only(answer)
    assert answer["schema"] == 1
    assert answer["title"] == "Quarry amphitheatre, summer readings"
    assert 4.5 <= one["height_m"] <= 8.0
    assert -60.0 <= one["tilt_deg"] <= 20.0
    assert [row["name"] for row in answer["rows"]][:3] == ["A", "B", "3"]


def test_what_is_left_out_takes_its_default() -> None:
    given = """
[air]
temperature_c = 20.0
humidity_percent = 50.0
pressure_kpa = 101.325
[aim]
bands = [1000, 2000, 4000, 8000]
objective = "spread"
axis_on_audience = true
gap_db = 0.05
lower_if_within_db = 0.5
"""
    seat = '[[seating]]\nname = "tier"\nline = [[4.0, 0.0], [18.0, 1.4]]\n'
    more = 'ears = "seated"\nrow_spacing = 0.9\nweight = 1.0\n'
    speaker = 'serves = ["tier"]\ngain_db = 0.0\ndelay_ms = 0.0'
    pattern = 'coverage = 60\nlobe = "quadratic"\nlowest_db = -24'
    place = (
        'mount = "flown"\nx = 0.0\nheight = [4.0, 8.0]\ntilt = [-90, 90]\norientation = "upright"'
    )
    whole = scene(
        seating=seat + more,
        speaker=speaker,
        pattern=pattern,
        placement=place,
        more=f"schema = 1\nunits = 'm'\n{given}",
    )
    bare = scene(placement="height = [4.0, 8.0]")
    assert solved(whole) == solved(bare)


@pytest.mark.parametrize(
    ("written", "metres"),
    [
        ("20", 6.096),
        ('"20 ft"', 6.096),
        ('"12 ft 6 in"', 3.81),
        ('"12\'6\\""', 3.81),
        ('"3.8 m"', 3.8),
        ('"4240 mm"', 4.24),
        ('"150 in"', 3.81),
    ],
)
def test_lengths_are_read_as_people_write_them(written: str, metres: float) -> None:
    text = scene(placement=f"height = {written}\ntilt = -20", more='units = "ft"')
    answer = evaluated(text)
    assert only(answer)["height_m"] == pytest.approx(metres, rel=1e-12)
    assert answer["rows"][0]["x_m"] == pytest.approx(4.0 * 0.3048, rel=1e-12)
    assert answer["rows"][0]["z_m"] == pytest.approx(1.2, rel=1e-12)


def test_feet_and_metres_give_the_same_answer() -> None:
    foot = 0.3048
    tier = '[[seating]]\nname = "tier"\nline = [[{near}, 0], [{far}, {rise}]]\n'
    tier += "row_spacing = {spacing}\nears = {ears}"
    feet = scene(
        placement="height = [12, 24]",
        more='units = "ft"',
        seating=tier.format(near=12, far=60, rise=4.5, spacing=3, ears=4),
    )
    metre = scene(
        placement=f"height = [{12 * foot}, {24 * foot}]",
        seating=tier.format(
            near=12 * foot, far=60 * foot, rise=4.5 * foot, spacing=3 * foot, ears=4 * foot
        ),
    )
    ours, theirs = only(solved(feet)), only(solved(metre))
    assert ours["tilt_deg"] == pytest.approx(theirs["tilt_deg"], abs=1e-6)
    assert ours["height_m"] == pytest.approx(theirs["height_m"], abs=1e-6)
    assert ours["spread_db"] == pytest.approx(theirs["spread_db"], abs=1e-6)


@pytest.mark.parametrize(
    ("ears", "height"),
    [('"seated"', 1.2), ('"standing"', 1.6), ("1.35", 1.35), ('"1350 mm"', 1.35)],
)
def test_ears_are_named_or_a_length(ears: str, height: float) -> None:
    seat = f'[[seating]]\nname = "t"\nline = [[4, 0], [18, 0]]\nears = {ears}'
    assert evaluated(scene(seating=seat))["rows"][0]["z_m"] == pytest.approx(height)


def test_a_surface_shadows_a_row() -> None:
    wall = '[[surface]]\nname = "wall"\nline = [[10.0, 0.0], [10.0, 5.0]]\n[[speaker]]'
    free, hidden = evaluated(scene()), evaluated(scene().replace("[[speaker]]", wall))
    lost = [a - b for a, b in zip(design(free), design(hidden), strict=True)]
    assert lost[0] == pytest.approx(0.0, abs=1e-9)
    assert min(lost[8:12]) > 5.0


# Addresses

SPACED = scene(seating='[[seating]]\nname = "lower tier"\nline = [[4.0, 0.0], [18.0, 1.4]]')


@pytest.mark.parametrize("key", ['seating."lower tier".ears', "seating.'lower tier'.ears"])
def test_a_name_with_a_space_is_quoted(tmp_path: Path, key: str) -> None:
    assert told(tmp_path, SPACED, "--set", f"{key}=2.0")["rows"][0]["z_m"] == pytest.approx(2.0)


@pytest.mark.parametrize(
    ("value", "height"),
    [("standing", 1.6), ('"standing"', 1.6), ("2", 2.0), ("1350 mm", 1.35), ("4 ft 6 in", 1.3716)],
)
def test_a_set_value_is_toml_or_else_a_string(tmp_path: Path, value: str, height: float) -> None:
    answer = told(tmp_path, SPACED, "--set", f'seating."lower tier".ears={value}')
    assert answer["rows"][0]["z_m"] == pytest.approx(height)


def test_set_reaches_lists_tables_and_bands(tmp_path: Path) -> None:
    sets = [
        "speaker.main.placement.height=[4, 5]",
        "aim.bands=[31.5, 8000]",
        'speaker.main.eq_db={ "31.5" = 3.0 }',
        "title=Tuesday = rehearsal",
        "speaker.main.pattern.coverage={ above = 20, below = 50 }",
    ]
    more = [part for one in sets for part in ("--set", one)]
    answer = told(tmp_path, SPACED, *more, command="solve")
    assert 4.0 <= only(answer)["height_m"] <= 5.0
    assert list(only(answer)["by_band"]) == ["31.5", "8000"]
    assert answer["title"] == "Tuesday = rehearsal"
    band = told(
        tmp_path,
        SPACED,
        "--set",
        "aim.bands=[31.5, 8000]",
        "--set",
        'speaker.main.eq_db."31.5"=3.0',
    )
    base = told(tmp_path, SPACED, "--set", "aim.bands=[31.5, 8000]")
    gain = mains(band)[0]["levels_db"]["31.5"] - mains(base)[0]["levels_db"]["31.5"]
    assert gain == pytest.approx(3.0)


def test_what_is_set_on_a_wrong_key_is_refused(tmp_path: Path) -> None:
    for key in (
        "speaker.side.placement.height=3",
        "speaker.main.placement.hight=3",
        "nonsense=1",
        "speaker.main.placement.height",
    ):
        ended = run("evaluate", write(tmp_path, SPACED), "--set", key)
        assert ended.code == 2
        assert not ended.out
        assert ended.err


def test_variants_share_the_addresses(tmp_path: Path) -> None:
    text = (
        SPACED
        + """
[[variant]]
name = "stacked on the stage"
[variant.set]
"speaker.main.placement.mount" = "stacked"
"speaker.main.placement.height" = 1.9
'seating."lower tier".ears' = "standing"
"""
    )
    answer = told(tmp_path, text, "--variant", "stacked on the stage")
    one = only(answer)
    assert (one["mount"], one["height_m"]) == ("stacked", 1.9)
    assert answer["rows"][0]["z_m"] == pytest.approx(1.6)
    assert only(told(tmp_path, text))["mount"] == "flown"
    wrong = text.replace('"speaker.main.placement.mount"', '"speaker.main.placement.mounted"')
    assert run("check", write(tmp_path, wrong)).code == 2


def test_band_keys_are_the_shortest_decimal() -> None:
    answer = evaluated(scene(more="[aim]\nbands = [31.5, 63, 125, 1000, 12500]"))
    assert list(answer["rows"][0]["levels_db"]) == ["31.5", "63", "125", "1000", "12500"]


def test_a_drawing_or_a_survey_may_give_the_line(tmp_path: Path) -> None:
    write(tmp_path, "x,z\n4.0,0.0\n18.0,1.4\n", "survey.csv")
    text = scene(seating='[[seating]]\nname = "tier"\nsurvey = "survey.csv"')
    ended = run("evaluate", write(tmp_path, text), "--json")
    if ended.code == 2:
        pytest.fail(ended.err)
    surveyed = json.loads(ended.out)
    assert [row["z_m"] for row in surveyed["rows"]] == pytest.approx(
        [row["z_m"] for row in evaluated(scene())["rows"]]
    )
