"""Small convex quadratic programmes, several at once, by an interior-point method.

Each of (n,) programmes: make ½ x·H·x + c·x small with G·x ≤ h.  Mehrotra's predictor and corrector
(S. Mehrotra, "On the implementation of a primal-dual interior point method", SIAM Journal on
Optimization 2, 1992; from memory), dense, with every programme taking the same number of steps.
"""

import numpy as np

from ..base.arrays import FloatArray

STEPS = 30
_DONE = 1e-10
_BACK = 0.995


def minimum(
    hessian: FloatArray | None, slope: FloatArray, normal: FloatArray, bound: FloatArray
) -> FloatArray:
    """(n, k) the smallest of each programme.

    hessian: (n, k, k), None for linear programmes; slope: (n, k); normal: (n, m, k); bound: (n, m)
    The programmes must have an inside; one without is answered by whatever was reached.
    """
    count, rows, size = normal.shape
    x = np.zeros((count, size))
    slack = np.maximum(bound, 1.0)
    price = np.ones((count, rows))
    across = normal.transpose(0, 2, 1)
    ridge = 1e-11 * np.eye(size)
    for _ in range(STEPS):
        dual = slope + _times(across, price)
        if hessian is not None:
            dual = dual + _times(hessian, x)
        primal = _times(normal, x) + slack - bound
        mean = (slack * price).mean(axis=1)
        if max(mean.max(), np.abs(primal).max(), np.abs(dual).max()) < _DONE:
            break
        weight = price / slack
        matrix = across @ (weight[..., np.newaxis] * normal)
        scale = np.trace(matrix, axis1=1, axis2=2)[:, np.newaxis, np.newaxis] / size
        matrix = matrix + ridge * np.maximum(scale, 1.0)
        if hessian is not None:
            matrix = matrix + hessian

        def step(target: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
            """Newton's step towards slack·price = what `target` leaves of it."""
            right = _times(across, target / slack - weight * primal) - dual
            to_x = np.linalg.solve(matrix, right[..., np.newaxis])[..., 0]
            to_slack = -primal - _times(normal, to_x)
            return to_x, to_slack, -(target + price * to_slack) / slack

        _, near_slack, near_price = step(slack * price)
        share = np.minimum(_most(slack, near_slack), _most(price, near_price))[:, np.newaxis]
        ahead = ((slack + share * near_slack) * (price + share * near_price)).mean(axis=1)
        centring = (ahead / np.maximum(mean, 1e-300)) ** 3
        target = slack * price + near_slack * near_price - (centring * mean)[:, np.newaxis]
        to_x, to_slack, to_price = step(target)
        primal_share = _BACK * _most(slack, to_slack)[:, np.newaxis]
        dual_share = _BACK * _most(price, to_price)[:, np.newaxis]
        if hessian is not None:
            primal_share = dual_share = np.minimum(primal_share, dual_share)
        x = x + primal_share * to_x
        slack = np.maximum(slack + primal_share * to_slack, 1e-14)
        price = np.maximum(price + dual_share * to_price, 1e-14)
    return x


def _times(matrix: FloatArray, vector: FloatArray) -> FloatArray:
    return np.asarray((matrix @ vector[..., np.newaxis])[..., 0])


def _most(value: FloatArray, step: FloatArray) -> FloatArray:
    """(n,) the largest share of the step, at most 1 / _BACK, that keeps every value positive."""
    ratio = np.where(step < 0.0, -value / np.where(step < 0.0, step, -1.0), np.inf)
    return np.minimum(ratio.min(axis=1), 1.0 / _BACK)
