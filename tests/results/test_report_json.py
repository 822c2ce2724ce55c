"""The JSON text: strict, whole, in full precision, and the same names as in Python."""

import json
import math
from dataclasses import replace

import answers
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from aiming.report.json_text import json_text
from aiming.results.answer import Answer

PLAIN = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(10**9), 10**9)
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(), inner, max_size=4),
    max_leaves=20,
)


@settings(deadline=None, derandomize=True)
@given(st.dictionaries(st.text(), PLAIN, max_size=5))
def test_reads_back_exactly(data: dict[str, object]) -> None:
    text = json_text(data)
    assert json.loads(text) == data
    assert list(json.loads(text)) == list(data)
    assert text.endswith("}\n")


def test_letters_stay_letters() -> None:
    assert json_text({"title": "Salle d'été 劇場"}) == '{\n"title": "Salle d\'été 劇場"\n}\n'


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_refuses_what_json_has_no_word_for(value: float) -> None:
    with pytest.raises(ValueError, match="JSON"):
        json_text({"a": [{"b": value}]})


def test_rows_and_cautions_have_a_line_each() -> None:
    answer = answers.hall_answer()
    lines = json_text(answer.to_dict()).splitlines()
    assert sum(line.startswith('  {"name": ') and '"seating"' in line for line in lines) == 17
    assert sum(line.startswith('  {"code": ') for line in lines) == len(answer.cautions)


def test_unknown_levels_are_null() -> None:
    answer = answers.hall_answer()
    levels = answer.rows.levels_db.copy()
    levels[:, 2] = np.nan
    rows = replace(answer.rows, levels_db=levels, design_level_db=levels.mean(axis=0))
    found = json.loads(json_text(replace(answer, rows=rows).to_dict()))
    assert found["rows"][2]["design_level_db"] is None
    assert set(found["rows"][2]["levels_db"].values()) == {None}
    assert found["rows"][3]["design_level_db"] == answer.rows.design_level_db[3]


def test_names_are_those_of_the_python_object() -> None:
    answer = answers.hall_answer()
    found = json.loads(json_text(answer.to_dict()))
    one, speaker = found["speakers"][0], answer.speakers[0]
    for name in ("x_m", "height_m", "trim_m", "tilt_deg", "spread_db", "gap_db"):
        assert one[name] == getattr(speaker, name)
    assert isinstance(answer, Answer) and found["schema"] == 1
    assert list(one["by_band"]) == ["1000", "2000", "4000", "8000"]
