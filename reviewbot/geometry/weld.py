"""Identity by value: the same place is the same point, whatever its index."""

from __future__ import annotations

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from reviewbot.mesh import BoolArray, FloatArray, IndexArray


def exact_places(values: FloatArray) -> tuple[IndexArray, IndexArray]:
    """Rows of equal value share a place.

    values   (N, K) float64; nan equals nan here, -0 equals 0
    returns  place (N,) int32 numbered 0..P-1, and first (P,) int32, one row of each place
    """
    if not len(values):
        return np.empty(0, np.int32), np.empty(0, np.int32)
    rows = np.ascontiguousarray(values + 0.0)  # -0.0 + 0.0 is 0.0
    keys = _row_hashes(rows)
    order = np.argsort(keys, kind="stable")
    ordered = rows[order].view(np.int64)
    new = np.ones(len(rows), dtype=bool)
    new[1:] = np.any(ordered[1:] != ordered[:-1], axis=1)
    # Two rows of equal hash but other value may alternate in the run; exact ties are then split,
    # so fall back to a full sort in that (vanishingly rare) case.
    if np.count_nonzero(new) != 1 + np.count_nonzero(np.diff(keys[order])):
        order = np.lexsort(rows.T)
        ordered = rows[order].view(np.int64)
        new[1:] = np.any(ordered[1:] != ordered[:-1], axis=1)
    place = np.empty(len(rows), dtype=np.int32)
    place[order] = np.cumsum(new, dtype=np.int32) - 1
    return place, order[new].astype(np.int32)


def _row_hashes(rows: FloatArray) -> np.ndarray[tuple[int], np.dtype[np.uint64]]:
    bits = rows.view(np.uint64)
    mixed = np.zeros(len(rows), dtype=np.uint64)
    for column in range(rows.shape[1]):
        mixed ^= bits[:, column]
        mixed *= np.uint64(0x9E3779B97F4A7C15)
        mixed ^= mixed >> np.uint64(29)
    return mixed


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
    finite = np.flatnonzero(rows_finite(values[first]))
    pairs = _near_pairs(values[first][finite], tolerance)
    if not len(pairs):
        return place
    joined = finite[pairs]
    graph = coo_array(
        (np.ones(len(joined), dtype=np.int8), (joined[:, 0], joined[:, 1])),
        shape=(len(first), len(first)),
    )
    _, label = connected_components(graph, directed=False)
    return np.asarray(label[place], dtype=np.int32)


def rows_finite(values: FloatArray) -> BoolArray:
    """(N,) bool: neither nan nor infinity in the row. Columns are faster here than rows."""
    finite = np.ones(len(values), dtype=bool)
    for column in range(values.shape[1]):
        finite &= np.isfinite(values[:, column])
    return finite


# Along each of these directions points of a regular grid fall apart; no meaning beyond that.
_GENERIC = np.array(
    [
        [0.7548, 0.5698, 0.3247, 0.8123, -0.2914, 0.4671],
        [-0.4302, 0.6180, 0.6583, -0.3571, 0.7219, 0.5387],
        [0.3819, -0.7321, 0.5641, 0.6637, 0.4513, -0.8059],
    ]
)


def _near_pairs(values: FloatArray, tolerance: float) -> IndexArray:
    """Pairs of rows within `tolerance`.

    Most meshes have none: rows without a neighbour along some direction have none in space,
    and a few sorts find that faster than a tree.
    """
    rows = np.arange(len(values))
    for direction in _GENERIC:
        if len(rows) < 2:
            return np.empty((0, 2), dtype=np.int32)
        along = values[rows] @ direction[: values.shape[1]]
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
