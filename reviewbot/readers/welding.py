"""Rows of equal value as one entry, for formats that repeat a point for every use of it."""

from __future__ import annotations

import numpy as np

from reviewbot.geometry.weld import exact_places
from reviewbot.mesh import FloatArray, IndexArray


def distinct_rows(values: FloatArray) -> tuple[FloatArray, IndexArray]:
    """The distinct rows of (N, K) in the order they first stand, and which of them each row is."""
    place, first = exact_places(np.ascontiguousarray(values, dtype=np.float64))
    order = np.argsort(first, kind="stable")
    rank = np.empty(len(first), dtype=np.int32)
    rank[order] = np.arange(len(first), dtype=np.int32)
    return values[first[order]], rank[place]
