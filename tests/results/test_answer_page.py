"""docs/answer.md: in step with its maker, and every answer made of what it says."""

import json
import re
import sys
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field
from operator import attrgetter
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from command_line import run
from onsite_scenes import SCENARIO
from paths import ROOT

import aiming
from aiming.results.answer import Answer
from aiming.site.ground_found import compare_on_ground
from aiming.site.ground_trial import ground_trial
from aiming.site.run import onsite
from aiming.sweep.figures import known_names

sys.path.insert(0, str(ROOT / "docs"))

import make_answer

FILES = [
    *sorted((ROOT / "scenarios").glob("*.toml")),
    *sorted((ROOT / "tests" / "data" / "scenarios" / "valid").glob("*.toml")),
]
BAR = """method = "one point"
picks = ["front", "rear"]
holes = [-0.35, -0.3]
holes_w = 0.6
"""
QUARRY = str(ROOT / "scenarios" / "quarry.toml")
BAND = re.compile(r"\d+(\.\d+)?")
NAMED = {
    "speakers[].lands_percent.seating": "NAME",
    "speakers[].lands_percent.surface": "NAME",
    "rows[].by_speaker": "SPEAKER",
    "choices[].set": "KEY",
    "best[]": "COLUMN",
    "fronts[].rows[]": "COLUMN",
    "left_out.reasons[].example": "COLUMN",
}
"""Tables whose keys a file or a command chooses."""


def is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def is_pair(value: object) -> bool:
    return isinstance(value, list) and len(value) == 2 and all(map(is_number, value))


def is_whole(value: object) -> bool:
    return isinstance(value, int) and not isinstance(value, bool)


def is_list_of(kind: Any) -> Any:
    return lambda value: isinstance(value, list) and all(map(kind, value))


KINDS = {
    "number": is_number,
    "whole number": is_whole,
    "text": lambda value: isinstance(value, str),
    "true or false": lambda value: isinstance(value, bool),
    "[x, z]": is_pair,
    "[u, w]": is_pair,
    "[low, high]": lambda value: is_pair(value) and value[0] <= value[1],
    "[least, most]": lambda value: is_pair(value) and value[0] <= value[1],
    "table": lambda value: isinstance(value, dict),
    "list of tables": is_list_of(lambda one: isinstance(one, dict)),
    "list of text": is_list_of(lambda one: isinstance(one, str)),
    "list of numbers": is_list_of(is_number),
    "list of whole numbers": is_list_of(is_whole),
    "list of numbers or nulls": is_list_of(lambda one: one is None or is_number(one)),
    "list of texts or nulls": is_list_of(lambda one: one is None or isinstance(one, str)),
    "list of [x, z]": is_list_of(is_pair),
    "value of a key": lambda value: isinstance(value, bool | str | list) or is_number(value),
    "value of a column": lambda value: isinstance(value, bool | str) or is_number(value),
}


def agrees(kind: str, value: object) -> bool:
    """Whether a value is of the kind that the page states."""
    if kind == "true, false or null":
        return value is None or isinstance(value, bool)
    if kind not in KINDS and kind.endswith(" or null"):
        return value is None or KINDS[kind.removesuffix(" or null")](value)
    return bool(KINDS[kind](value))


def by_name(path: str, value: object) -> bool:
    """Whether a value is a table whose keys are names or bands."""
    if not isinstance(value, dict) or path.endswith("[]"):
        return False
    return path in NAMED or (bool(value) and all(map(BAND.fullmatch, value)))


def walked(value: dict[str, Any], path: str = "") -> Iterator[tuple[str, Any]]:
    """Every path below a table, with its value; tables by band or name are passed through."""
    for key, one in value.items():
        named = "BAND" if BAND.fullmatch(key) else NAMED.get(path, key)
        below = f"{path}.{named}" if path else named
        if not by_name(below, one):
            yield below, one
        if isinstance(one, dict):
            yield from walked(one, below)
        for member in one if isinstance(one, list) else ():
            if isinstance(member, dict):
                yield from walked(member, f"{below}[]")


@dataclass
class Seen:
    """What the answers of a form hold, by path; and the answers themselves."""

    values: dict[str, list[Any]] = field(default_factory=lambda: defaultdict(list))
    answers: list[Answer] = field(default_factory=list)

    def take(self, data: dict[str, Any]) -> None:
        for path, value in walked(json.loads(json.dumps(data))):
            self.values[path].append(value)


def printed(*arguments: str, code: int = 0) -> dict[str, Any]:
    """What a command prints as JSON."""
    ended = run(*arguments, "--json", "--quiet")
    assert ended.code == code, ended.err
    data = json.loads(ended.out)
    assert isinstance(data, dict)
    return data


