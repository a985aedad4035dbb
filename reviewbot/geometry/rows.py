"""Row numbers, and the rows of arrays of a few columns."""

from __future__ import annotations

from typing import Any, TypeVar

import numpy as np
import numpy.typing as npt

from reviewbot.mesh import BoolArray, FloatArray, IndexArray

Rows = TypeVar("Rows", bound=npt.NDArray[Any])


def rows_where(mask: BoolArray) -> IndexArray:
    """(K,) int32 the rows that are true, rising."""
    return np.flatnonzero(mask).astype(np.int32)


def rows_at(values: Rows, index: npt.NDArray[np.integer[Any]]) -> Rows:
    """values[index] of points or UVs: in a third of the time, and other threads may run meanwhile.

    index  of any shape; -1 is the last row, as ever
    """
    return values.take(index, axis=0)  # type: ignore[return-value]


def lowest_and_highest(values: FloatArray) -> FloatArray:
    """(2, K) of each column of (N, K), N above 0: one by one, many times as fast as all at once."""
    return np.array([[column.min() for column in values.T], [column.max() for column in values.T]])


def row_lengths(values: FloatArray) -> FloatArray:
    """(N,) the length of each row of (N, K), K above 0: by columns, in a fifth of the time."""
    total = values[:, 0] * values[:, 0]
    for column in range(1, values.shape[1]):
        total += values[:, column] * values[:, column]
    return np.sqrt(total, out=total)


def rows_finite(values: FloatArray) -> BoolArray:
    """(N,) bool: neither nan nor infinity in the row. Columns are faster here than rows."""
    finite = np.ones(len(values), dtype=bool)
    for column in range(values.shape[1]):
        finite &= np.isfinite(values[:, column])
    return finite
