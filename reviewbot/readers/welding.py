"""Rows of equal value as one entry, for formats that repeat a point for every use of it."""

from __future__ import annotations

from reviewbot.geometry.exact import exact_places
from reviewbot.mesh import FloatArray, IndexArray


def distinct_rows(values: FloatArray) -> tuple[FloatArray, IndexArray]:
    """The distinct rows of (N, K) in the order they first stand, and which of them each row is."""
    place, first = exact_places(values)
    return values[first], place