@pytest.fixture(scope="module")
def seen(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Seen]:
    """Answers of every form, each worked once."""
    found = {form: Seen() for form in make_answer.FIELDS if form != "columns"}
    for path in FILES:
        answer = aiming.solve(aiming.load(path))
        found["answer"].answers.append(answer)
        found["answer"].take(answer.to_dict())
    lines = aiming.load(ROOT / "tests/data/scenarios/valid/lines_and_loads_as_text.toml")
    found["answer"].take(aiming.evaluate(lines).to_dict())
    folder = tmp_path_factory.mktemp("site")
    (folder / "bar.toml").write_text(
        SCENARIO.replace('method = "two points"\npicks = ["front", "rear"]\n', BAR)
    )
    found["answer"].take(printed("evaluate", str(folder / "bar.toml"), code=3))
    none = printed("solve", QUARRY, "--set", "speaker.main.placement.tilt=60", code=3)
    assert not none["speakers"] and none["together"] is None
    found["answer"].take(none)
    (folder / "s.toml").write_text(SCENARIO)
    _on_site(found, str(folder / "s.toml"), folder)
    over = ("--over", "speaker.main.placement.height=6,6.5", "--over")
    tilt = (*over, "speaker.main.placement.tilt=-14:-10:2")
    found["sweep"].take(printed("what-if", QUARRY, *tilt))
    return found


def _levels(points: list[dict[str, Any]], off_db: float = 0.0) -> str:
    """Points as measured, the second off by something."""
    return "position,frequency_hz,level_db\n" + "".join(
        f"{one['name']},{band},{level + (off_db if k == 1 else 0.0)}\n"
        for k, one in enumerate(points)
        for band, level in one["levels_db"].items()
    )


def _on_site(found: dict[str, Seen], file: str, folder: Path) -> None:
    """As expected, with readings; with a level that nothing explains; hung lower, in a quiet yard,
    where the levels tell the width of the pattern too."""
    checks = printed("onsite", file)
    found["checks"].take(checks)
    measured, wrong, readings = folder / "m.csv", folder / "w.csv", folder / "r.csv"
    measured.write_text(_levels(checks["check_positions"]))
    wrong.write_text(_levels(checks["check_positions"], 12.0))
    readings.write_text(
        "reading,at,value,plus_minus\ninclinometer,axis,-15,0.3\nheight,acoustic centre,6 m,20 mm\n"
    )
    for further in ((str(measured), "--readings", str(readings)), (str(wrong),)):
        found["onsite"].take(printed("onsite", file, *further))
    scenario = aiming.load(file)
    lower = aiming.evaluate(aiming.load(file, changes={"speaker.main.placement.tilt": -20.0}))
    measured.write_text(_levels(lower.to_dict()["rows"]))
    found["onsite"].take(onsite(scenario, measured, site_db=0.1, band_db=0.1).to_dict())
    _more_on_site(found["onsite"], checks["check_positions"], file, folder)
    _with_phase(found, checks["check_positions"][:6], file, folder)
    found["ground"].take(printed("onsite", file, "--ground"))
    trial = ground_trial(scenario, scenario.speakers[0])
    measured.write_text(_levels(trial.to_dict()["points"]))
    found["tried"].take(printed("onsite", file, str(measured), "--ground"))
    found["tried"].take(compare_on_ground(trial, measured, site_db=0.2, band_db=0.3).to_dict())


def _more_on_site(found: Seen, points: list[dict[str, Any]], file: str, folder: Path) -> None:
    """Hung high in a move's reach; two files swapped; cells too heavy; a box weighed; a ripple."""
    measured, readings = folder / "more.csv", folder / "more_read.csv"
    higher = {"speaker.main.placement.height": 8.0}
    (folder / "open.toml").write_text(
        SCENARIO.replace("tilt = -15.0", "tilt = [-40, 10]").replace("height = 6.0", "height = 8.0")
    )
    opened = str(folder / "open.toml")
    plan = aiming.solve(aiming.load(opened)).speakers[0]
    tilt = plan.tilt_deg + 9.0
    high = aiming.evaluate(
        aiming.load(file, changes={**higher, "speaker.main.placement.tilt": tilt})
    )
    measured.write_text(_levels(high.to_dict()["rows"][::3]))
    readings.write_text(
        f"reading,at,value\ninclinometer,axis,{tilt:.2f}\nx,acoustic centre,0.05\n"
        "load,front,900 N\nload,rear,900 N\n"
    )
    found.take(printed("onsite", opened, str(measured), "--readings", str(readings), code=3))
    readings.write_text(f"reading,at,value\ninclinometer,axis,{tilt:.2f}\n")
    found.take(printed("onsite", opened, str(measured), "--readings", str(readings)))
    readings.write_text(
        "reading,at,value,plus_minus,tilt\n"
        "load,front,194.17 N,1 %,level\nload,rear,247.13 N,1 %,level\n"
        "load,front,139.70 N,1 %,-10\nload,rear,301.60 N,1 %,-10\n"
    )
    found.take(printed("onsite", file, "--readings", str(readings)))
    first, last = points[0]["name"], points[5]["name"]
    names = {first: last, last: first}
    swapped = [{**one, "name": names.get(one["name"], one["name"])} for one in points[:6]]
    measured.write_text(_levels([{**one, "levels_db": {b: v - 60.0 for b, v in
                                  one["levels_db"].items()}} for one in swapped]))  # fmt: skip
    found.take(printed("onsite", file, str(measured)))
    lines = np.geomspace(150.0, 12_000.0, 900)
    at = []
    for one in points[:3]:
        x, z = one["x_m"], one["z_m"]
        floor = 0.1 * (x - 4.0)
        down = 2.0 * (z - floor) / 1.01
        detour = np.hypot(x + 0.1 * down, z - down - 6.0) - np.hypot(x, z - 6.0)
        turn = np.exp(-2j * np.pi * lines * detour / 343.2)
        level = -30.0 + 20.0 * np.log10(np.abs(1.0 + 0.7 * turn))
        path = folder / f"{one['name'].replace(' ', '_')}.txt"
        np.savetxt(path, np.stack([lines, level], axis=1))
        at += ["--at", f"{one['name']}={path}"]
    found.take(printed("onsite", file, *at))


