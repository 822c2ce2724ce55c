"""The same house told another way: moved, in feet, mirrored, turned, split; what differs then."""

from collections.abc import Callable, Iterator
from copy import deepcopy
from dataclasses import replace
from typing import Any

import numpy as np
from generated_scenes import Scene, Table

FOOT_M = 0.3048
EARS_M = {"seated": 1.2, "standing": 1.6}
VERTICALS = ("height", "trim")


def by_length(value: Any, change: Callable[[float], float]) -> Any:
    """A number, or each of a range."""
    return [change(of) for of in value] if isinstance(value, list) else change(value)


def upside_down(value: Any) -> Any:
    """A number or a range, negated."""
    return sorted(-of for of in value) if isinstance(value, list) else -value


def ear_m(block: Table) -> float:
    """Ear height of a seating."""
    ears = block.get("ears", "seated")
    return EARS_M[ears] if ears in EARS_M else float(ears)


def moved(scene: Scene, x_m: float, z_m: float) -> Scene:
    """Seen from an origin that lies elsewhere."""
    document = deepcopy(scene.document)
    for line in [of["line"] for of in document["seating"] + document.get("surface", [])]:
        line[:] = [[x + x_m, z + z_m] for x, z in line]
    for speaker in document["speaker"]:
        at = speaker["placement"]
        at["x"] = by_length(at["x"], lambda x: x + x_m)
        for key in set(at) & set(VERTICALS):
            at[key] = by_length(at[key], lambda z: z + z_m)
    return replace(scene, document=document)


def in_feet(scene: Scene) -> Scene:
    """Every length in feet; heights as people write them, feet and inches."""

    def feet(value: Any) -> Any:
        return [feet(of) for of in value] if isinstance(value, list) else value / FOOT_M

    def said(length_m: float) -> str:
        sign, inches = "-" if length_m < 0.0 else "", abs(length_m) / FOOT_M * 12.0
        return f"{sign}{int(inches // 12)} ft {inches % 12.0:.12f} in"

    document: Table = {**deepcopy(scene.document), "units": "ft"}
    for block in document["seating"] + document.get("surface", []):
        block["line"] = feet(block["line"])
        if "row_spacing" in block:
            block["row_spacing"] = feet(block["row_spacing"])
        if not isinstance(block.get("ears", ""), str):
            block["ears"] = feet(block["ears"])
    for speaker in document["speaker"]:
        at, box = speaker["placement"], speaker.get("cabinet", {})
        at["x"] = feet(at["x"])
        for key in set(at) & set(VERTICALS):
            at[key] = [said(z) for z in at[key]] if isinstance(at[key], list) else said(at[key])
        for key in set(box) & {"outline", "centre_of_gravity", "laser_at"}:
            box[key] = feet(box[key])
        if "picks" in box:
            box["picks"] = [{**pick, "at": feet(pick["at"])} for pick in box["picks"]]
        for held in speaker.get("rigging", {}).values():
            held["extra_at"] = feet(held["extra_at"])
    return replace(scene, document=document)


def mirrored(scene: Scene) -> Scene:
    """z → −z: the ears keep their lines, so floors end on the other side; boxes are turned over."""
    document = deepcopy(scene.document)
    for block in document["seating"]:
        block["line"] = [[x, -z - 2.0 * ear_m(block)] for x, z in block["line"]]
    document.pop("surface", None)
    for speaker in document["speaker"]:
        at = speaker["placement"]
        at["height"], at["tilt"] = upside_down(at["height"]), upside_down(at["tilt"])
        flipped = at.get("orientation", "upright") == "flipped"
        at["orientation"] = "upright" if flipped else "flipped"
    return replace(scene, document=document)


def turned(scene: Scene, by_deg: float) -> Scene | None:
    """Straight blocks turned about the first box, its tilt with them; None where rows run back."""
    document = deepcopy(scene.document)
    at = document["speaker"][0]["placement"]
    cosine, sine = np.cos(np.radians(by_deg)), np.sin(np.radians(by_deg))
    for block in document["seating"]:
        line, ear = block["line"], ear_m(block)
        for point in line:
            dx, dz = point[0] - at["x"], point[1] + ear - at["height"]
            point[0] = float(at["x"] + dx * cosine - dz * sine)
            point[1] = float(at["height"] + dx * sine + dz * cosine - ear)
        if line[1][0] < line[0][0] + 0.1:
            return None
        block["rows"] = block.pop("rows", 5)
    document.pop("surface", None)
    at["tilt"] += by_deg
    return replace(scene, document=document) if abs(at["tilt"]) <= 90.0 else None


