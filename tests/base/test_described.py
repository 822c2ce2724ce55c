"""What a field holds, and what a limit is, said once where it is declared."""

from dataclasses import dataclass, field
from typing import Annotated

import numpy as np

from aiming.base.arrays import FloatArray
from aiming.base.described import BY_BAND, Keyed, Kind, Named, described
from aiming.base.limit import Limit


def ball() -> type:
    """A class that nobody has asked of before."""

    @dataclass(frozen=True)
    class Ball:
        mass_kg: Annotated[float, "with its skin, kg"]
        rings: Annotated[tuple[int, ...], Named("circles"), Kind("numbers"), "the outermost first"]
        level_db: Annotated[FloatArray, BY_BAND, "at 1 m"]
        marks: Annotated[dict[str, float], Keyed("COLOUR"), "by colour"]
        unsaid: Annotated[float, Kind("number")] = 0.0
        skin: FloatArray = field(default_factory=lambda: np.zeros(3))

        @property
        def weight_n(self) -> Annotated[float, "standing still, N"]:
            return 9.8 * self.mass_kg

        @property
        def plain(self) -> float:
            return 0.0

    return Ball


def test_a_field_stands_as_it_is_declared() -> None:
    cls = ball()
    found = described(cls)
    assert described(cls) is found
    assert [one.attribute for one in found] == ["mass_kg", "rings", "level_db", "marks", "weight_n"]
    assert [one.name for one in found] == ["mass_kg", "circles", "level_db", "marks", "weight_n"]
    assert [one.by_band for one in found] == [False, False, True, False, False]
    assert [one.kind for one in found] == [None, "numbers", None, None, None]
    assert [one.keyed_by for one in found] == ["NAME", "NAME", "NAME", "COLOUR", "NAME"]
    assert found[0].meaning == "with its skin, kg" and found[0].type is float
    assert found[4].meaning == "standing still, N"


def test_whose_a_limit_is_and_how_its_figure_is_marked() -> None:
    angle = Limit("flat", 30.0, "deg above horizontal", "flattest leg", "published rule", "X 30.9")
    ours = Limit("near", 0.8, "of the load", "close", "ours", "our own; no source", (0.0, 1.0))
    assert (angle.mark, angle.basis) == ("°", "published rule: X 30.9")
    assert (ours.mark, ours.basis) == ("of the load", "our own; no source")
    assert angle.span is None