def _with_phase(
    found: dict[str, Seen], points: list[dict[str, Any]], file: str, folder: Path
) -> None:
    """Positions whose arrivals tell where they stood; a fill and its main, with phase and without;
    of the other polarity, and of neither."""
    f = np.geomspace(150.0, 12_000.0, 300)

    def trace(name: str, ms: float, turned_deg: float = 0.0, *, phase: bool = True) -> str:
        table = [f, np.full(300, -20.0)]
        if phase:
            table.append((turned_deg - 0.36 * f * ms + 180.0) % 360.0 - 180.0)
        path = folder / f"{name}.txt"
        np.savetxt(path, np.stack(table, axis=1))
        return str(path)

    at = [f"{one['name']}={trace(one['name'], one['distance_m'] / 0.3432)}" for one in points]
    found["onsite"].take(printed("onsite", file, *(word for one in at for word in ("--at", one))))
    house = str(ROOT / "scenarios" / "theatre_balcony_delay.toml")
    for turned, phase in ((0.0, True), (180.0, True), (90.0, True), (0.0, False)):
        main, fill = trace("main", 3.0, phase=phase), trace("fill", 12.0, turned, phase=phase)
        two = ("--at", f"main={main}", "--at", f"balcony delay={fill}")
        found["fitted"].take(printed("onsite", house, "--handover", *two))


def test_the_page_is_in_step_with_its_maker() -> None:
    page = (ROOT / "docs" / "answer.md").read_text(encoding="utf-8")
    assert page == make_answer.markdown(), "run: python docs/make_answer.py"


@pytest.mark.parametrize("form", [form for form in make_answer.FIELDS if form != "columns"])
def test_every_path_is_described_and_every_description_met(
    seen: dict[str, Seen], form: str
) -> None:
    described, met = set(make_answer.FIELDS[form]), set(seen[form].values)
    assert met - described == set(), "not described"
    assert described - met == set(), "described, and never there"


@pytest.mark.parametrize("form", [form for form in make_answer.FIELDS if form != "columns"])
def test_every_value_is_of_the_kind_that_is_stated(seen: dict[str, Seen], form: str) -> None:
    for path, values in seen[form].values.items():
        kind, _ = make_answer.FIELDS[form][path]
        wrong = [one for one in values if not agrees(kind, one)]
        assert not wrong, f"{path}: {kind}: {wrong[0]!r}"


def test_what_may_be_null_says_when_and_what_is_never_is_stated_so() -> None:
    for fields in make_answer.FIELDS.values():
        for path, (kind, meaning) in fields.items():
            if fields is make_answer.FIELDS["columns"] or path.endswith("COLUMN"):
                continue
            if path.endswith("found_db.BAND"):
                continue
            assert ("null" in kind) == bool(re.search(r"\bnulls?\b", meaning)), path


def test_a_position_s_levels_are_re_the_first(seen: dict[str, Seen]) -> None:
    for answer in seen["answer"].answers:
        for one in answer.to_dict()["speakers"]:
            for level in one["check_positions"][0]["levels_db"].values():
                assert level == 0.0


def test_severities_are_the_three_that_are_named(seen: dict[str, Seen]) -> None:
    assert set(seen["answer"].values["cautions[].severity"]) == {"stop", "caution", "note"}


def test_the_columns_are_those_that_a_sweep_knows() -> None:
    names = [name.replace("1000", "BAND") for name in known_names((1000.0,))]
    assert sorted(make_answer.FIELDS["columns"]) == sorted(names)


@pytest.mark.parametrize("path", make_answer.PYTHON)
def test_what_differs_in_python_is_there(seen: dict[str, Seen], path: str) -> None:
    there, _ = make_answer.PYTHON[path]
    assert path in make_answer.FIELDS["answer"]
    assert there != path
    whole = attrgetter(there.replace("speakers[].", ""))
    met = 0
    for answer in seen["answer"].answers:
        for one in answer.speakers if there.startswith("speakers[].") else (answer,):
            try:
                met += whole(one) is not None
            except AttributeError as error:
                assert "NoneType" in str(error)
    assert met
