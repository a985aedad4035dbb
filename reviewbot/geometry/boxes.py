"""Flat boxes that overlap, without looking at every pair."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from reviewbot.geometry.ranges import ranges, runs_of
from reviewbot.mesh import FloatArray, IndexArray


def overlapping_boxes(box: FloatArray, *, limit: int = 1 << 24) -> IndexArray:
    """(P, 2) int32 pairs of boxes that share some area, each once, the lower row first.

    box    (N, 2, 2) float64 lowest and highest x and y; one of nan or without area overlaps none
    limit  the search ends once so many pairs are found: where everything lies on everything, their
           number grows with the square of N

    The plane is cut into strips about as high as the boxes, and each strip is swept from left to
    right: the cost is that of the pairs found, but for boxes much larger than the others.
    """
    solid = np.flatnonzero((box[:, 1] > box[:, 0]).all(axis=1) & np.isfinite(box).all(axis=(1, 2)))
    if len(solid) < 2:
        return np.empty((0, 2), dtype=np.int32)
    low, high = box[solid, 0], box[solid, 1]
    strip_low, strip_high = _strips(low[:, 1], high[:, 1])
    spans = strip_high - strip_low + 1
    row = np.repeat(np.arange(len(solid)), spans)
    strip = strip_low[row] + ranges(spans)
    order = np.lexsort((low[row, 0], strip))
    row, strip = row[order], strip[order]
    found, total = [np.empty((0, 2), dtype=np.int32)], 0
    for first, second in _sweep(strip, low[row, 0], high[row, 0]):
        a, b = row[first], row[second]
        # A pair may meet in several strips: the higher of the two lowest strips speaks for it.
        once = strip[first] == np.maximum(strip_low[a], strip_low[b])
        meets = once & (low[a, 1] < high[b, 1]) & (low[b, 1] < high[a, 1])
        pairs = np.stack([solid[a[meets]], solid[b[meets]]], axis=1)
        found.append(np.sort(pairs, axis=1).astype(np.int32))
        total += len(pairs)
        if total >= limit:
            break
    return np.concatenate(found)[:limit]


def _strips(low: FloatArray, high: FloatArray) -> tuple[IndexArray, IndexArray]:
    """First and last strip of each box."""
    bottom, span = float(low.min()), float(high.max() - low.min())
    height = max(float(np.median(high - low)), span / max(len(low), 1))
    first, last = (np.floor((edge - bottom) / height).astype(np.int32) for edge in (low, high))
    return first, last


def _sweep(
    strip: IndexArray, low: FloatArray, high: FloatArray
) -> Iterator[tuple[IndexArray, IndexArray]]:
    """Rows of one strip whose x-ranges overlap, in chunks; rows come sorted by strip and low."""
    span = 2.0 * float(high.max() - low.min()) + 1.0
    key = strip * span + (low - low.min())
    until = np.searchsorted(key, strip * span + (high - low.min()), side="left")
    count = np.maximum(until - np.arange(len(key)) - 1, 0)
    for rows in runs_of(count, 1 << 21):
        first = np.repeat(np.arange(rows.start, rows.stop), count[rows])
        yield first, first + 1 + ranges(count[rows])
