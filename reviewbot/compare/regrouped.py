"""Faces that were cut and merged at once: each new face is made up of pieces of old ones.

An old edge that runs between two corners of a new face, and is no side of it, is an edge that was
merged over. Cut along those, new faces fall into pieces of old faces, or into old faces.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from reviewbot.compare.pieces import pieces_of
from reviewbot.compare.polygons import Rounds, same_faces, triangles_in
from reviewbot.geometry.polygons import corner_faces, corners_of, next_corners
from reviewbot.geometry.rows import rows_where
from reviewbot.mesh import BoolArray, IndexArray

LARGEST = 12  # corners of a new face that is looked into
CUTS = 8  # edges that one new face may have been merged over


@dataclass(frozen=True, slots=True, kw_only=True)
class Regrouped:
    """New faces made up of whole old ones and of pieces of old ones.

    small    the pieces; owner (K,) the new face each is of, -1 for one that is not explained
    source   (C,) the corner of the new faces under each corner of the pieces
    parent   (K,) the old face each piece lies in; corner (C,) the old corner, -1 unknown
    turned   (K,) bool: wound the other way than the old face
    whole    (K,) bool: the piece is the whole old face
    """

    small: Rounds
    owner: IndexArray
    source: IndexArray
    parent: IndexArray
    corner: IndexArray
    turned: BoolArray
    whole: BoolArray


def regrouped(old: Rounds, new: Rounds, edges: Rounds) -> Regrouped | None:
    """How new faces are made up of old ones; None where none is.

    edges  the faces of the version before whose sides are the old edges
    """
    small, owner, source = _cut_along(new, _edge_keys(edges))
    if len(owner) == len(new.order):
        return None
    same, pieces = same_faces(old, small), pieces_of(small, old)
    whole = same.face >= 0
    parent = np.where(whole, same.face, pieces.parent)
    inner = np.repeat(whole, np.diff(small.face_start))
    fine = _explained(small, old, owner, parent, len(new.order))
    if not fine.any():
        return None
    return Regrouped(
        small=small,
        owner=np.where(fine[owner], owner, -1).astype(np.int32),
        source=source,
        parent=parent.astype(np.int32),
        corner=np.where(inner, same.corner, pieces.corner).astype(np.int32),
        turned=np.where(whole, same.reversed, pieces.turned),
        whole=whole,
    )


def _explained(
    small: Rounds, old: Rounds, owner: IndexArray, parent: IndexArray, count: int
) -> BoolArray:
    """(count,) bool: all pieces of the new face lie in old faces that such faces cover wholly."""
    room, need = triangles_in(old), triangles_in(small)
    fine = np.ones(count, dtype=bool)
    while True:
        sound = (parent >= 0) & fine[owner]
        filled = np.bincount(parent[sound], weights=need[sound], minlength=len(room))
        sound &= np.append(filled == room, False)[parent]
        still = fine.copy()
        still[owner[~sound]] = False
        if (still == fine).all():
            return fine
        fine = still


Keys = npt.NDArray[np.int64]


def _edge_keys(rounds: Rounds) -> Keys:
    head = rounds.places[next_corners(rounds.face_start)]
    return np.unique(_keys(rounds.places, head))


def _keys(one: IndexArray, other: IndexArray) -> Keys:
    low, high = np.minimum(one, other), np.maximum(one, other)
    return np.asarray((low.astype(np.int64) << 32) | high)


def _cut_along(new: Rounds, old_edges: Keys) -> tuple[Rounds, IndexArray, IndexArray]:
    """New faces cut along old edges; which new face each piece is of, and the corners of new faces
    under those of the pieces."""
    start, owner = new.face_start, np.arange(len(new.order), dtype=np.int32)
    source = np.arange(len(new.places), dtype=np.int32)
    for _ in range(CUTS):
        cut = _first_cut(new.places[source], start, old_edges)
        if not (cut[:, 0] >= 0).any():
            break
        start, owner, source = _cut_once(start, owner, source, cut)
    small = Rounds(places=new.places[source], face_start=start, order=np.zeros(len(owner)))
    return small, owner, source


def _first_cut(places: IndexArray, start: IndexArray, old_edges: Keys) -> IndexArray:
    """(F, 2) two corners of each face, counted in it, between which an old edge runs; -1 for
    none."""
    sizes = np.diff(start)
    cut = np.full((len(sizes), 2), -1, dtype=np.int32)
    for size in range(4, min(LARGEST, int(sizes.max(initial=0))) + 1):
        rows = rows_where(sizes == size)
        corners = places[start[rows][:, None] + np.arange(size)]
        for low in range(size - 2):
            for high in range(low + 2, size - (low == 0)):
                hit = np.isin(_keys(corners[:, low], corners[:, high]), old_edges)
                free = hit & (cut[rows, 0] < 0)
                cut[rows[free]] = (low, high)
    return cut


def _cut_once(
    start: IndexArray, owner: IndexArray, source: IndexArray, cut: IndexArray
) -> tuple[IndexArray, IndexArray, IndexArray]:
    sizes = np.diff(start)
    whole = rows_where(cut[:, 0] < 0)
    counts, corners = [sizes[whole]], [corners_of(start, whole)]
    owners = [owner[whole]]
    split = rows_where(cut[:, 0] >= 0)
    shape = np.column_stack([sizes[split], cut[split]])
    for size, low, high in np.unique(shape, axis=0).tolist():
        rows = split[(shape == (size, low, high)).all(axis=1)]
        around = start[rows][:, None] + np.arange(size)
        inner = around[:, low : high + 1]
        outer = np.concatenate([around[:, high:], around[:, : low + 1]], axis=1)
        for half in (inner, outer):
            counts.append(np.full(len(rows), half.shape[1]))
            corners.append(half.reshape(-1))
            owners.append(owner[rows])
    ends = np.concatenate([[0], np.cumsum(np.concatenate(counts))]).astype(np.int32)
    return ends, np.concatenate(owners), source[np.concatenate(corners)]


def first_pieces(found: Regrouped, count: int) -> IndexArray:
    """(count,) a piece of each new face, the first; -1 for a face that is not explained."""
    piece = np.full(count, -1, dtype=np.int32)
    rows = rows_where(found.owner >= 0)[::-1]
    piece[found.owner[rows]] = rows
    return piece


def corners_known(found: Regrouped) -> tuple[IndexArray, IndexArray]:
    """Corners of new faces that lie on old corners, and those."""
    owned = found.owner[corner_faces(found.small.face_start)] >= 0
    rows = rows_where(owned & (found.corner >= 0))
    return found.source[rows], found.corner[rows]
