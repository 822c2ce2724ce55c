"""Changes by dotted key: --set, changes=, variants and sweeps share one addressing."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from paths import TESTS

from aiming.base.errors import ScenarioError
from aiming.scenario import Scenario, load, parse_set, rebuilt, variant
from aiming.scenario.address import AddressError, key_text, parts_of, quoted

VALID = TESTS / "data" / "scenarios" / "valid"
QUARRY = VALID / "quarry.toml"
EVERYTHING = VALID / "everything.toml"


@pytest.fixture(scope="module")
def quarry() -> Scenario:
    return load(QUARRY)


@pytest.mark.parametrize(
    ("text", "key", "value"),
    [
        ("speaker.main.placement.height=6", "speaker.main.placement.height", 6),
        ("a.b = [4.5, 8]", "a.b", [4.5, 8]),
        ("a=12 ft 6 in", "a", "12 ft 6 in"),
        ('a="6 m"', "a", "6 m"),
        ("a=flipped", "a", "flipped"),
        ("a=true", "a", True),
        ("a=", "a", ""),
        ("a=1\nb=2", "a", "1\nb=2"),
        ("a=x=y", "a", "x=y"),
        ('seating."a = b".ears=1.3', 'seating."a = b".ears', 1.3),
        ("a={ above = 20, below = 40 }", "a", {"above": 20, "below": 40}),
    ],
)
def test_parse_set(text: str, key: str, value: object) -> None:
    assert parse_set(text) == (key, value)


@pytest.mark.parametrize("text", ["", "=", "=3", "height", '"a=b', "  =1"])
def test_parse_set_refuses(text: str) -> None:
    with pytest.raises(ScenarioError, match=r"^--set: text: .*KEY=VALUE"):
        parse_set(text)


@pytest.mark.parametrize("key", ["", ".", "a.", ".a", "a..b", 'a."b', "a]b", "a=b"])
def test_broken_keys(key: str) -> None:
    with pytest.raises(AddressError, match="dotted key"):
        parts_of(key)


@pytest.mark.parametrize("key", ['a."b\\q"', 'a."\x00\\n"', '"\\"'])
def test_broken_escapes(key: str) -> None:
    with pytest.raises(AddressError):
        parts_of(key)


@settings(deadline=None, derandomize=True)
@given(st.lists(st.text(st.characters(codec="utf-8")), min_size=1, max_size=4))
def test_quoted_parts_read_back(parts: list[str]) -> None:
    assert parts_of(".".join(quoted(part) for part in parts)) == tuple(parts)


KEYS = st.lists(
    st.sampled_from(
        ["speaker", "main", "placement", "height", "seating", "lower tier", "line", "0", "1",
         "eq_db", "1000", "air", "aim", "bands", "variant", "set", "name", "datum", "x y", ""]
    ),
    min_size=1, max_size=5,
).map(lambda parts: ".".join(quoted(part) for part in parts))  # fmt: skip
VALUES = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=5),
    lambda below: st.lists(below, max_size=3) | st.dictionaries(st.text(max_size=3), below),
    max_leaves=4,
)


@settings(deadline=None, derandomize=True, max_examples=150)
@given(st.dictionaries(KEYS, VALUES, min_size=1, max_size=3))
def test_any_change_is_made_or_refused(changes: dict[str, object]) -> None:
    try:
        scenario = load(QUARRY, changes=changes)
    except ScenarioError as error:
        assert all("\n" not in str(fault) for fault in error.faults)
    else:
        assert np.isfinite(scenario.rows.z_m).all()


def test_paths_are_shown_as_they_are_addressed() -> None:
    document = load(EVERYTHING).document
    path = ("seating", 1, "ears")
    assert key_text(document, path) == 'seating."balcony, rear".ears'
    assert key_text(document, ("seating", 0, "line", 1, 0)) == "seating.stalls.line.1.0"


def test_change_of_every_kind(quarry: Scenario) -> None:
    changed = rebuilt(
        quarry,
        {
            "speaker.main.placement.tilt": (-20, np.float64(5.0)),
            'seating."lower tier".ears': "standing",
            "seating.lower tier.line.1.0": 20,
            "speaker.main.output.sensitivity_db": {"1000": 90, "2000": 91, "4000": 92, "8000": 93},
            "speaker.main.eq_db.1000": 1.5,
            "speaker.0.gain_db": -2,
            "air.humidity_percent": 30,
            "speaker.main.cabinet.picks.front.wll_kn": 1.0,
        },
    )
    speaker = changed.speakers[0]
    assert speaker.hang.tilt_deg == (-20.0, 5.0)
    assert changed.seatings[0].ear_height_m == 1.6
    assert changed.rows.x_m[-1] == 20.0
    # Beyond the bands of the table the sensitivity is not known.
    assert list(speaker.offset_db[:4]) == [89.5, 89.0, 90.0, 93.0]
    assert np.isnan(speaker.offset_db[4:]).all()
    assert changed.air.humidity_percent == 30.0
    assert speaker.cabinet is not None
    assert speaker.cabinet.pick("front").wll_n == 1000.0
    assert changed.document["speaker"][0]["gain_db"] == -2
    # The first scenario is untouched.
    assert quarry.speakers[0].hang.tilt_deg == (-60.0, 20.0)
    assert quarry.document["air"]["humidity_percent"] == 50.0


def test_the_variant_of_a_flown_box_on_a_stage(quarry: Scenario) -> None:
    hang = variant(quarry, "stacked on the stage").speakers[0].hang
    assert (hang.mount, hang.vertical, hang.vertical_m) == ("stacked", "height", (1.9, 1.9))
    with_trim = rebuilt(quarry, {"speaker.main.placement.trim": [4, 7]})
    assert with_trim.speakers[0].hang.vertical == "trim"
    assert variant(with_trim, "stacked on the stage").speakers[0].hang == hang
    with pytest.raises(KeyError):
        variant(quarry, "nowhere")


def test_rivals_give_way(quarry: Scenario) -> None:
    stack = {"speaker.main.placement.mount": "stacked", "speaker.main.placement.base": "1.2 m"}
    stacked = rebuilt(quarry, stack)
    assert stacked.speakers[0].hang.vertical_m == (1.2, 1.2)
    assert stacked.base_m == {"main": 1.2}
    both = rebuilt(quarry, {**stack, "speaker.main.placement.height": 2.0})
    assert both.speakers[0].hang.vertical == "height"
    assert both.base_m == {"main": 1.2}
    flown = rebuilt(stacked, {"speaker.main.placement.mount": "flown",
                              "speaker.main.placement.trim": 5})  # fmt: skip
    assert flown.base_m == {}
    everything = load(EVERYTHING, changes={"speaker.main.pattern.coverage": 60})
    assert everything.speaker("main").coverage_only
    rows = load(EVERYTHING, changes={"seating.stalls.row_spacing": 1.0})
    assert rows.seatings[0].row_count is None
    gone = rebuilt(quarry, {"speaker.main.rigging": None})
    assert gone.rigging == {}


@pytest.mark.parametrize(
    ("key", "value", "fault"),
    [
        ("speaker.main.placement.hight", 3, 'unknown key "hight"; did you mean "height"?'),
        ("speeker.main.placement.height", 3, 'unknown key "speeker"; did you mean "speaker"?'),
        ("speaker.mian.placement.height", 3, 'no speaker "mian"; did you mean "main"?'),
        ("speaker.5.gain_db", 3, 'no speaker "5"; there is main'),
        ('seating."upper tier".ears', 3, 'no seating "upper tier"; did you mean "lower tier"?'),
        ("speaker.main.placement.height", [4, 3], "[4, 3]; "),
        ("speaker.main.placement.height", "3,8 m", 'as in "3.8 m"'),
        ("speaker.main.placement.height", float("nan"), "nan; "),
        ("speaker.main.placement.base", 1.0, 'a base without mount = "stacked"; '),
        ("speaker.main.pattern.coverage.above", 3, "coverage is 60; "),
        ("seating.lower tier.line.7", [1, 2], 'no seating."lower tier".line "7"'),
        ("speaker.main.pattern.file", "box.csv", 'no file "box.csv"'),
        ("a..b", 3, "dotted key"),
    ],
)
def test_a_fault_in_a_change_names_it_as_its_place(key: str, value: object, fault: str) -> None:
    with pytest.raises(ScenarioError) as caught:
        load(QUARRY, changes={key: value})
    assert len(caught.value.faults) == 1
    assert str(caught.value).startswith("--set: ")
    assert fault in str(caught.value)


def test_the_files_own_faults_keep_their_place() -> None:
    text = QUARRY.read_text(encoding="utf-8").replace("gain_db = 0.0", 'gain_db = "0"')
    with pytest.raises(ScenarioError) as caught:
        load("-", stdin_text=text, changes={"units": "yd"})
    assert [fault.file for fault in caught.value.faults] == ["-", "--set"]
    line = next(n for n, one in enumerate(text.split("\n"), 1) if "gain_db" in one)
    assert (caught.value.faults[0].line, caught.value.faults[0].column) == (line, 1)
    # A change may put the file right.
    assert load("-", stdin_text=text, changes={"speaker.main.gain_db": 1}).speakers[0].gain_db == 1


def test_a_missing_file_is_the_files_fault_under_any_change() -> None:
    text = '[[seating]]\nname = "f"\nsurvey = "none.csv"\n[[speaker]]\nname = "m"\n' \
        "pattern.coverage = 60\nplacement.height = 4\n"  # fmt: skip
    with pytest.raises(ScenarioError) as caught:
        load("-", stdin_text=text, changes={"speaker.m.placement.height": 5})
    assert str(caught.value).startswith('-:3:1: seating.f.survey: no file "none.csv"')


def test_a_fault_in_a_variant_names_the_variant(quarry: Scenario) -> None:
    with pytest.raises(ScenarioError, match=r'^variant "x": speaker\.main\.placement\.tilt'):
        rebuilt(quarry, {"speaker.main.placement.tilt": 91}, changes_from='variant "x"')
