"""Triangles derived from polygons, for rays and pictures; the polygons themselves stay as drawn."""

from __future__ import annotations

import mapbox_earcut
import numpy as np

from reviewbot.geometry.polygons import corner_faces, newell_vectors, next_corners, previous_corners
from reviewbot.mesh import BoolArray, FloatArray, IndexArray


def triangulate(
    points: FloatArray, corner_point: IndexArray, face_start: IndexArray
) -> tuple[IndexArray, IndexArray]:
    """Triangles that cover each face, and the face of each.

    A quad is cut along its shorter diagonal, or the one that lies inside it; a larger convex face
    is fanned; a concave one is cut by ears. A face of n corners gives n - 2 triangles (fewer
    where ears collapse); faces of less than three corners give none.

    returns  corners (T, 3) int32 into the corners, and face (T,) int32, rising
    """
    sizes = np.diff(face_start)
    start = face_start[:-1]
    concave = _concave_faces(points, corner_point, face_start)
    triangle_faces = np.flatnonzero(sizes == 3)
    quads = np.flatnonzero(sizes == 4)
    fans = np.flatnonzero((sizes > 4) & ~concave)
    ears = np.flatnonzero((sizes > 4) & concave)

    pieces = [start[triangle_faces, None] + np.array([0, 1, 2])]
    owners = [triangle_faces]
    pieces.append(_cut_quads(points, corner_point, start[quads]))
    owners.append(np.repeat(quads, 2))
    fan_owner = np.repeat(fans, sizes[fans] - 2)
    step = np.arange(len(fan_owner)) - np.repeat(
        np.cumsum(sizes[fans] - 2) - (sizes[fans] - 2), sizes[fans] - 2
    )
    pieces.append(start[fan_owner, None] + np.stack([0 * step, step + 1, step + 2], axis=1))
    owners.append(fan_owner)
    for ear in ears.tolist():
        cut = _cut_ears(points[corner_point[start[ear] : start[ear] + sizes[ear]]])
        pieces.append(start[ear] + cut)
        owners.append(np.full(len(cut), ear))
    corners, face = np.concatenate(pieces), np.concatenate(owners)
    order = np.argsort(face, kind="stable")
    return corners[order].astype(np.int32), face[order].astype(np.int32)


def _concave_faces(
    points: FloatArray, corner_point: IndexArray, face_start: IndexArray
) -> BoolArray:
    """(F,) bool: faces with a corner that turns against the face's normal."""
    if not len(corner_point):
        return np.zeros(len(face_start) - 1, dtype=bool)
    turning = corner_turns(points, corner_point, face_start)
    concave = np.zeros(len(face_start) - 1, dtype=bool)
    concave[corner_faces(face_start)[turning < 0]] = True
    return concave


def corner_turns(
    points: FloatArray, corner_point: IndexArray, face_start: IndexArray
) -> FloatArray:
    """(C,) sine of each corner's turn about its face's normal, below 0 where it turns back.

    0 for a straight or collapsed corner and in a face without area.
    """
    here = points[corner_point]
    into = here - here[previous_corners(face_start)]
    out = here[next_corners(face_start)] - here
    normals = newell_vectors(points, corner_point, face_start)[corner_faces(face_start)]
    across = np.einsum("ij,ij->i", np.cross(into, out), normals)
    scale = np.sqrt(
        np.einsum("ij,ij->i", into, into)
        * np.einsum("ij,ij->i", out, out)
        * np.einsum("ij,ij->i", normals, normals)
    )
    with np.errstate(invalid="ignore", divide="ignore"):
        sine = across / scale
    return np.where(np.isfinite(sine), sine, 0.0)


def _cut_quads(points: FloatArray, corner_point: IndexArray, start: IndexArray) -> IndexArray:
    """(2Q, 3) int32 corners: each quad in two triangles, start-corner independent."""
    a, b, c, d = (points[corner_point[start + k]] for k in range(4))
    normal = np.cross(c - a, d - b)
    ac_inside = _same_side(np.cross(b - a, c - a), np.cross(c - a, d - a), normal)
    bd_inside = _same_side(np.cross(c - b, d - b), np.cross(d - b, a - b), normal)
    ac_shorter = np.linalg.norm(c - a, axis=1) <= np.linalg.norm(d - b, axis=1)
    along_ac = np.where(ac_inside == bd_inside, ac_shorter, ac_inside)
    cut_ac = np.array([[0, 1, 2], [0, 2, 3]])
    cut_bd = np.array([[0, 1, 3], [1, 2, 3]])
    local = np.where(along_ac[:, None, None], cut_ac, cut_bd)
    return np.asarray((start[:, None, None] + local).reshape(-1, 3), dtype=np.int32)


def _same_side(first: FloatArray, second: FloatArray, normal: FloatArray) -> BoolArray:
    both = np.minimum(np.einsum("ij,ij->i", first, normal), np.einsum("ij,ij->i", second, normal))
    return np.asarray(both > 0)


def _cut_ears(corners: FloatArray) -> IndexArray:
    """(n - 2, 3) int32 local corners of one concave face, seen along its normal."""
    count = len(corners)
    normal = newell_vectors(
        corners, np.arange(count, dtype=np.int32), np.array([0, count], dtype=np.int32)
    )[0]
    fan = np.stack([np.zeros(count - 2), np.arange(1, count - 1), np.arange(2, count)], axis=1)
    length = float(np.linalg.norm(normal))
    if not np.isfinite(length) or length == 0:
        return fan.astype(np.int32)
    axis = int(np.argmax(np.abs(normal)))
    flat = np.delete(corners - corners[0], axis, axis=1)
    if (normal[axis] > 0) == (axis == 1):
        flat = flat[:, ::-1]
    ends = np.array([count], dtype=np.uint32)
    cut = mapbox_earcut.triangulate_float64(np.ascontiguousarray(flat), ends).reshape(-1, 3)
    return _wound_like_face(flat, cut.astype(np.int32))


def _wound_like_face(flat: FloatArray, cut: IndexArray) -> IndexArray:
    a, b, c = (flat[cut[:, k]] for k in range(3))
    turn = (b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0]
    return np.where((turn < 0)[:, None], cut[:, ::-1], cut)
