"""Where places went, supposing they moved much as the known ones nearest to them did."""

from __future__ import annotations

import numpy as np

from reviewbot.geometry.rows import rows_where
from reviewbot.geometry.twins import nearest_few, tree_of
from reviewbot.mesh import FloatArray, IndexArray

GUIDES = 4  # known places that a supposed move is averaged over


def drifted_places(
    before: FloatArray,
    after: FloatArray,
    *,
    known: IndexArray,
    open_before: IndexArray,
    open_after: IndexArray,
) -> IndexArray:
    """(N, 2) rows of open places before and after that lie nearest to each other after the move.

    before, after  (P, 3), (Q, 3) places
    known          (K, 2) rows that are the same place; none gives none
    open_before, open_after  rows still without a partner, all finite
    returns        the common part of the move is one affine map of all known places, the rest of
                   it that of the nearest known places
    """
    if len(known) < 4 or not len(open_before) or not len(open_after):
        return np.empty((0, 2), dtype=np.int32)
    source, target = before[known[:, 0]], after[known[:, 1]]
    middle = source.mean(axis=0)
    linear, *_ = np.linalg.lstsq(_with_one(source - middle), target, rcond=None)
    rest = target - _with_one(source - middle) @ linear
    distance, guide = nearest_few(tree_of(source), before[open_before], GUIDES)
    weight = 1 / np.maximum(distance, 1e-300 + 1e-6 * distance.max())
    weight /= weight.sum(axis=1, keepdims=True)
    expected = _with_one(before[open_before] - middle) @ linear
    expected += np.einsum("nk,nki->ni", weight, rest[guide])
    _, to_after = nearest_few(tree_of(after[open_after]), expected, 1)
    _, to_before = nearest_few(tree_of(expected), after[open_after], 1)
    rows = rows_where(to_before[to_after[:, 0], 0] == np.arange(len(open_before)))
    return np.stack([open_before[rows], open_after[to_after[rows, 0]]], axis=1)


def _with_one(points: FloatArray) -> FloatArray:
    return np.column_stack([points, np.ones(len(points))])
