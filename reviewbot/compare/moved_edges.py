"""Find the points that moved where polygons were cut or merged as well, so that no face fits.

Cutting faces keeps all edges, merging them keeps most: points supposed to be the same, by their
order in the file or by the UVs they carry, are so where the edges between them are still there.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import numpy.typing as npt

from reviewbot.compare.body import Body
from reviewbot.compare.polygons import Rounds
from reviewbot.compare.uv_places import UV_SAME
from reviewbot.compare.walk import Known
from reviewbot.geometry.polygons import next_corners
from reviewbot.geometry.rows import rows_where
from reviewbot.mesh import BoolArray, IndexArray

PROOF = 0.9  # of the edges between supposed points
ALIKE = 0.4  # fewer against more edges: cutting quads makes half as many again, not thrice as many
LEAST = 3  # edges

Keys = npt.NDArray[np.int64]


def twins_by_edges(before: Body, after: Body, old: Rounds, new: Rounds, known: Known) -> bool:
    """Note twins of places that moved; True where there are some.

    Only where an edge that a twin stands on is there in both versions, and not where most are not.
    """
    if (known.twin_after[old.places] >= 0).all() or (known.twin_before[new.places] >= 0).all():
        return False
    for supposed in supposed_pairs(before, after, old.places, new.places):
        free = (known.twin_after[supposed[:, 0]] < 0) & (known.twin_before[supposed[:, 1]] < 0)
        pairs = supposed[free]
        proven = _proven(old, new, known, pairs)
        if proven is not None and proven.any():
            known.twin_after[pairs[proven, 0]] = pairs[proven, 1]
            known.twin_before[pairs[proven, 1]] = pairs[proven, 0]
            return True
    return False


def supposed_pairs(
    before: Body, after: Body, old: IndexArray, new: IndexArray
) -> Iterator[IndexArray]:
    """(K, 2) places before and after that may be the same, each in one pair only; first those
    under equal indices, where nothing speaks against it, then those that carry equal UVs.

    old, new  (C,) place under each corner
    """
    if len(before.part.points) <= len(after.part.points):
        yield _lone_pairs(
            _keyed(before.part.corner_point.astype(np.int64), old),
            _keyed(after.part.corner_point.astype(np.int64), new),
        )
    if len(before.part.uvs) and len(after.part.uvs):
        yield _lone_pairs(_keyed(_uv_keys(before), old), _keyed(_uv_keys(after), new))


def _uv_keys(body: Body) -> Keys:
    """(C,) the UV of each corner as one number, -1 for none."""
    cell = np.rint(body.part.uvs / (4 * UV_SAME)).astype(np.int64)
    key = np.append((cell[:, 0] << 32) ^ (cell[:, 1] & 0xFFFFFFFF), -1)
    return np.asarray(key[body.part.corner_uv])


def _keyed(keys: Keys, places: IndexArray) -> tuple[Keys, IndexArray]:
    """The keys that lie on one place only, and those places."""
    pairs = np.unique(np.stack([keys, places.astype(np.int64)], axis=1)[keys >= 0], axis=0)
    alone = np.ones(len(pairs), dtype=bool)
    same = pairs[1:, 0] == pairs[:-1, 0]
    alone[1:] &= ~same
    alone[:-1] &= ~same
    return pairs[alone, 0], pairs[alone, 1].astype(np.int32)


def _lone_pairs(before: tuple[Keys, IndexArray], after: tuple[Keys, IndexArray]) -> IndexArray:
    _, rows_before, rows_after = np.intersect1d(
        before[0], after[0], assume_unique=True, return_indices=True
    )
    pairs = np.stack([before[1][rows_before], after[1][rows_after]], axis=1)
    for side in (0, 1):
        pairs = np.unique(pairs, axis=0)
        count = np.bincount(pairs[:, side], minlength=int(pairs[:, side].max(initial=0)) + 1)
        pairs = pairs[count[pairs[:, side]] == 1]
    return pairs


def _proven(old: Rounds, new: Rounds, known: Known, pairs: IndexArray) -> BoolArray | None:
    """(K,) pairs with an edge that both versions have; None where most edges are not."""
    twin_after, twin_before = known.twin_after.copy(), known.twin_before.copy()
    twin_after[pairs[:, 0]], twin_before[pairs[:, 1]] = pairs[:, 1], pairs[:, 0]
    supposed = np.zeros(len(twin_after), dtype=bool)
    supposed[pairs[:, 0]] = True
    ends_before = _sides(old.places, old)
    ends_after = _sides(twin_before[new.places], new)
    concerned = [
        ends[supposed[ends].any(axis=1) & (twin_after[ends] >= 0).all(axis=1)]
        for ends in (ends_before, ends_after)
    ]
    key_before, key_after = (_edge_key(ends) for ends in concerned)
    both = np.isin(key_before, key_after)
    fewer, more = sorted((len(np.unique(key_before)), len(np.unique(key_after))))
    shared = len(np.unique(key_before[both]))
    if fewer < max(LEAST, ALIKE * more) or shared < PROOF * fewer:
        return None
    fine = np.zeros(len(twin_after), dtype=bool)
    fine[concerned[0][both]] = True
    return np.asarray(fine[pairs[:, 0]])


def _sides(places: IndexArray, rounds: Rounds) -> IndexArray:
    """(S, 2) places of the version before at the ends of sides, but for sides that lead nowhere."""
    ends = np.stack([places, places[next_corners(rounds.face_start)]], axis=1)
    return ends[rows_where((ends >= 0).all(axis=1) & (ends[:, 0] != ends[:, 1]))]


def _edge_key(ends: IndexArray) -> Keys:
    low, high = ends.min(axis=1), ends.max(axis=1)
    return np.asarray((low.astype(np.int64) << 32) | high)
