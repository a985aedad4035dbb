"""Rows of equal value as one, exactly: the core of identity by value, in numpy alone."""

from __future__ import annotations

import numpy as np

from reviewbot.mesh import FloatArray, IndexArray

_ODD = 0x9E3779B97F4A7C15  # 2**64 over the golden ratio: spreads neighbouring keys far apart
_MOST_TURNS = 16


def exact_places(values: FloatArray) -> tuple[IndexArray, IndexArray]:
    """Rows of equal value share a place.

    values   (N, K) float64; nan equals nan here, -0 equals 0
    returns  place (N,) int32 numbered 0..P-1 in the order places first occur, and first (P,)
             int32, the first row of each place
    """
    if not len(values):
        return np.empty(0, np.int32), np.empty(0, np.int32)
    first = _first_equal_rows(np.ascontiguousarray(values + 0.0))  # -0.0 + 0.0 is 0.0
    is_first = first == np.arange(len(first), dtype=np.int32)
    number = np.cumsum(is_first, dtype=np.int32) - np.int32(1)
    return number[first], np.flatnonzero(is_first).astype(np.int32)


def _first_equal_rows(rows: FloatArray) -> IndexArray:
    """(N,) the first row that equals each."""
    bits = rows.view(np.int64)
    first = _first_equal_hashes(_row_hashes(rows))
    if first is not None and np.array_equal(bits[first], bits):
        return first
    # Hashes of unequal rows met, by vanishing chance or by intent: sort instead.
    order = np.lexsort(bits.T).astype(np.int32)
    new = np.ones(len(rows), dtype=bool)
    new[1:] = np.any(bits[order[1:]] != bits[order[:-1]], axis=1)
    group = np.cumsum(new) - 1
    first = np.empty(len(rows), dtype=np.int32)
    first[order] = order[new][group]  # lexsort is stable: the first of a group comes first
    return first


def _first_equal_hashes(hashes: np.ndarray[tuple[int], np.dtype[np.uint64]]) -> IndexArray | None:
    """(N,) the first entry of the same hash, by a table of slots; None where slots stay crowded.

    At each turn all waiting entries write themselves to their slots, the first one last; who then
    finds an equal hash there is done, the others try other slots.
    """
    width = len(hashes).bit_length() + 1
    table = np.empty(1 << width, dtype=np.int32)
    first = np.empty(len(hashes), dtype=np.int32)
    waiting = np.arange(len(hashes), dtype=np.int32)
    for turn in range(_MOST_TURNS):
        keys = hashes[waiting]
        spread = np.uint64(pow(_ODD, turn, 2**64))
        slot = ((keys * spread) >> np.uint64(64 - width)).astype(np.int64)
        table[slot[::-1]] = waiting[::-1]
        found = table[slot]
        first[waiting] = found
        waiting = waiting[hashes[found] != keys]
        if not len(waiting):
            return first
    return None


def _row_hashes(rows: FloatArray) -> np.ndarray[tuple[int], np.dtype[np.uint64]]:
    bits = rows.view(np.uint64)
    mixed = np.zeros(len(rows), dtype=np.uint64)
    for column in range(rows.shape[1]):
        mixed ^= bits[:, column]
        mixed *= np.uint64(_ODD)
        mixed ^= mixed >> np.uint64(29)
    return mixed
