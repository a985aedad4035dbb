"""Runs of numbers."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import numpy.typing as npt

Integers = npt.NDArray[np.signedinteger]


def ranges(lengths: Integers) -> Integers:
    """0, 1, 2 ... up to each length, one after the other."""
    ends = np.cumsum(lengths, dtype=np.int64)
    total = int(ends[-1]) if len(ends) else 0
    return np.asarray(np.arange(total) - np.repeat(ends - lengths, lengths))


def run_starts(values: Integers) -> Integers:
    """Rows whose value is another than that of the row before; the first row is one."""
    starts = np.ones(len(values), dtype=bool)
    np.not_equal(values[1:], values[:-1], out=starts[1:])
    return np.flatnonzero(starts)


def runs_of(sizes: Integers, most: int) -> Iterator[slice]:
    """Runs of rows whose sizes add up to at most `most`, or of one row that is larger."""
    total = np.cumsum(sizes, dtype=np.int64)
    begin = 0
    while begin < len(sizes):
        done = int(total[begin - 1]) if begin else 0
        end = max(int(np.searchsorted(total, done + most, side="right")), begin + 1)
        yield slice(begin, end)
        begin = end
