"""Normals for shading: the file's own, else by its smoothing groups, else by creases."""

from __future__ import annotations

import numpy as np

from reviewbot.geometry.exact import exact_places
from reviewbot.geometry.polygons import corner_faces, newell_vectors
from reviewbot.geometry.rows import rows_at
from reviewbot.mesh import FloatArray, IndexArray, Part
from reviewbot.render.samples import Floats32

CREASE_DEGREES = 40.0  # common practice: between the 30 and 60 that the trade's programs start with
_CHUNK = 1 << 17  # corners a turn


def shading_normals(
    part: Part, points: FloatArray, linear: FloatArray
) -> tuple[Floats32, IndexArray]:
    """Unit normals to shade with, and the one of each corner.

    points   (V, 3) the part's points in the space that is drawn
    linear   (3, 3) what brought them there from the part's own space
    returns  normals (N, 3) float32 and corner_normal (C,) int32 into it. A corner whose faces
             have no area gets a normal of zeros. Files' normals are turned along with the points.
    """
    vectors = _known(newell_vectors(points, part.corner_point, part.face_start))
    if np.linalg.det(linear) < 0:  # mirrored: outer sides stay outer sides
        vectors = -vectors
    owner = corner_faces(part.face_start)
    place, group = _meeting_places(part, points)
    summed = _sum_at(vectors, owner, group)
    normals, corner_normal = _unit(summed), group
    if part.face_smoothing is None:
        sharp = _sharp_corners(vectors, owner, place, normals)
        own = _crease_normals(vectors, owner, place, sharp)
        corner_normal = group.copy()
        corner_normal[sharp] = len(normals) + np.arange(len(sharp), dtype=np.int32)
        normals = np.concatenate([normals, own])
    given = part.corner_normal >= 0
    if given.any():
        turned = _unit(part.normals @ np.linalg.pinv(linear))
        corner_normal = np.where(given, part.corner_normal + len(normals), corner_normal)
        normals = np.concatenate([normals, turned])
    return normals, corner_normal.astype(np.int32)


def _meeting_places(part: Part, points: FloatArray) -> tuple[IndexArray, IndexArray]:
    """(C,) the place of each corner, and the group of corners there that share a normal."""
    point_place, _ = exact_places(points)
    place = rows_at(point_place, part.corner_point)
    if part.face_smoothing is None:
        return place, place
    smoothing = part.face_smoothing.astype(np.int64)
    alone = -1 - np.arange(part.face_count)  # group 0 is no group: each face by itself
    key = np.where(smoothing == 0, alone, smoothing)[corner_faces(part.face_start)]
    pair = np.stack([place, key], axis=1).astype(np.float64)
    return place, exact_places(pair)[0]


def _sum_at(vectors: FloatArray, owner: IndexArray, place: IndexArray) -> FloatArray:
    place = place.astype(np.intp)  # what sums are made with: else each one turns it anew
    owned = (rows_at(np.ascontiguousarray(column), owner) for column in vectors.T)
    return np.stack([np.bincount(place, weights=column) for column in owned], axis=1)


def _unit(vectors: FloatArray) -> Floats32:
    units = np.empty(vectors.shape, dtype=np.float32)
    for at in range(0, len(vectors), _CHUNK // 4):
        some = vectors[at : at + _CHUNK // 4]
        length = np.sqrt(np.einsum("ij,ij->i", some, some))
        length[~(length > 0)] = 1.0
        units[at : at + len(some)] = _known(some / length[:, None])
    return units


def _known(values: FloatArray) -> FloatArray:
    """Values with nan as 0 and infinity as the largest number; mostly the very same array."""
    return values if np.isfinite(values).all() else np.nan_to_num(values)


def _sharp_corners(
    vectors: FloatArray, owner: IndexArray, place: IndexArray, normals: Floats32
) -> IndexArray:
    """Corners at places where some face leans from the mean by more than half the crease angle.

    Elsewhere no two faces can lean from each other by more than the whole of it.
    """
    faces = _unit(vectors)
    leaning = np.zeros(len(normals), dtype=bool)
    limit = np.cos(np.radians(CREASE_DEGREES / 2))
    for at in range(0, len(place), _CHUNK):
        here, face = place[at : at + _CHUNK], owner[at : at + _CHUNK]
        leaning[
            here[np.einsum("ij,ij->i", rows_at(faces, face), rows_at(normals, here)) < limit]
        ] = True
    return np.flatnonzero(leaning[place]).astype(np.int32)


def _crease_normals(
    vectors: FloatArray, owner: IndexArray, place: IndexArray, sharp: IndexArray
) -> Floats32:
    """(K, 3) for each sharp corner: the sum over the faces there that lean less than the crease."""
    order = sharp[np.argsort(place[sharp], kind="stable")]
    faces, unit = rows_at(vectors, owner[order]), rows_at(_unit(vectors), owner[order])
    _, first, count = np.unique(place[order], return_index=True, return_counts=True)
    run_first, run_count = np.repeat(first, count), np.repeat(count, count)
    limit = np.cos(np.radians(CREASE_DEGREES))
    summed = np.zeros((len(order), 3))
    for at in range(0, len(order), _CHUNK // 4):
        rows = np.arange(at, min(at + _CHUNK // 4, len(order)))
        left = np.repeat(rows, run_count[rows])
        ends = np.cumsum(run_count[rows])
        within = np.arange(len(left)) - np.repeat(ends - run_count[rows], run_count[rows])
        right = run_first[left] + within
        near = np.einsum("ij,ij->i", rows_at(unit, left), rows_at(unit, right)) >= limit
        for k in range(3):
            weights = faces[right[near], k]
            summed[rows, k] = np.bincount(left[near] - at, weights=weights, minlength=len(rows))
    normals = np.empty((len(sharp), 3), dtype=np.float32)
    normals[np.searchsorted(sharp, order)] = _unit(summed)
    return normals
