"""Faces and pieces of one part that lie on identical ones, by value of place."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from reviewbot.geometry.groups import has_repeats
from reviewbot.measure.surface import Surface
from reviewbot.measure.topology import Topology
from reviewbot.mesh import BoolArray, IndexArray, Part

Keys = npt.NDArray[np.uint64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Twins:
    """What is there twice. Of each lot one counts as the original, the others as extra.

    face_twin    (F,) int32 the original face that an extra one lies on, -1 for all others
    touching     (F,) bool: an extra face of another piece that faces the other way, as where two
                 solids stand on each other
    piece_extra  (P,) bool: pieces of more than one face that lie on an identical piece whole
    """

    face_twin: IndexArray
    touching: BoolArray
    piece_extra: BoolArray

    @property
    def left_out(self) -> BoolArray:
        """(F,) bool: extra faces that other measures pass over; those touching belong to solids."""
        return np.asarray((self.face_twin >= 0) & ~self.touching)


def find_twins(part: Part, surface: Surface, topology: Topology) -> Twins:
    """Faces on the same places, whatever corner they start at and however they are wound."""
    keys = face_keys(surface.corner_place, part.face_start)
    twin = _first_of_equals(keys)
    extra = np.flatnonzero(twin >= 0)
    original = twin[extra]
    against = np.einsum("ij,ij->i", surface.face_vector[extra], surface.face_vector[original]) < 0
    touching = np.zeros(len(twin), dtype=bool)
    touching[extra] = against & (topology.face_piece[extra] != topology.face_piece[original])
    piece_keys, faces = piece_sums(keys, topology)
    piece_extra = (_first_of_equals(piece_keys) >= 0) & (faces > 1)
    return Twins(face_twin=twin, touching=touching, piece_extra=piece_extra)


def face_keys(corner_place: IndexArray, face_start: IndexArray) -> Keys:
    """(F,) uint64 equal for faces on the same places; those without corners differ from all."""
    keys = scrambled(~np.arange(len(face_start) - 1, dtype=np.uint64))
    filled = face_start[1:] > face_start[:-1]
    if filled.any():
        of_corner = scrambled(corner_place.astype(np.uint64))
        keys[filled] = scrambled(np.add.reduceat(of_corner, face_start[:-1][filled]))
    return keys


def piece_sums(keys: Keys, topology: Topology) -> tuple[Keys, IndexArray]:
    """(P,) uint64 equal for pieces of equal faces, and (P,) how many faces each has."""
    known = topology.face_piece >= 0
    sums = np.zeros(topology.pieces, dtype=np.uint64)
    np.add.at(sums, topology.face_piece[known], keys[known])
    faces = np.bincount(topology.face_piece[known], minlength=topology.pieces)
    return sums, faces.astype(np.int32)


def scrambled(values: Keys) -> Keys:
    """A mix of the bits of each value, one to one (finalizer of SplitMix64, Steele et al. 2014).

    Sums of such values tell sets apart but for one chance in about 10^19.
    """
    mixed = values + np.uint64(0x9E3779B97F4A7C15)
    mixed = (mixed ^ (mixed >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
    mixed = (mixed ^ (mixed >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    return np.asarray(mixed ^ (mixed >> np.uint64(31)))


def _first_of_equals(keys: Keys) -> IndexArray:
    """(N,) int32 the first row of equal key, -1 for that row itself."""
    if not has_repeats(keys):
        return np.full(len(keys), -1, dtype=np.int32)
    order = np.argsort(keys, kind="stable").astype(np.int32)
    ordered = keys[order]
    new = np.ones(len(keys), dtype=bool)
    new[1:] = ordered[1:] != ordered[:-1]
    first = np.empty(len(keys), dtype=np.int32)
    first[order] = order[new][np.cumsum(new) - 1] if len(keys) else order
    first[first == np.arange(len(keys))] = -1
    return first
