"""The array types that every room shares."""

from collections.abc import Iterable

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.intp]
BoolArray = npt.NDArray[np.bool_]


def frozen(values: npt.ArrayLike | Iterable[float]) -> FloatArray:
    """A read-only float64 copy, so that a value object cannot be changed from outside."""
    array = np.array(values, dtype=np.float64)
    array.setflags(write=False)
    return array
