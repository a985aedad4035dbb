"""One part, or several taken as one, as the comparison looks at it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from reviewbot.geometry.polygons import corner_faces
from reviewbot.geometry.rigid import moved
from reviewbot.geometry.rows import rows_at, rows_finite
from reviewbot.measure.shells import Shells, faces_mapped, find_shells
from reviewbot.measure.surface import extent
from reviewbot.mesh import BoolArray, FloatArray, IndexArray, Part, world_points


@dataclass(frozen=True, slots=True, kw_only=True)
class Body:
    """Arrays of one part in the space where two versions are compared.

    V points, C corners, F faces, P places (points by value, as in `Shells.corner_place`).

    part, shells  as measured
    piece         (F,) int32 which of several joined parts a face came from, 0 for one part
    points        (V, 3) float64
    spots         (P, 3) float64 where each place lies; nan for one without a face
    used_spots    (U, 3) float64 the finite ones
    corner_face   (C,) int32
    mapped        (F,) bool: every corner has a UV
    """

    part: Part
    shells: Shells
    piece: IndexArray
    points: FloatArray
    spots: FloatArray
    used_spots: FloatArray
    corner_face: IndexArray
    mapped: BoolArray

    @property
    def name(self) -> str:
        return self.part.name

    @property
    def faces(self) -> int:
        return self.part.face_count


def body_of(part: Part, shells: Shells) -> Body:
    """A body as the file has it, in the asset's own space."""
    points = world_points(part)
    spots = _spots(points, part.corner_point, shells.corner_place)
    return Body(
        part=part,
        shells=shells,
        piece=np.zeros(part.face_count, dtype=np.int32),
        points=points,
        spots=spots,
        used_spots=finite_rows(spots),
        corner_face=corner_faces(part.face_start),
        mapped=faces_mapped(part),
    )


def _spots(points: FloatArray, corner_point: IndexArray, corner_place: IndexArray) -> FloatArray:
    point = np.full(int(corner_place.max(initial=-1)) + 1, -1, dtype=np.int32)
    point[corner_place[::-1]] = corner_point[::-1]
    spots = rows_at(points, point)
    spots[point < 0] = np.nan
    return spots


def finite_rows(values: FloatArray) -> FloatArray:
    finite = rows_finite(values)
    return values if finite.all() else values[finite]


def carried(body: Body, matrix: FloatArray) -> Body:
    """The body under a (4, 4) similarity; lengths in `shells` stay as they were."""
    if np.array_equal(matrix, np.eye(4)):
        return body
    spots = moved(body.spots, matrix)
    return replace(
        body, points=moved(body.points, matrix), spots=spots, used_spots=finite_rows(spots)
    )


def world_normals(part: Part) -> FloatArray:
    """(N, 3) normals under the part's transform: by its inverse transpose, common practice."""
    linear = part.transform[:3, :3]
    if np.array_equal(linear, np.eye(3)):
        return part.normals
    return np.asarray(part.normals @ np.linalg.pinv(linear))


def size_of(bodies: Sequence[Body]) -> float:
    """Diagonal of the box round all bodies; 0 for nothing."""
    spots = [body.used_spots for body in bodies]
    return extent(np.concatenate(spots)) if spots else 0.0


def joined_bodies(bodies: Sequence[Body], matrix: FloatArray) -> Body:
    """Several bodies taken as one, named after the first; `matrix` carries all of them.

    Points that lie together but belong to different parts stand on one place afterwards.
    """
    still = np.eye(4)
    part = joined_parts(
        [
            replace(
                body.part,
                points=body.points,
                normals=world_normals(body.part),
                transform=still,
            )
            for body in bodies
        ]
    )
    one = carried(body_of(part, find_shells(part)), matrix)
    pieces = np.repeat(np.arange(len(bodies), dtype=np.int32), [body.faces for body in bodies])
    return replace(one, piece=pieces)


def joined_parts(parts: Sequence[Part]) -> Part:
    """All faces of several parts in one, in the asset's space; nothing is welded."""
    names = tuple(dict.fromkeys(name for part in parts for name in part.materials))
    return Part(
        name=parts[0].name,
        points=np.concatenate([world_points(part) for part in parts]),
        corner_point=_stacked([(p.corner_point, len(p.points)) for p in parts]),
        face_start=np.concatenate([[0], np.cumsum(_sizes(parts))]),
        uvs=np.concatenate([part.uvs for part in parts]),
        corner_uv=_stacked([(p.corner_uv, len(p.uvs)) for p in parts]),
        materials=names,
        face_material=np.concatenate([_renumbered(part, names) for part in parts]),
        face_smoothing=_joined_smoothing(parts),
        normals=np.concatenate([part.normals for part in parts]),
        corner_normal=_stacked([(p.corner_normal, len(p.normals)) for p in parts]),
    )


def _sizes(parts: Sequence[Part]) -> IndexArray:
    return np.concatenate([np.diff(part.face_start) for part in parts])


def _stacked(lists: Sequence[tuple[IndexArray, int]]) -> IndexArray:
    """Index lists one behind the other, each moved past the entries of those before it."""
    offsets = np.cumsum([0, *(count for _, count in lists)])
    return np.concatenate(
        [
            np.where(indices < 0, -1, indices + offset)
            for (indices, _), (offset, _) in zip(lists, pairwise(offsets), strict=True)
        ]
    ).astype(np.int32)


def _renumbered(part: Part, names: tuple[str, ...]) -> IndexArray:
    number = np.array([*(names.index(name) for name in part.materials), -1], dtype=np.int32)
    return number[part.face_material]


def _joined_smoothing(parts: Sequence[Part]) -> IndexArray | None:
    if all(part.face_smoothing is None for part in parts):
        return None
    return np.concatenate(
        [
            np.zeros(part.face_count, np.int32)
            if part.face_smoothing is None
            else part.face_smoothing
            for part in parts
        ]
    )
