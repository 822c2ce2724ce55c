"""Scenario files: loaded; what stands is solved, explained and written as JSON."""

import json
import tomllib
from copy import deepcopy
from functools import lru_cache
from pathlib import Path
from random import Random
from typing import Any

from .case import Case, Kind, Options
from .documents import break_document, toml_text
from .texts import broken_bytes, broken_text, encoded

TESTS = Path(__file__).resolve().parents[1]
SHIPPED = TESTS.parent / "scenarios"
VALID = TESTS / "data" / "scenarios" / "valid"
MOST_ROWS = 400
"""Rows of all loudspeakers together, up to which a scenario is solved: a large one takes long and
is no other."""


@lru_cache
def good_texts() -> tuple[str, ...]:
    """Every scenario that is known to be sound."""
    files = [*sorted(SHIPPED.glob("*.toml")), *sorted(VALID.glob("*.toml"))]
    return tuple(path.read_text(encoding="utf-8") for path in files)


@lru_cache
def _documents() -> tuple[dict[str, Any], ...]:
    return tuple(tomllib.loads(text) for text in good_texts())


def beside() -> dict[str, bytes]:
    """The files that the scenarios name, by their path from the scenario."""
    files = {}
    for root in (VALID, SHIPPED):
        for path in sorted(root.rglob("*")):
            if path.is_file() and path.suffix != ".toml":
                files[path.relative_to(root).as_posix()] = path.read_bytes()
    return files


def make(chance: Random) -> Case:
    """Half broken as documents, the others as text or bytes.

    One in three is to be solved where it stands, and one in three of these explained: loading
    takes a tenth of solving, and solving a third of explaining.
    """
    way = chance.random()
    options = {"solved": chance.random() < 0.33, "explained": chance.random() < 0.33}
    if way < 0.55:
        document = deepcopy(chance.choice(_documents()))
        break_document(document, [chance.choice(_documents())], chance)
        return Case(encoded(toml_text(document), chance), options)
    text = chance.choice(good_texts())
    if way < 0.85:
        return Case(encoded(broken_text(text, chance), chance), options)
    return Case(broken_bytes(text.encode(), chance), options)


def read(path: Path, options: Options) -> None:
    """As `aiming solve` does, with five variants loaded and both kinds of output."""
    import aiming
    from aiming.analysis.complete import complete
    from aiming.report.json_text import json_text
    from aiming.report.text.summary import summary_text
    from aiming.scenario import variant

    scenario = aiming.load(path)
    for one in scenario.variants[:5]:
        variant(scenario, one.name)
    large = len(scenario.rows) * len(scenario.speakers) > MOST_ROWS
    if large or not options.get("solved", True):
        return
    answer = aiming.solve(scenario)
    json.loads(json_text(answer.to_dict()), parse_constant=_no_number)
    answer = complete(answer) if options.get("explained", True) else answer
    summary_text(answer).encode()


def _no_number(name: str) -> float:
    raise AssertionError(f"{name} in the JSON")


KIND = Kind("scenario", ".toml", make, read, beside)
