"""Faces that were cut or merged before they were subdivided.

A subdivision step puts a point into the middle of each face it finds: where that middle is not
the middle of a face that was there, but those of a face's triangles, or that of two faces
together, are, the faces were cut or merged before the step.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from reviewbot.compare.body import Body
from reviewbot.compare.grown import Grown, picked
from reviewbot.geometry.polygons import corner_faces, corners_of, next_corners, sum_per_face
from reviewbot.geometry.rows import rows_where
from reviewbot.geometry.twins import nearest_within, tree_of
from reviewbot.mesh import BoolArray, FloatArray, IndexArray

_There = Callable[[FloatArray], BoolArray]

LARGEST = 8  # corners of a face that is sought cut into a fan


@dataclass(frozen=True, slots=True, kw_only=True)
class Recut:
    """The faces a step was taken from.

    grown   they, with `face` the face of the part each is, is a piece of, or is merged from
    cut     rows of faces of the part that were cut into triangles
    merged  rows of faces of the part that were merged
    pieces  how many triangles and mergers there are
    """

    grown: Grown
    cut: IndexArray
    merged: IndexArray
    pieces: tuple[int, int]


def recut_before_step(grown: Grown, after: Body, reach: float) -> Recut | None:
    """What was cut or merged before a step to `after`; None where nothing shows it.

    reach  in units: nearer is the same place
    """
    tree = tree_of(after.used_spots)

    def there(spots: FloatArray) -> BoolArray:
        return np.asarray(nearest_within(tree, spots, reach)[1] >= 0)

    sizes = np.diff(grown.start)
    middles = sum_per_face(grown.spots[grown.place], grown.start)
    open_faces = ~there(middles / np.maximum(sizes, 1)[:, None]) & (sizes > 2)
    fan = _fans(grown, open_faces, there)
    pairs = _merged_pairs(grown, open_faces & (fan < 0), middles, there)
    if not (fan >= 0).any() and not len(pairs):
        return None
    return _recut(grown, fan, pairs)


def _fans(grown: Grown, wanted: BoolArray, there: _There) -> IndexArray:
    """(F,) the corner, counted in each face, from which it was cut into a fan; -1 for none."""
    fan = np.full(len(wanted), -1, dtype=np.int32)
    sizes = np.diff(grown.start)
    for size in range(4, min(LARGEST, int(sizes.max(initial=0))) + 1):
        for first in range(size):
            rows = rows_where(wanted & (sizes == size) & (fan < 0))
            if len(rows):
                corners = grown.spots[grown.place[grown.start[rows][:, None] + np.arange(size)]]
                around = np.roll(corners, -first, axis=1)
                middles = (around[:, :1] + around[:, 1:-1] + around[:, 2:]) / 3
                fits = there(middles.reshape(-1, 3)).reshape(len(rows), -1).all(axis=1)
                fan[rows[fits]] = first
    return fan


def _merged_pairs(
    grown: Grown, wanted: BoolArray, middles: FloatArray, there: _There
) -> IndexArray:
    """(K, 2) corners on either side of an edge between two faces that were merged over it; each
    face is in one pair at the most."""
    owner, follow = corner_faces(grown.start), next_corners(grown.start)
    tail, head = grown.place.astype(np.int64), grown.place[follow].astype(np.int64)
    sides = rows_where(wanted[owner])
    forth, back = (tail << 32 | head)[sides], (head << 32 | tail)[sides]
    _, one, other = np.intersect1d(forth, back, return_indices=True)
    pairs = np.stack([sides[one], sides[other]], axis=1)
    pairs = pairs[owner[pairs[:, 0]] < owner[pairs[:, 1]]]
    a, b = owner[pairs[:, 0]], owner[pairs[:, 1]]
    sizes = np.diff(grown.start)
    ends = grown.spots[grown.place[pairs[:, 0]]] + grown.spots[grown.place[follow[pairs[:, 0]]]]
    middle = (middles[a] + middles[b] - ends) / (sizes[a] + sizes[b] - 2)[:, None]
    pairs = pairs[there(middle)]
    for side in (0, 1):
        pairs = pairs[np.unique(owner[pairs[:, side]], return_index=True)[1]]
    again = np.isin(owner[pairs[:, 0]], owner[pairs[:, 1]])
    return pairs[~again].astype(np.int32)


def _recut(grown: Grown, fan: IndexArray, pairs: IndexArray) -> Recut:
    owner = corner_faces(grown.start)
    merged = owner[pairs]
    plain = np.ones(len(fan), dtype=bool)
    plain[merged.reshape(-1)] = False
    plain &= fan < 0
    rounds = [(corners_of(grown.start, rows_where(plain)), np.diff(grown.start)[plain])]
    cut, triangles = _fan_corners(grown, fan)
    rounds += [(triangles, np.full(len(triangles) // 3, 3)), _joined_rounds(grown, pairs)]
    corners = np.concatenate([corner for corner, _ in rounds])
    sizes = np.concatenate([size for _, size in rounds])
    start = np.concatenate([[0], np.cumsum(sizes)])
    return Recut(
        grown=picked(grown, corners, start, grown.face[owner[corners[start[:-1]]]]),
        cut=grown.face[cut],
        merged=grown.face[np.unique(merged)],
        pieces=(len(triangles) // 3, len(pairs)),
    )


def _fan_corners(grown: Grown, fan: IndexArray) -> tuple[IndexArray, IndexArray]:
    """Rows of the faces that were cut, and the corners of their triangles."""
    sizes, found = np.diff(grown.start), [np.empty((0, 3), dtype=np.int32)]
    for size in np.unique(sizes[fan >= 0]).tolist():
        rows = rows_where((fan >= 0) & (sizes == size))
        around = (fan[rows][:, None] + np.arange(size)) % size + grown.start[rows][:, None]
        first = np.repeat(around[:, :1], size - 2, axis=1)
        found.append(np.stack([first, around[:, 1:-1], around[:, 2:]], axis=2).reshape(-1, 3))
    return rows_where(fan >= 0), np.concatenate(found).reshape(-1).astype(np.int32)


def _joined_rounds(grown: Grown, pairs: IndexArray) -> tuple[IndexArray, IndexArray]:
    """Corners of the mergers, round each, and how many each has."""
    owner, sizes = corner_faces(grown.start), np.diff(grown.start)
    corners = [np.empty(0, dtype=np.int32)]
    both = sizes[owner[pairs]]
    for one, other in np.unique(both, axis=0).tolist():
        own = pairs[(both == (one, other)).all(axis=1)]
        halves = [
            _onward(grown, own[:, 0], range(1, one + 1)),
            _onward(grown, own[:, 1], range(2, other)),
        ]
        corners.append(np.concatenate(halves, axis=1).reshape(-1))
    order = np.lexsort((both[:, 1], both[:, 0]))
    return np.concatenate(corners).astype(np.int32), (both.sum(axis=1) - 2)[order]


def _onward(grown: Grown, corners: IndexArray, steps: range) -> IndexArray:
    """(N, K) corners so many steps on round their faces."""
    owner = corner_faces(grown.start)[corners]
    first, size = grown.start[owner], np.diff(grown.start)[owner]
    round_face = ((corners - first)[:, None] + np.array(steps)) % size[:, None]
    return np.asarray(first[:, None] + round_face)
