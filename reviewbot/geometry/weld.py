"""Identity by value: the same place is the same point, whatever its index."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from reviewbot.geometry.exact import exact_places
from reviewbot.geometry.groups import has_repeats
from reviewbot.geometry.rows import rows_at, rows_finite
from reviewbot.mesh import BoolArray, FloatArray, IndexArray


def places_within(values: FloatArray, tolerance: float) -> IndexArray:
    """Rows nearer than `tolerance` to each other share a place, and so do chains of them.

    values   (N, K) float64, K up to 6; rows holding nan or infinity keep their exact places
    returns  (N,) int32, numbered 0..P-1; 0, 1, 2 ... where all places are apart
    """
    place, first = exact_places(values)
    if len(first) == len(values):
        place = first = np.arange(len(values), dtype=np.int32)
    if not len(first) or tolerance <= 0:
        return place
    finite = np.flatnonzero(rows_finite(values)[first])
    pairs = _near_pairs(values if len(finite) == len(values) else values[first[finite]], tolerance)
    if not len(pairs):
        return place
    joined = finite[pairs]
    graph = coo_array(
        (np.ones(len(joined), dtype=np.int8), (joined[:, 0], joined[:, 1])),
        shape=(len(first), len(first)),
    )
    _, label = connected_components(graph, directed=False)
    return np.asarray(label[place], dtype=np.int32)


# Along each of these directions points of a regular grid fall apart; no meaning beyond that.
_GENERIC = np.array(
    [
        [0.7548, 0.5698, 0.3247, 0.8123, -0.2914, 0.4671],
        [-0.4302, 0.6180, 0.6583, -0.3571, 0.7219, 0.5387],
        [0.3819, -0.7321, 0.5641, 0.6637, 0.4513, -0.8059],
    ]
)


_SLOTS = 8  # a row: few rows then share one by chance, and the table still is small
_MIX = np.uint64(0x9E3779B97F4A7C15)  # 2**64 over the golden ratio: spreads neighbours far apart


def _in_company(along: FloatArray, tolerance: float) -> BoolArray:
    """(N,) bool: another may lie within the tolerance; told by slots they fall in, unsorted."""
    low, count = float(along.min()), len(along)
    span = float(along.max()) - low
    # Of two rows of slots, half a slot apart, one has both of a pair in one slot. A little wider
    # than twice the tolerance, so that rounding parts none.
    width = max(2.001 * tolerance, span / (_SLOTS * count))
    if not np.isfinite(span) or span < count * width:
        return np.ones(count, dtype=bool)  # in slots so wide nearly all have company
    rows = np.arange(count, dtype=np.int32)
    shared = np.zeros(count, dtype=bool)
    for shift in (0.0, 0.5):
        slot = ((along - low) / width + shift).astype(np.int32)
        crowded = np.zeros(int(slot.max()) + 1, dtype=bool)
        last = np.empty(len(crowded), dtype=np.int32)  # read only where it was written
        last[slot] = rows
        crowded[slot[last[slot] != rows]] = True
        shared |= crowded[slot]
    return shared


def _all_stand_alone(first: FloatArray, second: FloatArray, tolerance: float) -> bool:
    """Whether no two of N points in a plane share a cell of it, however cells of more than twice
    the tolerance are laid: then none lie within the tolerance of each other."""
    lows, spans = zip(*((float(x.min()), float(np.ptp(x))) for x in (first, second)), strict=True)
    if not np.isfinite(max(spans)):
        return False
    width = max(2.001 * tolerance, max(spans) / 2**30)
    across, up = ((x - low) / width for x, low in zip((first, second), lows, strict=True))
    columns, rows = ([(x + shift).astype(np.uint64) for shift in (0.0, 0.5)] for x in (across, up))
    return not any(_meet((x << np.uint64(32)) | y) for x in columns for y in rows)


def _meet(keys: npt.NDArray[np.uint64]) -> bool:
    """Whether any key is there twice: only those that share a slot with another are sorted."""
    bits = (4 * len(keys)).bit_length()
    slot = ((keys * _MIX) >> np.uint64(64 - bits)).astype(np.int64)
    rows = np.arange(len(keys), dtype=np.int32)
    last = np.empty(1 << bits, dtype=np.int32)  # read only where it was written
    last[slot] = rows
    found = last[slot]
    lost = np.flatnonzero(found != rows)
    return has_repeats(np.concatenate([keys[lost], keys[np.unique(found[lost])]]))


def _near_pairs(values: FloatArray, tolerance: float) -> IndexArray:
    """Pairs of rows within `tolerance`.

    Most meshes have none, which slots and cells tell soonest. Else, rows without a neighbour along
    some direction have none in space, and a few sorts find that faster than a tree.
    """
    if len(values) < 2:
        return np.empty((0, 2), dtype=np.int32)
    first, second = _GENERIC[:2, : values.shape[1]]
    rows = np.flatnonzero(_in_company(values @ first, tolerance))
    longest = max(1.0, float(np.linalg.norm(first)), float(np.linalg.norm(second)))
    some = values if len(rows) == len(values) else rows_at(values, rows)
    if not len(rows) or _all_stand_alone(some @ first, some @ second, longest * tolerance):
        return np.empty((0, 2), dtype=np.int32)
    for direction in _GENERIC:
        if len(rows) < 2:
            return np.empty((0, 2), dtype=np.int32)
        along = rows_at(values, rows) @ direction[: values.shape[1]]
        order = np.argsort(along)
        close = np.diff(along[order]) <= tolerance
        candidate = np.zeros(len(rows), dtype=bool)
        candidate[order[:-1]] |= close
        candidate[order[1:]] |= close
        rows = rows[candidate]
    if len(rows) < 2:
        return np.empty((0, 2), dtype=np.int32)
    # Rows in one cell of half the tolerance are close anyway; searching among one row a cell keeps
    # the pairs few when a whole part is smaller than the tolerance.
    low = values[rows].min(axis=0)
    cell, first = exact_places(np.floor((values[rows] - low) / (0.5 * tolerance)))
    found = cKDTree(values[rows[first]]).query_pairs(tolerance, output_type="ndarray")
    within_cell = np.stack([np.arange(len(rows)), first[cell]], axis=1)
    pairs = np.concatenate([within_cell, first[found]])
    return np.asarray(rows[pairs[pairs[:, 0] != pairs[:, 1]]], dtype=np.int32)
