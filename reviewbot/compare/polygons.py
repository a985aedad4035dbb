"""Which polygons of two versions are the same: the same places in the same round.

Corners are given as numbers of places in one numbering for both versions, so the point indices,
the order of faces and the corner a face starts at mean nothing.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import numpy as np
import numpy.typing as npt

from reviewbot.geometry.groups import has_repeats
from reviewbot.geometry.polygons import corners_of, next_corners
from reviewbot.geometry.rows import rows_at, rows_where
from reviewbot.mesh import BoolArray, FloatArray, IndexArray

Keys = npt.NDArray[np.uint64]

FEW_CORNERS = 5  # of a face whose corners are told apart pair by pair


@dataclass(frozen=True, slots=True, kw_only=True)
class Rounds:
    """The polygons of one version.

    places      (C,) int32 place under each corner
    face_start  (F + 1,)
    order       (F,) float64, tells faces on the very same places apart (two-sided sheets,
                doubled faces); equal or nearly equal in both versions
    """

    places: IndexArray
    face_start: IndexArray
    order: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class SameFaces:
    """Faces of the version after that were there before.

    face      (F,) int32 the face before, -1 for none
    corner    (C,) int32 the corner before, -1 for none
    reversed  (F,) bool: wound the other way now
    """

    face: IndexArray
    corner: IndexArray
    reversed: BoolArray


def no_faces(after: Rounds) -> SameFaces:
    """No face is known to be the same."""
    return SameFaces(
        face=np.full(len(after.order), -1, dtype=np.int32),
        corner=np.full(len(after.places), -1, dtype=np.int32),
        reversed=np.zeros(len(after.order), dtype=bool),
    )


def same_faces(before: Rounds, after: Rounds, settled: SameFaces | None = None) -> SameFaces:
    """Pair equal polygons; those wound alike first, then those wound the other way.

    settled  pairs that are known already and stay
    """
    found = settled or no_faces(after)
    for keys in (wound_keys, place_keys):
        taken = np.zeros(len(before.order), dtype=bool)
        taken[found.face[found.face >= 0]] = True
        rows_before, rows_after = rows_where(~taken), rows_where(found.face < 0)
        if not len(rows_before) or not len(rows_after):
            break
        row = _paired(
            keys(before)[rows_before],
            keys(after)[rows_after],
            before.order[rows_before],
            after.order[rows_after],
        )
        face = np.full(len(found.face), -1, dtype=np.int32)
        face[rows_after] = np.where(row >= 0, rows_before[row], -1)
        found = _with(found, _aligned(before, after, face))
    return found


def _with(known: SameFaces, more: SameFaces) -> SameFaces:
    return SameFaces(
        face=np.where(more.face >= 0, more.face, known.face),
        corner=np.where(more.corner >= 0, more.corner, known.corner),
        reversed=known.reversed | more.reversed,
    )


def chosen(rounds: Rounds, faces: IndexArray) -> Rounds:
    """Some of the faces."""
    sizes = np.diff(rounds.face_start)[faces]
    return Rounds(
        places=rounds.places[corners_of(rounds.face_start, faces)],
        face_start=np.concatenate([[0], np.cumsum(sizes)]).astype(np.int32),
        order=rounds.order[faces],
    )


def triangles_in(rounds: Rounds) -> IndexArray:
    """(F,) how many triangles a face makes: its places less two; 0 for a collapsed face."""
    sizes = np.diff(rounds.face_start)
    triangles = np.zeros(len(sizes), dtype=np.int32)
    for size in np.unique(sizes).tolist():
        rows = rows_where(sizes == size)
        corners = rounds.places[rounds.face_start[rows][:, None] + np.arange(size)]
        corners.sort(axis=1)
        places = 1 + np.count_nonzero(corners[:, 1:] != corners[:, :-1], axis=1)
        triangles[rows] = np.maximum(places - 2, 0)
    return triangles


def unclear(before: Rounds, after: Rounds) -> tuple[IndexArray, IndexArray]:
    """Rows of faces, before and after, that places alone do not tell apart or turn the right way:
    those that share all their places with another face of their version (two-sided sheets,
    doubled faces), and those that come back to a place."""
    keys_before, keys_after = place_keys(before), place_keys(after)
    crowded = np.unique(np.concatenate([_repeated(keys_before), _repeated(keys_after)]))
    return _unclear(before, keys_before, crowded), _unclear(after, keys_after, crowded)


def come_back(rounds: Rounds) -> BoolArray:
    """(F,) faces that come back to a place: which corner is which there nobody can tell."""
    sizes = np.diff(rounds.face_start)
    back = np.zeros(len(sizes), dtype=bool)
    for size in np.unique(sizes[sizes > 2]).tolist():
        rows = rows_where(sizes == size)
        start = rounds.face_start[rows]
        corners = np.stack([rows_at(rounds.places, start + k) for k in range(size)])
        if size > FEW_CORNERS:
            corners.sort(axis=0)
            back[rows] = (corners[1:] == corners[:-1]).any(axis=0)
        else:
            for one, other in combinations(corners, 2):
                back[rows] |= one == other
    return back


def _unclear(rounds: Rounds, keys: Keys, crowded: Keys) -> IndexArray:
    unclear = come_back(rounds)
    if len(crowded):
        unclear |= np.isin(keys, crowded)
    return rows_where(unclear)


def _repeated(keys: Keys) -> Keys:
    ordered = np.sort(keys)
    return np.unique(ordered[1:][ordered[1:] == ordered[:-1]])


def _mixed(numbers: npt.NDArray[np.int64]) -> Keys:
    """Well-spread 64-bit keys (the finisher of Steele, Lea & Flood's SplittableRandom, 2014)."""
    key = numbers.astype(np.uint64) + np.uint64(0x9E3779B97F4A7C15)
    key = (key ^ (key >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
    key = (key ^ (key >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    return np.asarray(key ^ (key >> np.uint64(31)))


def _summed(keys: Keys, face_start: IndexArray) -> Keys:
    sums = np.zeros(len(face_start) - 1, dtype=np.uint64)
    filled = face_start[1:] > face_start[:-1]
    if filled.any():
        sums[filled] = np.add.reduceat(keys, face_start[:-1][filled])
    return sums


def wound_keys(rounds: Rounds) -> Keys:
    """(F,) keys of the directed sides: equal for one round from any corner, not for its reverse."""
    here = rounds.places.astype(np.int64)
    sides = (here << 32) | here[next_corners(rounds.face_start)]
    return _summed(_mixed(sides), rounds.face_start)


def place_keys(rounds: Rounds) -> Keys:
    """(F,) keys of the places alone, whatever their order."""
    return _summed(_mixed(rounds.places.astype(np.int64)), rounds.face_start)


def _paired(
    before: Keys, after: Keys, order_before: FloatArray, order_after: FloatArray
) -> IndexArray:
    """(F,) int32 for each key after, a row before of equal key, each row used once; else -1."""
    if np.array_equal(before, after) and not has_repeats(before):
        return np.arange(len(after), dtype=np.int32)  # most exports keep their order
    sorted_before, sorted_after = _sorted(before, order_before), _sorted(after, order_after)
    keys_before, keys_after = before[sorted_before], after[sorted_after]
    first = np.searchsorted(keys_after, keys_after)
    target = np.searchsorted(keys_before, keys_after) + np.arange(len(keys_after)) - first
    inside = target < len(keys_before)
    target = np.where(inside, target, 0)
    found = np.full(len(after), -1, dtype=np.int32)
    if len(before):
        hit = inside & (keys_before[target] == keys_after)
        found[sorted_after[hit]] = sorted_before[target[hit]]
    return found


def _sorted(keys: Keys, order: FloatArray) -> npt.NDArray[np.intp]:
    by_key = np.argsort(keys, kind="stable")
    ordered = keys[by_key]
    if np.any(ordered[1:] == ordered[:-1]):
        return np.lexsort((order, keys))
    return by_key


def _aligned(before: Rounds, after: Rounds, face: IndexArray) -> SameFaces:
    """Turn each pair of faces until their corners lie together; pairs that never do are dropped."""
    corner = np.full(len(after.places), -1, dtype=np.int32)
    is_reversed = np.zeros(len(face), dtype=bool)
    sizes_after, sizes_before = np.diff(after.face_start), np.diff(before.face_start)
    paired = np.flatnonzero(face >= 0)
    paired = paired[sizes_after[paired] == sizes_before[face[paired]]]
    for size in np.unique(sizes_after[paired]).tolist():
        rows = paired[sizes_after[paired] == size]
        start = before.face_start[face[rows]]
        turn, backwards = _turns(
            before.places[start[:, None] + np.arange(size)],
            after.places[after.face_start[rows][:, None] + np.arange(size)],
        )
        known = turn >= 0
        steps = np.arange(size) * np.where(backwards[known], -1, 1)[:, None]
        local = (turn[known][:, None] + steps) % max(size, 1)
        own = after.face_start[rows[known]][:, None] + np.arange(size)
        corner[own] = start[known][:, None] + local
        is_reversed[rows] = backwards & known
    aligned = _only_aligned(face, corner, after.face_start)
    return SameFaces(face=aligned, corner=corner, reversed=is_reversed)


def _only_aligned(face: IndexArray, corner: IndexArray, face_start: IndexArray) -> IndexArray:
    first = face_start[:-1]
    filled = face_start[1:] > first
    aligned = np.zeros(len(face), dtype=bool)
    aligned[filled] = corner[first[filled]] >= 0
    return np.where(aligned, face, -1).astype(np.int32)


def _turns(before: IndexArray, after: IndexArray) -> tuple[IndexArray, BoolArray]:
    """For rows of n places: the corner before (M,) that the first corner after is, -1 for none,
    and whether the round runs backwards."""
    count, size = after.shape
    turn = np.full(count, -1, dtype=np.int32)
    backwards = np.zeros(count, dtype=bool)
    if size:  # most faces start at the corner they started at
        same = before[:, 0] == after[:, 0]
        for k in range(1, size):
            same &= before[:, k] == after[:, k]
        turn[same] = 0
    for sign in (1, -1):
        for offset in range(size):
            rows = np.flatnonzero(turn < 0)
            if not len(rows):
                return turn, backwards
            local = (offset + sign * np.arange(size)) % size
            rows = rows[np.all(before[rows][:, local] == after[rows], axis=1)]
            turn[rows], backwards[rows] = offset, sign < 0
    return turn, backwards
