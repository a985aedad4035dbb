"""Triangles in the plane to pixels: of two neighbours exactly one covers a pixel's middle."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from reviewbot.mesh import FloatArray, IndexArray

_TRIANGLES = 1 << 17  # triangles a turn
_CHUNK = 1 << 17  # spans a turn


def covered_pixels(
    corners: FloatArray, height: int, width: int
) -> Iterator[tuple[IndexArray, IndexArray]]:
    """Which triangles cover which pixels' middles, in pieces: (triangle (N,), pixel (N,)).

    corners  (T, 3, 2) float64, x to the right and y downwards, in pixels; triangles with a corner
             that is nan or infinite cover nothing

    Scan lines: of two triangles that share an edge, exactly one covers a pixel on it, since both
    work the edge's crossing out from the same ends in the same order.
    """
    for at in range(0, len(corners), _TRIANGLES):
        some = corners[at : at + _TRIANGLES]
        whole = np.flatnonzero(np.isfinite(some).reshape(-1, 6).all(axis=1))
        for triangle, pixel in _spans_of(_from_top(some[whole]), height, width):
            yield (at + whole[triangle]).astype(np.int32), pixel


def _spans_of(ring: FloatArray, height: int, width: int) -> Iterator[tuple[IndexArray, IndexArray]]:
    """The same for triangles with their corners by rising y."""
    first = np.clip(np.ceil(ring[:, 0, 1] - 0.5), 0, height).astype(np.int64)
    last = np.clip(np.ceil(ring[:, 2, 1] - 0.5), 0, height).astype(np.int64)
    rows = last - first
    ends = np.cumsum(rows)
    at = 0
    while at < len(rows):
        limit = (ends[at - 1] if at else 0) + _CHUNK
        stop = max(at + 1, int(np.searchsorted(ends, limit, side="right")))
        some = np.arange(at, stop)
        owner = np.repeat(some, rows[some])
        row = first[owner] + _ramp(rows[some])
        left, right = _span(ring[owner], np.asarray(row + 0.5, dtype=np.float64))
        start = np.clip(np.ceil(left - 0.5), 0, width).astype(np.int64)
        count = np.maximum(np.clip(np.ceil(right - 0.5), 0, width).astype(np.int64) - start, 0)
        span = np.repeat(np.arange(len(owner)), count)
        column = start[span] + _ramp(count)
        pixel = row[span] * width + column
        yield owner[span].astype(np.int32), pixel.astype(np.int32)
        at = stop


def _from_top(corners: FloatArray) -> FloatArray:
    """Corners of each triangle by rising y, and by x where y is the same."""
    ring = [corners[:, 0], corners[:, 1], corners[:, 2]]
    for i, j in ((0, 1), (1, 2), (0, 1)):
        one, other = ring[i], ring[j]
        swap = (other[:, 1] < one[:, 1]) | ((other[:, 1] == one[:, 1]) & (other[:, 0] < one[:, 0]))
        ring[i] = np.where(swap[:, None], other, one)
        ring[j] = np.where(swap[:, None], one, other)
    return np.stack(ring, axis=1)


def _span(ring: FloatArray, y: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Where a scan line at y enters and leaves each triangle."""
    top, middle, bottom = ring[:, 0], ring[:, 1], ring[:, 2]
    long_side = _crossing(top, bottom, y)
    upper = y < middle[:, 1]
    start = np.where(upper[:, None], top, middle)
    end = np.where(upper[:, None], middle, bottom)
    short_side = _crossing(start, end, y)
    return np.minimum(long_side, short_side), np.maximum(long_side, short_side)


def _crossing(start: FloatArray, end: FloatArray, y: FloatArray) -> FloatArray:
    rise = end[:, 1] - start[:, 1]
    share = (y - start[:, 1]) / np.where(rise > 0, rise, 1.0)
    return np.asarray(start[:, 0] + share * (end[:, 0] - start[:, 0]))


def _ramp(counts: IndexArray) -> IndexArray:
    """0, 1, 2 ... up to each count, one after the other."""
    ends = np.cumsum(counts)
    total = int(ends[-1]) if len(ends) else 0
    return np.asarray(np.arange(total) - np.repeat(ends - counts, counts))
