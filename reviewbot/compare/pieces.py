"""Faces that are pieces of larger faces: cut without a new point, or merged without losing one."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reviewbot.compare.polygons import Rounds, place_keys, triangles_in
from reviewbot.geometry.polygons import corner_faces, corners_of, next_corners
from reviewbot.geometry.rows import rows_where
from reviewbot.mesh import BoolArray, IndexArray

RIVALS = 4  # faces with the same side that are tried


@dataclass(frozen=True, slots=True, kw_only=True)
class Pieces:
    """Small faces inside larger ones.

    parent  (F,) int32 the larger face each small face is cut from, -1 for none
    turned  (F,) bool: wound the other way than the larger face
    corner  (C,) int32 the corner of the larger face under each small corner, -1 for none or
            where that is not clear
    """

    parent: IndexArray
    turned: BoolArray
    corner: IndexArray


def pieces_of(small: Rounds, large: Rounds) -> Pieces:
    """For each small face, a larger one that has all of its places.

    A piece must have fewer corners than the face it is cut from. Sought along sides that both
    have, running the same way first (so that of two faces back to back the right one is found),
    then over all faces at a place.
    """
    sizes = np.diff(small.face_start)
    parent = np.full(len(sizes), -1, dtype=np.int32)
    sides = _sides_of(large)
    follow = next_corners(small.face_start)
    for backwards in (False, True):
        for step in range(int(sizes.max(initial=0))):
            rows = rows_where((parent < 0) & (sizes > step))
            corner = small.face_start[rows] + step
            tail, head = small.places[corner], small.places[follow[corner]]
            wanted = _side_keys(head, tail) if backwards else _side_keys(tail, head)
            for rank in range(RIVALS):
                still = parent[rows] < 0
                guess = _face_on_side(sides, wanted[still], rank)
                fits = _holds(small, large, rows[still], guess)
                parent[rows[still][fits]] = guess[fits]
    _seek_round_places(small, large, parent)
    _share_out(small, large, parent)
    corner = _corners_in_parents(small, large, parent)
    return Pieces(parent=parent, turned=_turned(small, large, parent, corner), corner=corner)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sides:
    """Directed sides, rising by key, and the face of each."""

    key: np.ndarray[tuple[int], np.dtype[np.int64]]
    face: IndexArray


def _sides_of(rounds: Rounds) -> _Sides:
    key = _side_keys(rounds.places, rounds.places[next_corners(rounds.face_start)])
    order = np.argsort(key, kind="stable")
    return _Sides(key=key[order], face=corner_faces(rounds.face_start)[order])


def _side_keys(tail: IndexArray, head: IndexArray) -> np.ndarray[tuple[int], np.dtype[np.int64]]:
    return np.asarray((tail.astype(np.int64) << 32) | head)


def _face_on_side(
    sides: _Sides, wanted: np.ndarray[tuple[int], np.dtype[np.int64]], rank: int
) -> IndexArray:
    """The face of the rank-th side of each wanted key, -1 where there are not so many."""
    if not len(sides.key):
        return np.full(len(wanted), -1, dtype=np.int32)
    row = np.minimum(np.searchsorted(sides.key, wanted) + rank, len(sides.key) - 1)
    return np.where(sides.key[row] == wanted, sides.face[row], -1).astype(np.int32)


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


def _share_out(small: Rounds, large: Rounds, parent: IndexArray) -> None:
    """Where one of several faces on the same places got more pieces than it has room for, fill
    them one after the other."""
    room, need = triangles_in(large), triangles_in(small)
    rows = rows_where((parent >= 0) & (need > 0))
    filled = np.bincount(parent[rows], weights=need[rows], minlength=len(room))
    if not (filled > room).any():
        return
    key = place_keys(large)
    crowded = np.isin(key, key[filled > room])
    for lot in np.unique(key[crowded]):
        wholes = rows_where(key == lot)
        own = rows[key[parent[rows]] == lot]
        ends, used = np.cumsum(room[wholes]), np.cumsum(need[own])
        if len(own) and used[-1] == ends[-1]:
            parent[own] = wholes[np.searchsorted(ends, used)]


def _turned(small: Rounds, large: Rounds, parent: IndexArray, corner: IndexArray) -> BoolArray:
    """(F,) whether the corners of each piece run backwards round its larger face.

    Steps from corner to corner, each counted forwards, add up to one round if they do run
    forwards; a triangle's that run backwards add up to two.
    """
    step = corner[next_corners(small.face_start)] - corner
    size = np.repeat(np.append(np.diff(large.face_start), 1)[parent], np.diff(small.face_start))
    rounds = (
        np.add.reduceat(np.append(step % size, 0), small.face_start[:-1]) if len(step) else step
    )
    known = (parent >= 0) & (np.diff(small.face_start) > 2)
    unclear = np.zeros(len(parent), dtype=bool)
    unclear[corner_faces(small.face_start)[corner < 0]] = True
    whole = np.append(np.diff(large.face_start), 1)[parent]
    return known & ~unclear & (rounds[: len(parent)] > whole)


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
        equal = inner[:, :, None] == outer[:, None, :]
        found = start[:, None] + equal.argmax(axis=2)
        found[equal.sum(axis=2) != 1] = -1  # a face may come back to a place
        corner[corners_of(small.face_start, group)] = found.reshape(-1)
    return corner
