"""Faces that are pieces of larger faces: cut without a new point, or merged without losing one."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reviewbot.compare.polygons import Rounds
from reviewbot.compare.walk import corners_of
from reviewbot.geometry.polygons import corner_faces, next_corners
from reviewbot.geometry.rows import rows_where
from reviewbot.mesh import BoolArray, IndexArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Pieces:
    """Small faces inside larger ones.

    parent  (F,) int32 the larger face each small face is cut from, -1 for none
    corner  (C,) int32 the corner of the larger face under each small corner, -1 for none
    """

    parent: IndexArray
    corner: IndexArray


def pieces_of(small: Rounds, large: Rounds) -> Pieces:
    """For each small face, a larger one that has all of its places.

    A piece must have fewer corners than the face it is cut from. Sought along shared sides, as
    most pieces keep one, then over all faces at a place.
    """
    sizes = np.diff(small.face_start)
    parent = np.full(len(sizes), -1, dtype=np.int32)
    for step in range(int(sizes.max(initial=0))):
        rows = rows_where((parent < 0) & (sizes > step))
        if not len(rows):
            break
        for backwards in (False, True):
            open_rows = rows[parent[rows] < 0]
            guess = _face_on_side(small, large, small.face_start[open_rows] + step, backwards)
            fits = _holds(small, large, open_rows, guess)
            parent[open_rows[fits]] = guess[fits]
    _seek_round_places(small, large, parent)
    return Pieces(parent=parent, corner=_corners_in_parents(small, large, parent))


def _face_on_side(small: Rounds, large: Rounds, corners: IndexArray, backwards: bool) -> IndexArray:
    """The larger face with the side that starts at each small corner, -1 for none."""
    if not len(large.places):
        return np.full(len(corners), -1, dtype=np.int32)
    tail, head = small.places[corners], small.places[next_corners(small.face_start)[corners]]
    if backwards:
        tail, head = head, tail
    key = _side_keys(large.places, large.places[next_corners(large.face_start)])
    order = np.argsort(key)
    wanted = _side_keys(tail, head)
    row = np.minimum(np.searchsorted(key[order], wanted), len(key) - 1)
    corner = order[row]
    face = corner_faces(large.face_start)[corner]
    return np.where(key[corner] == wanted, face, -1).astype(np.int32)


def _side_keys(tail: IndexArray, head: IndexArray) -> np.ndarray[tuple[int], np.dtype[np.int64]]:
    return np.asarray((tail.astype(np.int64) << 32) | head)


def _holds(small: Rounds, large: Rounds, rows: IndexArray, guess: IndexArray) -> BoolArray:
    """Whether each guessed face has more corners than the small face and all of its places."""
    fits = np.zeros(len(rows), dtype=bool)
    small_size, large_size = np.diff(small.face_start), np.diff(large.face_start)
    known = rows_where(guess >= 0)
    known = known[small_size[rows[known]] < large_size[guess[known]]]
    shape = np.stack([small_size[rows[known]], large_size[guess[known]]], axis=1)
    for own, other in np.unique(shape, axis=0).tolist():
        group = known[(shape == (own, other)).all(axis=1)]
        inner = small.places[small.face_start[rows[group]][:, None] + np.arange(own)]
        outer = large.places[large.face_start[guess[group]][:, None] + np.arange(other)]
        fits[group] = (inner[:, :, None] == outer[:, None, :]).any(axis=2).all(axis=1)
    return fits


def _seek_round_places(small: Rounds, large: Rounds, parent: IndexArray) -> None:
    """Try all larger faces at the first place of each small face that is still alone."""
    rows = rows_where((parent < 0) & (np.diff(small.face_start) > 0))
    if not len(rows) or not len(large.places):
        return
    order = np.argsort(large.places, kind="stable")
    ordered = large.places[order]
    place = small.places[small.face_start[rows]]
    first = np.searchsorted(ordered, place)
    count = np.searchsorted(ordered, place, side="right") - first
    repeated = np.repeat(np.arange(len(rows)), count)
    within = np.arange(len(repeated)) - np.repeat(np.cumsum(count) - count, count)
    guess = corner_faces(large.face_start)[order[first[repeated] + within]]
    fits = _holds(small, large, rows[repeated], guess)
    parent[rows[repeated[fits]]] = guess[fits]


def _corners_in_parents(small: Rounds, large: Rounds, parent: IndexArray) -> IndexArray:
    corner = np.full(len(small.places), -1, dtype=np.int32)
    rows = rows_where(parent >= 0)
    small_size, large_size = np.diff(small.face_start), np.diff(large.face_start)
    for own, other in np.unique(
        np.stack([small_size[rows], large_size[parent[rows]]], axis=1), axis=0
    ).tolist():
        group = rows[(small_size[rows] == own) & (large_size[parent[rows]] == other)]
        start = large.face_start[parent[group]]
        inner = small.places[corners_of(small.face_start, group)].reshape(-1, own)
        outer = large.places[start[:, None] + np.arange(other)]
        local = (inner[:, :, None] == outer[:, None, :]).argmax(axis=2)
        corner[corners_of(small.face_start, group)] = (start[:, None] + local).reshape(-1)
    return corner
