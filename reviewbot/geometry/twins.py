"""The same place in two versions: identity across versions is by value, not by index."""

from __future__ import annotations

import numpy as np
from scipy.spatial import cKDTree

from reviewbot.geometry.groups import joined_labels
from reviewbot.geometry.rows import rows_finite, rows_where
from reviewbot.geometry.weld import places_within
from reviewbot.mesh import FloatArray, IndexArray

RIVALS = 3  # nearest rows that are weighed against each other
DOUBT = 0.25  # of the tolerance: what lies so little farther than the nearest may be meant as well


def tree_of(points: FloatArray) -> cKDTree:
    """A search tree that is cheap to build; rows must be finite."""
    return cKDTree(points, balanced_tree=False, compact_nodes=False)


def nearest_within(
    tree: cKDTree, points: FloatArray, tolerance: float
) -> tuple[FloatArray, IndexArray]:
    """Distance (N,) and row (N,) int32 of the nearest point in the tree; inf and -1 for none."""
    row = np.full(len(points), -1, dtype=np.int32)
    distance = np.full(len(points), np.inf)
    finite = rows_finite(points)
    if tree.n and finite.any():
        near, index = tree.query(points[finite], distance_upper_bound=tolerance)
        distance[finite] = near
        row[finite] = np.where(np.isfinite(near), index, -1)
    return distance, row


def nearest_few(
    tree: cKDTree, points: FloatArray, count: int, tolerance: float = np.inf
) -> tuple[FloatArray, IndexArray]:
    """Distances (N, K) and rows (N, K) int32 of the nearest points, K = min(count, points in the
    tree); inf and the number of points in the tree where none is within the tolerance."""
    ranks = [*range(1, min(count, tree.n) + 1)]
    distance, row = tree.query(points, k=ranks, distance_upper_bound=tolerance)
    return np.asarray(distance, dtype=np.float64), np.asarray(row, dtype=np.int32)


def shared_places(
    before: FloatArray, after: FloatArray, tolerance: float, *, likely: IndexArray
) -> tuple[IndexArray, IndexArray, int]:
    """One numbering for the places of two versions: nearer than `tolerance` is the same place.

    before, after  (P, 3), (Q, 3) float64; a row with nan is a place of its own
    likely         (K, 2) int32 rows of before and after that may lie together, tried first
    returns        (P,) and (Q,) int32 into places 0..N-1, and N. Two rows of one version that
                   both lie near one row of the other, about equally near, share a place, and so
                   do rows of one version that nothing of the other is near to: so it makes no
                   difference what rounding brought a little nearer or farther
    """
    across = _near_pairs(before, after, tolerance, likely)
    old, new = _chained(before, across[:, 0], tolerance), _chained(after, across[:, 1], tolerance)
    if not len(old) and not len(new) and not _repeats(across):
        return _numbered_by_pairs(across, len(before), len(after))
    joined = np.concatenate([across + np.array([0, len(before)]), old, new + len(before)])
    label = joined_labels(len(before) + len(after), joined[:, 0], joined[:, 1])
    return label[: len(before)], label[len(before) :], int(label.max(initial=-1)) + 1


def _numbered_by_pairs(
    across: IndexArray, before: int, after: int
) -> tuple[IndexArray, IndexArray, int]:
    """Each place before keeps its row as its number; a place after that has none gets a new one."""
    alone = np.ones(after, dtype=bool)
    alone[across[:, 1]] = False
    count = before + int(alone.sum())
    number = np.empty(after, dtype=np.int32)
    number[across[:, 1]] = across[:, 0]
    number[alone] = np.arange(before, count, dtype=np.int32)
    return np.arange(before, dtype=np.int32), number, count


def _repeats(pairs: IndexArray) -> bool:
    return any(int(np.bincount(column).max(initial=0)) > 1 for column in pairs.T)


def _near_pairs(
    before: FloatArray, after: FloatArray, tolerance: float, likely: IndexArray
) -> IndexArray:
    """(K, 2) rows of before and after that may be the same place."""
    with np.errstate(invalid="ignore"):
        gap = np.abs(before[likely[:, 0]] - after[likely[:, 1]]).max(axis=1, initial=0)
    near: IndexArray = likely[gap <= tolerance]
    to_before = _rivals(after, near[:, 1], before, tolerance)[:, ::-1]
    to_after = _rivals(before, near[:, 0], after, tolerance)
    if not len(to_before) and not len(to_after):
        return near
    pairs = np.concatenate([near, to_before, to_after])
    return np.asarray(np.unique(pairs, axis=0), dtype=np.int32)


def _rivals(
    points: FloatArray, paired: IndexArray, others: FloatArray, tolerance: float
) -> IndexArray:
    """(K, 2) rows of points not yet paired, each with the nearest others."""
    rows, candidates = _unpaired(points, paired), rows_where(rows_finite(others))
    if not len(rows) or not len(candidates):
        return np.empty((0, 2), dtype=np.int32)
    distance, found = nearest_few(tree_of(others[candidates]), points[rows], RIVALS, tolerance)
    close = np.isfinite(distance) & (distance <= distance[:, :1] + DOUBT * tolerance)
    row, rank = np.nonzero(close)
    return np.stack([rows[row], candidates[found[row, rank]]], axis=1).astype(np.int32)


def _chained(points: FloatArray, paired: IndexArray, tolerance: float) -> IndexArray:
    """(K, 2) rows of unpaired points that lie within the tolerance of each other."""
    rows = _unpaired(points, paired)
    place = places_within(points[rows], tolerance)
    first = np.zeros(int(place.max(initial=-1)) + 1, dtype=np.int32)
    first[place[::-1]] = rows[::-1]
    chained = first[place] != rows
    return np.stack([first[place][chained], rows[chained]], axis=1)


def _unpaired(points: FloatArray, paired: IndexArray) -> IndexArray:
    alone = rows_finite(points)
    alone[paired] = False
    return rows_where(alone)
