"""The same place in two versions: identity across versions is by value, not by index."""

from __future__ import annotations

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from reviewbot.geometry.rows import rows_where
from reviewbot.mesh import BoolArray, FloatArray, IndexArray


def tree_of(points: FloatArray) -> cKDTree:
    """A search tree that is cheap to build; rows must be finite."""
    return cKDTree(points, balanced_tree=False, compact_nodes=False)


def nearest_within(
    tree: cKDTree, points: FloatArray, tolerance: float
) -> tuple[FloatArray, IndexArray]:
    """Distance (N,) and row (N,) int32 of the nearest point in the tree; inf and -1 for none."""
    row = np.full(len(points), -1, dtype=np.int32)
    distance = np.full(len(points), np.inf)
    finite = np.isfinite(points).all(axis=1)
    if tree.n and finite.any():
        near, index = tree.query(points[finite], distance_upper_bound=tolerance)
        distance[finite] = near
        row[finite] = np.where(np.isfinite(near), index, -1)
    return distance, row


def shared_places(
    before: FloatArray, after: FloatArray, tolerance: float, *, likely: IndexArray
) -> tuple[IndexArray, IndexArray, int]:
    """One numbering for the places of two versions: nearer than `tolerance` is the same place.

    before, after  (P, 3), (Q, 3) float64; a row with nan is a place of its own
    likely         (K, 2) int32 rows of before and after that may lie together, tried first
    returns        (P,) and (Q,) int32 into places 0..N-1, and N. Two rows of one version that
                   both lie near one row of the other share a place, so a gap that is a little
                   under the tolerance in one version and over it in the other makes no difference
    """
    pairs = _near_pairs(before, after, tolerance, likely)
    rows, columns = pairs[:, 0], pairs[:, 1]
    if _no_repeats(rows, len(before)) and _no_repeats(columns, len(after)):
        alone = np.ones(len(after), dtype=bool)
        alone[columns] = False
        number = np.empty(len(after), dtype=np.int32)
        number[columns] = rows
        number[alone] = len(before) + np.arange(alone.sum(), dtype=np.int32)
        return np.arange(len(before), dtype=np.int32), number, len(before) + int(alone.sum())
    size = len(before) + len(after)
    graph = coo_array(
        (np.ones(len(pairs), dtype=np.int8), (rows, columns + len(before))), shape=(size, size)
    )
    count, label = connected_components(graph, directed=False)
    label = label.astype(np.int32)
    return label[: len(before)], label[len(before) :], int(count)


def _no_repeats(rows: IndexArray, count: int) -> bool:
    return not len(rows) or int(np.bincount(rows, minlength=count).max()) <= 1


def _near_pairs(
    before: FloatArray, after: FloatArray, tolerance: float, likely: IndexArray
) -> IndexArray:
    with np.errstate(invalid="ignore"):
        gap = np.abs(before[likely[:, 0]] - after[likely[:, 1]]).max(axis=1, initial=0)
    near = likely[gap <= tolerance]
    lonely_before, lonely_after = _lonely(near[:, 0], before), _lonely(near[:, 1], after)
    pairs = [near]
    for lonely, points, others, swap in (
        (lonely_after, after, before, True),
        (lonely_before, before, after, False),
    ):
        candidates = rows_where(np.isfinite(others).all(axis=1))
        if lonely.any() and len(candidates):
            rows = rows_where(lonely)
            _, found = nearest_within(tree_of(others[candidates]), points[rows], tolerance)
            hit = found >= 0
            couple = np.stack([rows[hit], candidates[found[hit]]], axis=1)
            pairs.append(couple[:, ::-1] if swap else couple)
    if len(pairs) == 1:
        return near
    return np.asarray(np.unique(np.concatenate(pairs), axis=0), dtype=np.int32)


def _lonely(paired: IndexArray, points: FloatArray) -> BoolArray:
    lonely = np.isfinite(points).all(axis=1)
    lonely[paired] = False
    return lonely
