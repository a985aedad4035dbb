"""Things that belong together, from pairs that do."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from scipy.sparse import csr_array
from scipy.sparse.csgraph import connected_components

from reviewbot.mesh import BoolArray, IndexArray


def joined_labels(count: int, left: IndexArray, right: IndexArray) -> IndexArray:
    """(count,) int32 group of each of `count` things, numbered 0..G-1 without gaps.

    left, right  (J,) each: things that belong together, pair by pair, and so do chains of them
    """
    # Compressed rows of float64 are what the search works on: all else would be turned into them.
    order = np.argsort(left, kind="stable")
    start = np.append(0, np.cumsum(np.bincount(left, minlength=count))).astype(np.int32)
    graph = csr_array((np.ones(len(left)), right[order], start), shape=(count, count))
    return np.asarray(connected_components(graph, directed=False)[1], dtype=np.int32)


def renumbered(labels: IndexArray) -> IndexArray:
    """The same groups numbered without gaps, in the order of their old numbers."""
    if not len(labels):
        return labels
    used = np.zeros(int(labels.max()) + 1, dtype=np.int32)
    used[labels] = 1
    return np.asarray((np.cumsum(used, dtype=np.int32) - 1)[labels], dtype=np.int32)


def has_repeats(keys: npt.NDArray[np.uint64]) -> bool:
    """Whether any value is there twice: a plain sort tells it sooner than one that keeps rows."""
    ordered = np.sort(keys)
    return bool((ordered[1:] == ordered[:-1]).any())


def lot_is_mixed(lot: IndexArray, owner: IndexArray) -> BoolArray:
    """(N,) bool: another owner has something in the same lot; lots are numbered from 0."""
    lowest = np.full(int(lot.max(initial=-1)) + 1, len(owner), dtype=np.int64)
    highest = np.full_like(lowest, -1)
    np.minimum.at(lowest, lot, owner)
    np.maximum.at(highest, lot, owner)
    return np.asarray(lowest[lot] != highest[lot])
