"""One loudspeaker over one floor, held in any way: scenarios for tests of loads and cautions."""

import aiming
from aiming.results.answer import Answer, Caution

PLACE = "height = 4.0\ntilt = -10"
BOX = """
mass_kg = 26.0
outline = [[-0.38, -0.20], [0.02, -0.20], [0.02, 0.44], [-0.38, 0.44]]
centre_of_gravity = [-0.17, 0.08]
laser_at = [-0.02, 0.44]
picks = [{ name = "front", at = [-0.06, 0.44], wll_kg = 130 },
         { name = "rear", at = [-0.34, 0.44], wll_kg = 130 },
         { name = "front, base", at = [-0.06, -0.20], wll_kg = 130 },
         { name = "rear, base", at = [-0.34, -0.20], wll_kg = 130 }]
"""
TWO = 'method = "two points"\npicks = ["front", "rear"]\n'


def scene(
    *,
    placement: str = PLACE,
    cabinet: str = BOX,
    upright: str = TWO,
    flipped: str = "",
    more: str = "",
    line: str = "[[3.0, 0.0], [15.0, 0.0]]",
    top: str = "",
    datum: str = "stage front edge, hall floor",
) -> str:
    """The file's text; upright and flipped are rigging tables, more goes to the end."""
    text = f"""{top}
[datum]
name = "{datum}"
[[seating]]
name = "floor"
line = {line}
[[speaker]]
name = "main"
pattern.coverage = 60
[speaker.placement]
{placement}
"""
    for name, body in (
        ("cabinet", cabinet),
        ("rigging.upright", upright),
        ("rigging.flipped", flipped),
    ):
        if body:
            text += f"[speaker.{name}]\n{body}\n"
    return text + more


def solved(**parts: str) -> Answer:
    """The answer of a scene; evaluates where it leaves nothing open."""
    return aiming.solve(aiming.load("-", stdin_text=scene(**parts)))


def codes(answer: Answer) -> list[str]:
    return [one.code for one in answer.cautions]


def told(answer: Answer, code: str) -> Caution:
    """The only caution with this code."""
    [found] = [one for one in answer.cautions if one.code == code]
    return found
