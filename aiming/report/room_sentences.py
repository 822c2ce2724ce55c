"""What the summary says of the room: where sound lands, what surfaces send back, who sees what."""

import numpy as np

from ..answer.model import Answer, SpeakerAnswer
from ..scenario.scenario import Scenario
from ..units import length_text
from .sentences import Sentence
from .words import rows_text

_NAMED_PERCENT = 5.0
"""Surfaces that get less are not named."""


def lands_sentence(one: SpeakerAnswer) -> Sentence | None:
    """Which share of its sound in the section lands where."""
    if one.misses is None:
        return None
    lands = one.misses.landing
    seating, surface, beneath, nowhere = (
        100.0 * of.mean(axis=0).sum()
        for of in (
            lands.seating,
            lands.surface,
            lands.beneath[:, np.newaxis],
            lands.nowhere[:, np.newaxis],
        )
    )
    if not np.isfinite(seating):
        return None
    text = f"{seating:.0f} % of its sound in the section on seating"
    if len(one.misses.scenario.surfaces):
        each = 100.0 * lands.surface.mean(axis=0)
        named = [
            f"{one.misses.scenario.surfaces[index].name} {each[index]:.0f} %"
            for index in np.argsort(-each, kind="stable")[:3]
            if each[index] >= _NAMED_PERCENT
        ]
        text += f", {surface:.0f} % on surfaces" + (f" ({', '.join(named)})" if named else "")
    if beneath >= 1.0:
        text += f", {beneath:.0f} % on the undersides of floors"
    return "lands", f"{text}, {nowhere:.0f} % past everything."


def points_sentence(one: SpeakerAnswer) -> Sentence | None:
    """The strongest reflection at each watched point."""
    misses = one.misses
    if misses is None or not misses.scenario.points:
        return None
    found, rows, texts = misses.reflections, len(misses.scenario.rows), []
    level = found.level_db.mean(axis=0)
    for index, point in enumerate(misses.scenario.points):
        here = np.flatnonzero((found.point == rows + index) & np.isfinite(level))
        if len(here) == 0:
            texts.append(f"{point.name}: no first reflection in the section")
            continue
        worst = int(here[np.argmax(level[here])])
        texts.append(
            f"{point.name}: off {misses.scenario.surfaces[int(found.surface[worst])].name} "
            f"{found.delay_ms[worst]:.0f} ms after the direct sound, {abs(level[worst]):.1f} dB "
            f"{'softer' if level[worst] < 0.0 else 'louder'} than it"
        )
    return "points", "; ".join(texts) + "."


def sight_sentence(scenario: Scenario, answer: Answer, one: SpeakerAnswer) -> Sentence | None:
    """Who sees the focus past the cabinet, how high it seems, what it is near."""
    room, unit = one.room, scenario.units
    if room is None or (scenario.focus is None and scenario.aim.max_front_elevation_deg is None):
        return None
    parts = [f"seen {room.front_elevation_deg:.0f}° up from the front row"]
    if room.hidden_rows is not None and scenario.speaker(one.name).cabinet is not None:
        lost = [int(row) for row in room.hidden_rows]
        parts.append(
            f"it takes the focus from {rows_text(scenario, answer, lost)}"
            if lost
            else "it takes the focus from no row"
        )
    if room.over_heads_m is not None:
        parts.append(f"{length_text(room.over_heads_m, unit)} over heads")
    if room.surface.distance_m is not None:
        parts.append(f"{length_text(room.surface.distance_m, unit)} from {room.surface.name}")
    return "view", "; ".join(parts) + "."
