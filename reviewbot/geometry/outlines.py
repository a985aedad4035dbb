"""Areas from outlines: what regions of a plane share, exactly, without cutting them up.

A region is a set of directed segments, counter-clockwise round it. A point is covered as often as
they wind round it, so holes and regions that lie over themselves need no care. Over the x between
its ends a segment that runs leftwards covers all below it once, and one that runs rightwards takes
that away again: sign +1 and -1. Segments that run straight up or down do neither.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from reviewbot.geometry.ranges import ranges, runs_of
from reviewbot.mesh import FloatArray, IndexArray

_CHUNK = 1 << 20  # pairs of segments at a time
_FEW = 256  # segments whose slabs are cut at one go
_DEEPEST = 20  # halvings of a box


@dataclass(frozen=True, slots=True, kw_only=True)
class Slopes:
    """Segments of regions 0..R-1 as seen along x, sorted by region and left end.

    left, right  (N,) float64 x of the two ends, left < right
    height       (N,) float64 y at the left end
    rise         (N,) float64 how much y grows per unit of x
    sign         (N,) float64 +1 or -1
    region       (N,) int32
    low, high    (R,) float64 least and greatest x of each region; nan for an empty one
    longest      (R,) float64 greatest right - left in each region
    """

    left: FloatArray
    right: FloatArray
    height: FloatArray
    rise: FloatArray
    sign: FloatArray
    region: IndexArray
    low: FloatArray
    high: FloatArray
    longest: FloatArray


def slopes_of(start: FloatArray, end: FloatArray, region: IndexArray, count: int) -> Slopes:
    """Segments from start to end (N, 2), each of a region 0..count-1."""
    sloped = np.flatnonzero((start[:, 0] != end[:, 0]) & np.isfinite(start + end).all(axis=1))
    rightwards = start[sloped, 0] < end[sloped, 0]
    a = np.where(rightwards[:, None], start[sloped], end[sloped])
    b = np.where(rightwards[:, None], end[sloped], start[sloped])
    order = np.lexsort((a[:, 0], region[sloped]))
    a, b, of = a[order], b[order], region[sloped][order]
    low, high, longest = np.full(count, np.nan), np.full(count, np.nan), np.zeros(count)
    np.fmin.at(low, of, a[:, 0])
    np.fmax.at(high, of, b[:, 0])
    np.maximum.at(longest, of, b[:, 0] - a[:, 0])
    return Slopes(
        left=a[:, 0],
        right=b[:, 0],
        height=a[:, 1],
        rise=(b[:, 1] - a[:, 1]) / (b[:, 0] - a[:, 0]),
        sign=np.where(rightwards[order], -1.0, 1.0),
        region=of,
        low=low,
        high=high,
        longest=longest,
    )


def shared_areas(slopes: Slopes, pairs: IndexArray) -> FloatArray:
    """(P,) area that the two regions of each pair (P, 2) share.

    A point that the one covers n times and the other m times counts n m times. That integral is
    the sum over segments i of the one and j of the other of sign_i sign_j times the area below
    both; and as the signs over any x add up to nothing, it is also minus half the sum of
    sign_i sign_j times the area between the two, over the x that both span.
    """
    shared = np.zeros(len(pairs))
    sizes = np.bincount(slopes.region, minlength=len(slopes.low))[pairs].sum(axis=1)
    for rows in runs_of(sizes, _CHUNK):
        first, first_pair = _segments_near(slopes, pairs[rows, 0], pairs[rows, 1])
        second, second_pair = _segments_near(slopes, pairs[rows, 1], pairs[rows, 0])
        for i, j in _overlapping(slopes, (first_pair, first), (second_pair, second)):
            a, b = first[i], second[j]
            between = slopes.sign[a] * slopes.sign[b] * _areas_between(slopes, a, b)
            shared[rows] -= 0.5 * np.bincount(
                first_pair[i], weights=between, minlength=len(shared[rows])
            )
    return shared


def areas_covered_again(slopes: Slopes, area: FloatArray) -> FloatArray:
    """(R,) area where each region, of the given area (R,), lies over itself.

    A point covered n times counts n (n - 1) / 2 times.
    """
    own = np.repeat(np.arange(len(area), dtype=np.int32)[:, None], 2, axis=1)
    return np.maximum((shared_areas(slopes, own) - area) / 2, 0.0)


def _segments_near(
    slopes: Slopes, regions: IndexArray, others: IndexArray
) -> tuple[IndexArray, IndexArray]:
    """Segments of each region that may lie over the x-range of another, and the row of each.

    regions, others  (P,) each
    returns          (M,) int32 into the slopes, and (M,) int32 row 0..P-1; rows rise, and so do
                     the left ends of each
    """
    key = _keys(slopes, slopes.region, slopes.left)
    from_x = np.fmax(slopes.low[others] - slopes.longest[regions], slopes.low[regions])
    until_x = np.fmin(slopes.high[others], slopes.high[regions])
    begin = np.searchsorted(key, _keys(slopes, regions, np.nan_to_num(from_x)), side="left")
    end = np.searchsorted(key, _keys(slopes, regions, np.nan_to_num(until_x)), side="right")
    count = np.where(np.isfinite(from_x + until_x), np.maximum(end - begin, 0), 0)
    row = np.repeat(np.arange(len(regions), dtype=np.int32), count)
    return (begin[row] + ranges(count)).astype(np.int32), row


def _keys(slopes: Slopes, group: IndexArray, x: FloatArray) -> FloatArray:
    """x shifted so that all of one group come before all of the next."""
    least = float(slopes.left.min(initial=0.0))
    span = 2.0 * (float(slopes.right.max(initial=0.0)) - least) + 1.0
    return np.asarray(group * span + (x - least))


def _overlapping(
    slopes: Slopes, first: tuple[IndexArray, IndexArray], second: tuple[IndexArray, IndexArray]
) -> Iterator[tuple[IndexArray, IndexArray]]:
    """Rows i of first and j of second, of one group and with x-ranges that overlap, in chunks.

    first, second  group of each row, rising, and its segment, left ends rising within a group
    """
    for one, other, side in ((first, second, "left"), (second, first, "right")):
        # Those whose left end lies on the range of `one`; a tie is taken the first way only.
        key = _keys(slopes, other[0], slopes.left[other[1]])
        low = _keys(slopes, one[0], slopes.left[one[1]])
        high = _keys(slopes, one[0], slopes.right[one[1]])
        begin = np.searchsorted(key, low, side="left" if side == "left" else "right")
        count = np.maximum(np.searchsorted(key, high, side="left") - begin, 0)
        for run in runs_of(count, _CHUNK):
            rows = np.repeat(np.arange(run.start, run.stop, dtype=np.int32), count[run])
            met = (begin[rows] + ranges(count[run])).astype(np.int32)
            yield (rows, met) if side == "left" else (met, rows)


def _areas_between(slopes: Slopes, a: IndexArray, b: IndexArray) -> FloatArray:
    """Area between segments a and b over the x that both span."""
    low, high, p, q = _gaps(slopes, a, b)
    return np.asarray((high - low) * _mean_of_absolute(p, q))


def _gaps(slopes: Slopes, a: IndexArray, b: IndexArray) -> tuple[FloatArray, ...]:
    """The x-range that segments a and b both span, and how far a lies over b at its two ends."""
    low = np.maximum(slopes.left[a], slopes.left[b])
    high = np.minimum(slopes.right[a], slopes.right[b])
    p, q = (
        slopes.height[a]
        - slopes.height[b]
        + slopes.rise[a] * (x - slopes.left[a])
        - slopes.rise[b] * (x - slopes.left[b])
        for x in (low, high)
    )
    return low, high, p, q


def _mean_of_absolute(p: FloatArray, q: FloatArray) -> FloatArray:
    """Mean of |y| over a straight run from p to q."""
    whole = np.abs(p) + np.abs(q)
    with np.errstate(invalid="ignore", divide="ignore"):
        crossed = (p * p + q * q) / (2 * whole)
    return np.where((p < 0) != (q < 0), np.where(whole > 0, crossed, 0.0), whole / 2)


def covered_area(start: FloatArray, end: FloatArray, region: IndexArray, box: FloatArray) -> float:
    """Area within a box (2, 2) that at least one region covers.

    start, end  (N, 2) segments, and the region of each; a region that lies over itself counts once

    The box is halved until it lies inside a region, or few segments are left in it. Then it is cut
    into upright slabs at every end and crossing, so that no two segments cross within one; there
    the order of the segments tells which stretches are covered.
    """
    low, high = np.minimum(start, end), np.maximum(start, end)
    known = np.flatnonzero(np.isfinite(start + end).all(axis=1))
    covered, waiting = 0.0, [(np.asarray(box, dtype=np.float64), known, 0)]
    while waiting:
        part, rows, depth = waiting.pop()
        touches = ((low[rows] < part[1]) & (high[rows] > part[0])).all(axis=1)
        crossing = np.zeros(int(region[rows].max(initial=-1)) + 1, dtype=bool)
        crossing[region[rows[touches]]] = True
        around = rows[~crossing[region[rows]]]
        if _is_inside(start[around], end[around], region[around], part.mean(axis=0)):
            covered += float(np.prod(part[1] - part[0]))
            continue
        rows = rows[crossing[region[rows]]]
        if np.count_nonzero(touches) > _FEW and depth < _DEEPEST:
            waiting += [(half, rows, depth + 1) for half in _halves(part)]
        elif len(rows):
            beside = (low[rows, 0] > part[1, 0]) | (high[rows, 0] < part[0, 0])
            near = rows[~beside & (high[rows, 1] >= part[0, 1])]
            covered += _covered_in_slabs(start[near], end[near], part)
    return covered


def _is_inside(start: FloatArray, end: FloatArray, region: IndexArray, spot: FloatArray) -> bool:
    """Whether any region covers the spot."""
    if not len(start):
        return False
    over = (np.minimum(start[:, 0], end[:, 0]) <= spot[0]) & (
        spot[0] < np.maximum(start[:, 0], end[:, 0])
    )
    a, b = start[over], end[over]
    y = a[:, 1] + (b[:, 1] - a[:, 1]) * (spot[0] - a[:, 0]) / (b[:, 0] - a[:, 0])
    sign = np.where(a[:, 0] < b[:, 0], -1.0, 1.0)
    times = np.bincount(region[over], weights=np.where(y > spot[1], sign, 0.0), minlength=1)
    return bool((times > 0.5).any())


def _halves(box: FloatArray) -> tuple[FloatArray, FloatArray]:
    axis = int(np.argmax(box[1] - box[0]))
    low, high = box.copy(), box.copy()
    low[1, axis] = high[0, axis] = box[:, axis].mean()
    return low, high


def covered_area_by_columns(
    start: FloatArray, end: FloatArray, box: FloatArray, *, columns: int
) -> float:
    """The same from the middles of so many columns, for masses of regions that lie on each other.

    Off by no more than the width of a column times the height of all upright borders.
    """
    slopes = _framed(slopes_of(start, end, np.zeros(len(start), dtype=np.int32), 1), box)
    cuts = np.linspace(float(box[0, 0]), float(box[1, 0]), columns + 1)
    spans = float((np.minimum(slopes.right, cuts[-1]) - np.maximum(slopes.left, cuts[0])).sum())
    some = max(int(_CHUNK * (cuts[-1] - cuts[0]) / max(spans, 1e-9)), 1)
    return sum(
        _covered_between(slopes, cuts[at : at + some + 1], box) for at in range(0, columns, some)
    )


def _covered_in_slabs(start: FloatArray, end: FloatArray, box: FloatArray) -> float:
    """Area of the box that closed outlines cover; segments wholly below it may be left out."""
    slopes = _framed(slopes_of(start, end, np.zeros(len(start), dtype=np.int32), 1), box)
    return _covered_between(slopes, _slab_cuts(slopes, box), box)


def _covered_between(slopes: Slopes, cuts: FloatArray, box: FloatArray) -> float:
    """Sum over the slabs between cuts of their widths times the height covered at their middles."""
    middles = (cuts[1:] + cuts[:-1]) / 2
    first = np.searchsorted(middles, slopes.left, side="left")
    count = np.maximum(np.searchsorted(middles, slopes.right, side="left") - first, 0)
    segment = np.repeat(np.arange(len(count)), count)
    slab = first[segment] + ranges(count)
    x = middles[slab] - slopes.left[segment]
    y = slopes.height[segment] + slopes.rise[segment] * x
    order = np.lexsort((y, slab))
    slab, y, sign = slab[order], np.clip(y[order], *box[:, 1]), slopes.sign[segment[order]]
    # Just above a segment as many turns are made as the signs of those higher up add up to.
    so_far = np.cumsum(sign)
    top = np.flatnonzero(np.diff(slab, append=-1))
    turns = np.repeat(so_far[top], np.diff(top, prepend=-1)) - so_far
    area = np.diff(y, append=0.0) * (cuts[slab + 1] - cuts[slab])
    area[top] = 0.0
    return float(area[turns > 0.5].sum())


def _framed(slopes: Slopes, box: FloatArray) -> Slopes:
    """The same for a box: what is wholly above lies flat, and the bottom is there, of no sign."""
    above = np.minimum(slopes.height, slopes.height + slopes.rise * (slopes.right - slopes.left))
    above = above >= box[1, 1]
    return replace(
        slopes,
        left=np.append(slopes.left, box[0, 0]),
        right=np.append(slopes.right, box[1, 0]),
        height=np.append(np.where(above, box[1, 1], slopes.height), box[0, 1]),
        rise=np.append(np.where(above, 0.0, slopes.rise), 0.0),
        sign=np.append(slopes.sign, 0.0),
        region=np.append(slopes.region, np.int32(0)),
    )


def _slab_cuts(slopes: Slopes, box: FloatArray) -> FloatArray:
    """Sorted x in the box at which a segment ends, crosses another, or leaves the box."""
    rows = np.argsort(slopes.left, kind="stable").astype(np.int32)
    rows = rows[(slopes.right[rows] > box[0, 0]) & (slopes.left[rows] < box[1, 0])]
    group = np.zeros_like(rows)
    found = [box[:, 0], slopes.left, slopes.right]
    for i, j in _overlapping(slopes, (group, rows), (group, rows)):
        once = i < j
        found.append(_crossings(slopes, rows[i[once]], rows[j[once]]))
    with np.errstate(invalid="ignore", divide="ignore"):
        x = slopes.left + (box[1, 1] - slopes.height) / slopes.rise
    found.append(x[(x > slopes.left) & (x < slopes.right)])
    cuts = np.unique(np.concatenate(found))
    return np.asarray(cuts[(cuts >= box[0, 0]) & (cuts <= box[1, 0])])


def _crossings(slopes: Slopes, a: IndexArray, b: IndexArray) -> FloatArray:
    """x at which segments a and b cross, of those that do."""
    low, high, p, q = _gaps(slopes, a, b)
    crossing = (p < 0) != (q < 0)
    low, high, p, q = low[crossing], high[crossing], np.abs(p[crossing]), np.abs(q[crossing])
    return np.asarray(low + (high - low) * p / np.maximum(p + q, np.finfo(np.float64).tiny))


def times_covered(slopes: Slopes, spots: FloatArray) -> FloatArray:
    """(M,) how often all segments together wind round each spot (M, 2)."""
    times = np.zeros(len(spots))
    order = np.argsort(spots[:, 0])
    x, y = spots[order].T
    first, end = (np.searchsorted(x, side) for side in (slopes.left, slopes.right))
    count = np.maximum(end - first, 0)
    for run in runs_of(count, _CHUNK):
        segment = np.repeat(np.arange(len(count))[run], count[run])
        spot = first[segment] + ranges(count[run])
        rise = slopes.rise[segment] * (x[spot] - slopes.left[segment])
        above = slopes.height[segment] + rise > y[spot]
        sign = slopes.sign[segment[above]]
        times[order] += np.bincount(spot[above], weights=sign, minlength=len(spots))
    return times
