"""Points told apart by the shape round them, which no turn, size, shift or reflection changes."""

from __future__ import annotations

import numpy as np

from reviewbot.compare.body import Body
from reviewbot.geometry.rows import rows_finite, rows_where
from reviewbot.geometry.twins import nearest_few, nearest_within, tree_of
from reviewbot.mesh import BoolArray, FloatArray, IndexArray

NOISE = 2e-3  # descriptors that differ by less are alike
MOST = 4000  # points looked at in each version
RARE = 2  # points that may look alike


def matched_landmarks(before: Body, after: Body) -> tuple[FloatArray, FloatArray]:
    """(K, 3) places before and (K, 3) places after that look alike and like few others."""
    old_rows, old = _landmarks(before)
    new_rows, new = _landmarks(after)
    if len(old) < 4 or len(new) < 4:
        return np.empty((0, 3)), np.empty((0, 3))
    tree = tree_of(old)
    rare_old = _few_alike(old)
    rare_new = _few_alike(new)
    _, row = nearest_within(tree, new, NOISE)
    hit = rows_where((row >= 0) & rare_new)
    hit = hit[rare_old[row[hit]]]
    return before.spots[old_rows[row[hit]]], after.spots[new_rows[hit]]


def _landmarks(body: Body) -> tuple[IndexArray, FloatArray]:
    """Rows of places that stand out, and their descriptors (N, 9)."""
    described = _describe(body)
    rows = rows_where(rows_finite(described))
    if len(rows) > MOST:
        uneven = np.abs(described[rows] - np.median(described[rows], axis=0)).sum(axis=1)
        rows = rows[np.argsort(-uneven, kind="stable")[:MOST]]
    return rows, described[rows]


def _few_alike(described: FloatArray) -> BoolArray:
    """Whether at most RARE points, itself among them, look like each."""
    distance, _ = nearest_few(tree_of(described), described, RARE + 1)
    if distance.shape[1] <= RARE:
        return np.ones(len(described), dtype=bool)
    return np.asarray(distance[:, RARE] > NOISE)


def _describe(body: Body) -> FloatArray:
    """(P, 9) ratios of lengths round each place and round its neighbours; nan for none."""
    ends = body.shells.edges.ends
    ends = ends[ends[:, 0] != ends[:, 1]]
    count = len(body.spots)
    tail = np.concatenate([ends[:, 0], ends[:, 1]])
    head = np.concatenate([ends[:, 1], ends[:, 0]])
    step = body.spots[head] - body.spots[tail]
    length = np.linalg.norm(step, axis=1)
    valence = np.bincount(tail, minlength=count).astype(float)

    def mean(values: FloatArray) -> FloatArray:
        return np.asarray(np.bincount(tail, weights=values, minlength=count) / valence)

    with np.errstate(invalid="ignore", divide="ignore"):
        size = mean(length)
        lean = np.stack([mean(column) for column in step.T], axis=1)
        own = np.stack(
            [
                valence,
                np.sqrt(np.maximum(mean(length**2) - size**2, 0)) / size,
                np.cbrt(mean(length**3)) / size,
                np.linalg.norm(lean, axis=1) / size,
                mean(np.einsum("ij,ij->i", step, lean[tail]) ** 2) / size**4,
            ],
            axis=1,
        )
        around = [mean(own[head, column]) for column in (1, 3, 4)]
        bigger = mean(size[head]) / size
    return np.column_stack([own, *around, bigger])
