"""Triangles in the plane to pixels: of two neighbours exactly one covers a pixel's middle."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TypeVar

import numpy as np
import numpy.typing as npt

from reviewbot.mesh import FloatArray, IndexArray

S = TypeVar("S", bound=np.generic)

_TRIANGLES = 1 << 15  # a turn: what is worked out for them stays in the processor's cache
_SPANS = 1 << 16  # the same

# Three columns of x and three of y: the corners of triangles, the topmost first.
_Ring = tuple[list[FloatArray], list[FloatArray]]


def covered_pixels(
    x: FloatArray, y: FloatArray, corners: IndexArray, height: int, width: int
) -> Iterator[tuple[npt.NDArray[np.int64], npt.NDArray[np.int64]]]:
    """Which triangles cover which pixels' middles, in pieces: (triangle (N,), pixel (N,)).

    x, y     (P,) float64 places, x to the right and y downwards, in pixels
    corners  (T, 3) int32 into them; triangles with a corner that is nan or infinite cover nothing

    Scan lines: of two triangles that share an edge, exactly one covers a pixel on it, since both
    work the edge's crossing out from the same ends in the same order.
    """
    sound = np.isfinite(x) & np.isfinite(y)
    for at in range(0, len(corners), _TRIANGLES):
        some = corners[at : at + _TRIANGLES]
        whole = np.flatnonzero(sound[some].all(axis=1))
        for triangle, pixel in _spans_of(_from_top(x, y, some[whole]), height, width):
            yield at + whole[triangle], pixel


def _from_top(x: FloatArray, y: FloatArray, corners: IndexArray) -> _Ring:
    """Corners of each triangle by rising y."""
    ring = ([x[corners[:, k]] for k in range(3)], [y[corners[:, k]] for k in range(3)])
    for i, j in ((0, 1), (1, 2), (0, 1)):
        swap = ring[1][j] < ring[1][i]
        for column in ring:
            one, other = column[i], column[j]
            column[i], column[j] = np.where(swap, other, one), np.where(swap, one, other)
    return ring


def _spans_of(
    ring: _Ring, height: int, width: int
) -> Iterator[tuple[npt.NDArray[np.int64], npt.NDArray[np.int64]]]:
    """The same for triangles with their corners by rising y.

    A triangle is cut at its middle corner into two halves, which follow each other: its long side
    bounds both, a short one each.
    """
    (ax, bx, _), (ay, by, cy) = ring
    first, middle, last = (_first_from(y, height) for y in (ay, by, cy))
    long = _slope(ring, 0, 2)
    short_x, short_y = _paired(ax, bx), _paired(ay, by)
    short = _paired(_slope(ring, 0, 1), _slope(ring, 1, 2))
    start, rows = _paired(first, middle), _paired(middle - first, last - middle)
    ends = np.cumsum(rows)
    at = 0
    while at < len(rows):
        limit = (ends[at - 1] if at else 0) + _SPANS
        stop = max(at + 1, int(np.searchsorted(ends, limit, side="right")))
        half, row = _unrolled(rows[at:stop])
        half += at
        row += start[half]
        triangle, y = half >> 1, row + 0.5
        one = ax[triangle] + (y - ay[triangle]) * long[triangle]
        other = short_x[half] + (y - short_y[half]) * short[half]
        column = _first_from(np.minimum(one, other), width)
        span, pixel = _unrolled(_first_from(np.maximum(one, other), width) - column)
        pixel += (row * width + column)[span]
        yield triangle[span], pixel
        at = stop


def _slope(ring: _Ring, start: int, end: int) -> FloatArray:
    """How far a side goes to the right for each pixel downwards; 0 for a level one."""
    right, down = (column[end] - column[start] for column in ring)
    return np.divide(right, down, out=np.zeros_like(down), where=down > 0)


def _first_from(place: FloatArray, most: int) -> npt.NDArray[np.int64]:
    """The first row or column whose middle lies at or beyond each place, `most` at most."""
    return np.asarray(np.clip(np.ceil(place - 0.5), 0, most).astype(np.int64))


def _paired(first: npt.NDArray[S], second: npt.NDArray[S]) -> npt.NDArray[S]:
    """(2N,) the first of both, the second of both, and so on."""
    return np.stack([first, second], axis=1).reshape(-1)


def _unrolled(
    counts: npt.NDArray[np.int64],
) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.int64]]:
    """Each entry's number as often as it counts; and 0, 1, 2 ... for each."""
    owner = np.repeat(np.arange(len(counts)), counts)
    return owner, np.arange(len(owner)) - (np.cumsum(counts) - counts)[owner]
