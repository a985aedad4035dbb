"""Pieces of one part that lie on identical pieces of another."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from reviewbot.geometry.groups import lot_is_mixed
from reviewbot.geometry.weld import places_within
from reviewbot.measure.surface import PLACE_TOLERANCE, Surface
from reviewbot.measure.topology import Topology
from reviewbot.measure.twins import Keys, face_keys, piece_sums
from reviewbot.mesh import BoolArray, FloatArray, IndexArray, Part


class Pieced(Protocol):
    """What is needed of a part to tell its pieces from another's."""

    @property
    def part(self) -> Part: ...
    @property
    def surface(self) -> Surface: ...
    @property
    def topology(self) -> Topology: ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Double:
    """Pieces of a part that lie exactly on pieces of another.

    part, other  indices into the asset's parts
    pieces       how many of the part's pieces lie on pieces of the other; single faces count only
                 where the two parts are equal
    whole        these are all that the part has
    """

    part: int
    other: int
    pieces: int
    whole: bool


def find_doubles(parts: Sequence[Pieced], size: float) -> tuple[Double, ...]:
    """Each pair of parts with identical pieces in the same place, both ways round.

    size  of the asset, units; places nearer than PLACE_TOLERANCE of it are one
    """
    if len(parts) < 2:
        return ()
    tolerance = PLACE_TOLERANCE * size
    pieces = [one.topology.pieces for one in parts]
    owner = np.repeat(np.arange(len(parts), dtype=np.int32), pieces)
    faces, figures = (np.concatenate(of) for of in zip(*map(_fingerprint, parts), strict=True))
    lot = places_within(figures, tolerance).astype(np.int64) * (int(faces.max(initial=0)) + 1)
    _, lot = np.unique(lot + faces, return_inverse=True)
    candidate = lot_is_mixed(lot.astype(np.int32), owner)
    if not candidate.any():
        return ()
    key = _verified_keys(parts, np.split(candidate, np.cumsum(pieces)[:-1]), tolerance)
    every = _pairs(owner[candidate], key[candidate], pieces)
    whole = {(double.part, double.other) for double in every if double.whole}
    equal = {(part, other) for part, other in whole if (other, part) in whole}
    large = candidate & (faces > 1)
    partly = _pairs(owner[large], key[large], pieces)
    return (
        *(double for double in every if (double.part, double.other) in equal),
        *(double for double in partly if (double.part, double.other) not in equal),
    )


def _fingerprint(one: Pieced) -> tuple[IndexArray, FloatArray]:
    """Number of faces (P,), and middle and root of the area (P, 4), of each piece."""
    count = one.topology.pieces
    known = one.topology.face_piece >= 0
    piece = one.topology.face_piece[known]
    faces = np.bincount(piece, minlength=count)
    figures = np.empty((count, 4))
    for axis in range(3):
        along = one.surface.face_centre[known, axis]
        sums = np.bincount(piece, weights=along, minlength=count)
        figures[:, axis] = sums / np.maximum(faces, 1)
    area = np.bincount(piece, weights=one.surface.face_area[known], minlength=count)
    figures[:, 3] = np.sqrt(area)
    return faces.astype(np.int32), figures


def _verified_keys(
    parts: Sequence[Pieced], candidate: Sequence[BoolArray], tolerance: float
) -> Keys:
    """(P,) uint64 equal for candidates of the same faces in the same places of the asset."""
    wanted = [
        np.append(of_part, False)[one.topology.face_piece]
        for one, of_part in zip(parts, candidate, strict=True)
    ]
    sizes = [
        np.where(some, np.diff(one.part.face_start), 0)
        for one, some in zip(parts, wanted, strict=True)
    ]
    spots = [
        one.surface.points[one.part.corner_point[np.repeat(some, np.diff(one.part.face_start))]]
        for one, some in zip(parts, wanted, strict=True)
    ]
    places = np.split(
        places_within(np.concatenate(spots), tolerance), np.cumsum([len(s) for s in spots])[:-1]
    )
    keys = [
        piece_sums(face_keys(place, np.append(0, np.cumsum(size)).astype(np.int32)), one.topology)
        for one, place, size in zip(parts, places, sizes, strict=True)
    ]
    return np.concatenate([of_part for of_part, _ in keys])


def _pairs(owner: IndexArray, key: Keys, pieces: list[int]) -> tuple[Double, ...]:
    """The parts that share keys, pair by pair and both ways round."""
    order = np.lexsort((owner, key))
    shared: dict[tuple[int, int], int] = {}
    for lot in np.split(order, np.flatnonzero(np.diff(key[order]) != 0) + 1):
        names, counts = np.unique(owner[lot], return_counts=True)
        for name, count in zip(names.tolist(), counts.tolist(), strict=True):
            for other in names.tolist():
                if other != name:
                    shared[name, other] = shared.get((name, other), 0) + count
    return tuple(
        Double(part=part, other=other, pieces=count, whole=count == pieces[part])
        for (part, other), count in sorted(shared.items())
    )
