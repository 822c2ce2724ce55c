"""Laser stations tied into one survey: least squares, and how far it fails to close.

A shot from a station S to a point P measures the whole displacement in the section,

    P − S = (±d·cos i, d·sin i) + (0, instrument height − target height),

so one common point ties two stations, and every further one checks them.  The least-squares problem
is linear; every shot counts alike.
"""

from dataclasses import dataclass

import numpy as np

from ..arrays import BoolArray, FloatArray, IntArray


@dataclass(frozen=True, eq=False)
class Net:
    """What was measured.

    station, point: (shots,) index into stations and points
    step_m: (shots, 2) x, z from the station's mark to the point
    station_m, point_m: (stations, 2), (points, 2) where known beforehand, NaN elsewhere
    """

    station: IntArray
    point: IntArray
    step_m: FloatArray
    station_m: FloatArray
    point_m: FloatArray


@dataclass(frozen=True, eq=False)
class Tied:
    """The net, adjusted.

    reached: (stations,) whether the station hangs together with a known place
    point_m: (points, 2); NaN where a point was not reached
    closing_m: how far the worst redundant shot misses the place that the shots before it, in the
        order of the file, gave its point; None where no shot is redundant
    closing_shot: that shot
    residual_m: what is left of that at most at any shot once it is spread over all
    """

    reached: BoolArray
    point_m: FloatArray
    closing_m: float | None
    closing_shot: int
    residual_m: float


def tied(net: Net) -> Tied:
    """Least-squares places of all points, and the closing error."""
    station, point, carried = net.station_m.copy(), net.point_m.copy(), []
    waiting = list(range(len(net.step_m)))
    while waiting:
        left = []
        for shot in waiting:
            s, p = net.station[shot], net.point[shot]
            if np.isnan(station[s, 0]) and np.isnan(point[p, 0]):
                left.append(shot)
            elif np.isnan(station[s, 0]):
                station[s] = point[p] - net.step_m[shot]
            elif np.isnan(point[p, 0]):
                point[p] = station[s] + net.step_m[shot]
            else:
                carried.append(shot)
        if len(left) == len(waiting):
            break
        waiting = left
    reached = ~np.isnan(station[:, 0])
    if not carried:
        return Tied(reached, point, None, -1, 0.0)
    miss = station[net.station[carried]] + net.step_m[carried] - point[net.point[carried]]
    gap = np.hypot(*miss.T)
    worst = int(np.argmax(gap))
    point, residual = _adjusted(net, station, point, reached)
    return Tied(reached, point, float(gap[worst]), carried[worst], residual)


def _adjusted(
    net: Net, station_m: FloatArray, point_m: FloatArray, reached: BoolArray
) -> tuple[FloatArray, float]:
    """Least squares about the carried places; points shot once follow their station."""
    stations, points = len(station_m), len(point_m)
    free_station = np.isnan(net.station_m[:, 0]) & reached
    free_point = np.isnan(net.point_m[:, 0]) & ~np.isnan(point_m[:, 0])
    once = np.bincount(net.point, minlength=points) == 1
    used = np.flatnonzero(reached[net.station] & ~(once & free_point)[net.point])
    column = np.full(stations + points, -1)
    unknown = np.flatnonzero(np.concatenate([free_station, free_point & ~once]))
    column[unknown] = np.arange(len(unknown))
    matrix = np.zeros((len(used), len(unknown)))
    for nodes, sign in ((net.station, -1.0), (net.point + stations, 1.0)):
        at = column[nodes[used]]
        matrix[np.flatnonzero(at >= 0), at[at >= 0]] = sign
    miss = net.step_m[used] - (point_m[net.point[used]] - station_m[net.station[used]])
    moved = np.linalg.lstsq(matrix, miss, rcond=None)[0]
    change = np.zeros((stations + points, 2))
    change[unknown] = moved
    residual = np.hypot(*(miss - matrix @ moved).T).max(initial=0.0)
    point = point_m + change[stations:]
    for shot in np.flatnonzero((once & free_point)[net.point] & reached[net.station]):
        point[net.point[shot]] += change[net.station[shot]]
    return point, float(residual)
