"""The enclosures of a whole question: every displacement of a tolerance, and what hangs under."""

from dataclasses import replace

import numpy as np

from .boxes import Boxes, X
from .enclosure import Enclosure, enclose_source, own_source, view_of
from .enclosure_sum import enclose_with_under
from .pose import Pose
from .problem import Problem


def enclose(problem: Problem, boxes: Boxes, at: Pose) -> Enclosure:
    """The affine enclosures of all rows; low is NaN where a row is surely unknown.

    Where the objective is taken at several displacements, each has its own channels, one after the
    other: a displacement moves the centre of a box and leaves its unknowns as they are.
    """
    parts = []
    for off in problem.around:
        centre = boxes.centre.copy()
        centre[:, X] += off.x_m
        there = replace(
            at, tilt=at.tilt + np.radians(off.tilt_deg), height=at.height + off.height_m
        )
        moved = replace(boxes, centre=centre)
        if problem.under is None:
            view = view_of(moved, there)
            parts.append(enclose_source(problem, own_source(problem), view, view.active()))
        else:
            parts.append(enclose_with_under(problem, moved, there))
    if len(parts) == 1:
        return parts[0]
    return Enclosure(
        const=np.concatenate([part.const for part in parts], axis=1),
        gen=np.concatenate([part.gen for part in parts], axis=2),
        low=np.concatenate([part.low for part in parts], axis=1),
        high=np.concatenate([part.high for part in parts], axis=1),
        active=parts[0].active,
    )