def straight(scene: Scene) -> Scene:
    """Blocks that run straight from their first row to their last, five rows in each."""
    blocks = [
        {**block, "line": [block["line"][0], block["line"][-1]], "rows": block.get("rows", 5)}
        for block in scene.document["seating"]
    ]
    for block in blocks:
        block.pop("row_spacing", None)
    return scene.with_(seating=blocks)


def split(scene: Scene, after: int) -> Scene:
    """The first block, straight, as two that share the row of this number."""
    first, *others = straight(scene).document["seating"]
    (x0, z0), (x1, z1) = first["line"]
    share = after / (first["rows"] - 1)
    middle = [x0 + share * (x1 - x0), z0 + share * (z1 - z0)]
    parts = [
        {**first, "line": [[x0, z0], middle], "rows": after + 1},
        {**first, "name": "more", "line": [middle, [x1, z1]], "rows": first["rows"] - after},
    ]
    return scene.with_(seating=[*parts, *others])


def built_over(scene: Scene) -> Scene:
    """The first box built upside down: pattern, body and rigging with it; it then hangs flipped."""
    document = deepcopy(scene.document)
    main = document["speaker"][0]
    coverage = main["pattern"].get("coverage")
    if isinstance(coverage, dict):
        main["pattern"]["coverage"] = {"above": coverage["below"], "below": coverage["above"]}
    files = {}
    for name, text in scene.files.items():
        head, *rows = text.splitlines()
        turned_rows = [row.partition(",") for row in rows]
        lines = [f"{-float(angle)!r},{levels}" for angle, _, levels in turned_rows][::-1]
        files[name] = "\n".join([head, *lines, ""])
    box = main.get("cabinet", {})
    for key in set(box) & {"centre_of_gravity", "laser_at"}:
        box[key] = [box[key][0], -box[key][1]]
    if box:
        box["outline"] = [[u, -w] for u, w in box["outline"]]
        box["picks"] = [{**pick, "at": [pick["at"][0], -pick["at"][1]]} for pick in box["picks"]]
    held = main.get("rigging")
    if held:
        main["rigging"] = {"upright": held["flipped"], "flipped": held["upright"]}
    other = {"upright": "flipped", "flipped": "upright", "either": "either"}
    at = main["placement"]
    at["orientation"] = other[at["orientation"]]
    return replace(scene, document=document, files=files)


def given(scene: Scene, share: float) -> Scene:
    """Every range closed to the number this far along it; "either" to upright."""
    at = dict(scene.speaker["placement"])
    for key, value in at.items():
        if isinstance(value, list):
            at[key] = value[0] + share * (value[1] - value[0])
    if at["orientation"] == "either":
        at["orientation"] = "upright"
    if "tilt" in at and abs(at["tilt"]) > 85.0:
        at["tilt"] = 0.0
    return scene.placed(**at)


def differences(
    one: Any, other: Any, *, within: float = 0.0, but: frozenset[str] = frozenset(), path: str = ""
) -> Iterator[str]:
    """Where two answers (as plain data) differ by more than `within`; keys in `but` aside."""
    if isinstance(one, dict) and isinstance(other, dict):
        for key in sorted({*one, *other} - but):
            if key in one and key in other:
                yield from differences(
                    one[key], other[key], within=within, but=but, path=f"{path}.{key}"
                )
            else:
                yield f"{path}.{key}: in one only"
    elif isinstance(one, list) and isinstance(other, list) and len(one) == len(other):
        for number, (a, b) in enumerate(zip(one, other, strict=True)):
            yield from differences(a, b, within=within, but=but, path=f"{path}[{number}]")
    elif isinstance(one, float | int) and isinstance(other, float | int):
        if not abs(one - other) <= within:
            yield f"{path}: {one!r} and {other!r}"
    elif one != other:
        yield f"{path}: {one!r} and {other!r}"
