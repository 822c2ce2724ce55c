"""Loose pieces of a drawing, joined end to end into lines."""

from collections import defaultdict
from dataclasses import dataclass

import numpy as np

from ..arrays import FloatArray, IntArray

JOIN_M = 1e-3
"""Ends this close are one point: drawings are snapped, so a wider gap is a gap."""


@dataclass(frozen=True, eq=False)
class Chains:
    """Lines that pieces joined into, in the order in which the pieces came.

    lines_m: each (n, 2); the first point equals the last where the line is closed
    branches_m: (k, 2) points where more than two pieces meet; lines end there
    """

    lines_m: tuple[FloatArray, ...]
    branches_m: FloatArray


def joined(pieces_m: list[FloatArray]) -> Chains:
    """Pieces (n, 2) joined where their ends meet within JOIN_M.

    Pieces without length are left out, and so is a piece that lies exactly on another.
    """
    pieces = [piece for piece in pieces_m if np.ptp(piece, axis=0).max() > JOIN_M]
    if not pieces:
        return Chains((), np.zeros((0, 2)))
    ends = np.array([[piece[0], piece[-1]] for piece in pieces])
    node = _nodes(ends.reshape(-1, 2)).reshape(-1, 2)
    kept = _without_twins(pieces, node)
    at: dict[int, list[int]] = defaultdict(list)
    for piece in kept:
        for end in node[piece]:
            at[int(end)].append(piece)
    place = {int(n): ends[p, e] for p in reversed(kept) for e, n in enumerate(node[p])}

    free = dict.fromkeys(kept)
    lines: list[FloatArray] = []

    def follow(start: int) -> None:
        """One line from this node, through every node where exactly two pieces meet."""
        points: list[FloatArray] = []
        here = start
        while True:
            piece = next((p for p in at[here] if p in free), None)
            if piece is None:
                break
            del free[piece]
            first, last = (int(n) for n in node[piece])
            forward = first == here
            run = pieces[piece] if forward else pieces[piece][::-1]
            points.append(run if not points else run[1:])
            here = last if forward else first
            if len(at[here]) != 2 or here == start:
                break
        line = np.concatenate(points)
        if here == start:  # a ring, which rounding may have left open
            line[-1] = line[0]
        lines.append(line)

    # Open lines first, from their ends; what is left then are rings.
    for piece in kept:
        for end in (int(n) for n in node[piece]):
            while len(at[end]) != 2 and any(p in free for p in at[end]):
                follow(end)
    while free:
        follow(int(node[next(iter(free))][0]))
    branches = [place[n] for n, meet in at.items() if len(meet) > 2]
    return Chains(tuple(lines), np.array(branches).reshape(-1, 2))


def _nodes(points_m: FloatArray) -> IntArray:
    """(n,) one number for all points within JOIN_M of the first of them."""
    unique, back = np.unique(points_m, axis=0, return_inverse=True)
    cells: dict[tuple[int, int], list[int]] = defaultdict(list)
    number = np.arange(len(unique))
    for index, ((x, z), (i, j)) in enumerate(
        zip(unique.tolist(), np.floor(unique / JOIN_M).astype(int).tolist(), strict=True)
    ):
        near = (
            other
            for near_i in (i - 1, i, i + 1)
            for near_j in (j - 1, j, j + 1)
            for other in cells.get((near_i, near_j), ())
            if np.hypot(unique[other, 0] - x, unique[other, 1] - z) <= JOIN_M
        )
        found = next(near, None)
        if found is None:
            cells[i, j].append(index)
        else:
            number[index] = found
    return np.asarray(number[back.reshape(-1)])


def _without_twins(pieces: list[FloatArray], node: IntArray) -> list[int]:
    """Indices of the pieces, of exact twins (drawn twice, either way round) only the first."""
    seen: set[tuple[object, ...]] = set()
    kept = []
    for index, (piece, ends) in enumerate(zip(pieces, node.tolist(), strict=True)):
        middle = tuple(np.round(piece.mean(axis=0) / JOIN_M).tolist()) if len(piece) > 2 else ()
        twin = (*sorted(ends), len(piece), middle)
        if twin not in seen:
            seen.add(twin)
            kept.append(index)
    return kept
