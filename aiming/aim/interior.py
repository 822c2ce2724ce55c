"""Small convex quadratic programmes, many at once, by an interior-point method.

Each of (n,) programmes: make ½ x·H·x + c·x small with G·x ≤ h, and low ≤ x ≤ high for its first
unknowns.  Mehrotra's predictor and corrector (S. Mehrotra, "On the implementation of a primal-dual
interior point method", SIAM Journal on Optimization 2, 1992; from memory), dense, with every
programme taking the same number of steps.
"""

from dataclasses import dataclass

import numpy as np

from ..base.arrays import FloatArray

STEPS = 30
_BACK = 0.995


@dataclass(frozen=True, eq=False)
class Minimum:
    """x: (n, k) the smallest; price: (n, m) what each row of G costs, none negative.

    boxed_price: what low and high cost, of a start the same for all
    """

    x: FloatArray
    price: FloatArray
    boxed_price: float = 1.0


@dataclass(frozen=True, eq=False)
class _Rows:
    """The rows of G, and those of low and high, as one matrix that is not written out."""

    normal: FloatArray
    across: FloatArray
    boxed: int

    def times(self, x: FloatArray) -> FloatArray:
        """(n, m + 2·boxed) of x (n, k)."""
        own = (self.normal @ x[..., np.newaxis])[..., 0]
        return np.concatenate([own, x[:, : self.boxed], -x[:, : self.boxed]], axis=1)

    def back(self, y: FloatArray) -> FloatArray:
        """(n, k) the transposed product."""
        rows, boxed = self.normal.shape[1], self.boxed
        x = (self.across @ y[:, :rows, np.newaxis])[..., 0]
        x[:, :boxed] += y[:, rows : rows + boxed] - y[:, rows + boxed :]
        return np.asarray(x)

    def squared(self, weight: FloatArray) -> FloatArray:
        """(n, k, k) the weighted product with itself."""
        rows, boxed = self.normal.shape[1], self.boxed
        matrix = (self.across * weight[:, np.newaxis, :rows]) @ self.normal
        place = np.arange(boxed)
        matrix[:, place, place] += weight[:, rows : rows + boxed] + weight[:, rows + boxed :]
        return np.asarray(matrix)


@dataclass(frozen=True, eq=False)
class _State:
    """One step's place: x, slack and price of every row, and what is not yet met."""

    rows: _Rows
    slack: FloatArray
    price: FloatArray
    primal: FloatArray
    dual: FloatArray
    matrix: FloatArray

    def step(self, target: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Newton's step that takes `target` off slack·price."""
        right = self.rows.back((target - self.price * self.primal) / self.slack) - self.dual
        x = np.asarray(np.linalg.solve(self.matrix, right[..., np.newaxis])[..., 0], np.float64)
        slack = -self.primal - self.rows.times(x)
        return x, slack, -(target + self.price * slack) / self.slack


def minimum(
    hessian: FloatArray | None,
    slope: FloatArray,
    normal: FloatArray,
    bound: FloatArray,
    low: FloatArray,
    high: FloatArray,
    *,
    start: Minimum | None = None,
    accuracy: float = 1e-10,
    steps: int = STEPS,
) -> Minimum:
    """The smallest of each programme.

    hessian: (n, k, k), None for linear programmes; slope: (n, k); normal: (n, m, k); bound: (n, m)
    low, high: (n, boxed) of the first unknowns
    start: where to set out; slacks there are held off nothing
    The programmes must have an inside; one without is answered by whatever was reached.
    """
    size, boxed = normal.shape[2], low.shape[1]
    rows = _Rows(normal, np.ascontiguousarray(normal.transpose(0, 2, 1)), boxed)
    limit = np.concatenate([bound, high, -low], axis=1)
    x = np.zeros_like(slope) if start is None else start.x
    slack = np.maximum(limit - rows.times(x), 1.0 if start is None else 0.1)
    price = np.ones_like(limit)
    if start is not None:
        price[:, : bound.shape[1]] = start.price
        price[:, bound.shape[1] :] = start.boxed_price
    place = np.arange(size)
    for _ in range(steps):
        dual = slope + rows.back(price)
        if hessian is not None:
            dual = dual + (hessian @ x[..., np.newaxis])[..., 0]
        primal = rows.times(x) + slack - limit
        mean = (slack * price).sum(axis=1) / limit.shape[1]
        if max(mean.max(), np.abs(primal).max(), np.abs(dual).max()) < accuracy:
            break
        matrix = rows.squared(price / slack)
        scale = matrix[:, place, place].max(axis=1, keepdims=True)
        matrix[:, place, place] += 1e-12 * np.maximum(scale, 1.0)
        if hessian is not None:
            matrix += hessian
        at = _State(rows, slack, price, primal, dual, matrix)
        _, near_slack, near_price = at.step(slack * price)
        share = np.minimum(_most(slack, near_slack), _most(price, near_price))[:, np.newaxis]
        ahead = ((slack + share * near_slack) * (price + share * near_price)).sum(axis=1)
        ahead /= limit.shape[1]
        centring = mean * np.minimum(ahead / mean, 1.0) ** 3
        to_x, to_slack, to_price = at.step(
            slack * price + near_slack * near_price - centring[:, np.newaxis]
        )
        primal_share = _BACK * _most(slack, to_slack)[:, np.newaxis]
        dual_share = _BACK * _most(price, to_price)[:, np.newaxis]
        if hessian is not None:
            primal_share = dual_share = np.minimum(primal_share, dual_share)
        x = x + primal_share * to_x
        slack = np.maximum(slack + primal_share * to_slack, 1e-14)
        price = np.maximum(price + dual_share * to_price, 1e-14)
    return Minimum(x, price[:, : bound.shape[1]])


def _most(value: FloatArray, step: FloatArray) -> FloatArray:
    """(n,) the largest share of the step, at most 1 / _BACK, that keeps every value positive."""
    return np.asarray(1.0 / np.maximum(-(step / value).min(axis=1), _BACK))
