"""Triangles derived from polygons, for rays and pictures; the polygons themselves stay as drawn."""

from __future__ import annotations

import mapbox_earcut
import numpy as np

from reviewbot.geometry.polygons import (
    CHUNK,
    corner_faces,
    cross_columns,
    newell_vectors,
    next_corners,
    previous_corners,
)
from reviewbot.geometry.rows import rows_at
from reviewbot.mesh import BoolArray, FloatArray, IndexArray


def triangulate(
    points: FloatArray, corner_point: IndexArray, face_start: IndexArray
) -> tuple[IndexArray, IndexArray]:
    """Triangles that cover each face, and the face of each.

    A quad is cut along its shorter diagonal, or the one that lies inside it, whichever corner it
    starts at; a larger convex face is fanned; a concave one is cut by ears. A face of n corners
    gives n - 2 triangles (fewer where ears collapse); faces of less than three corners give none.

    returns  corners (T, 3) int32 into the corners, and face (T,) int32, rising
    """
    sizes, start = np.diff(face_start), face_start[:-1]
    if len(sizes) and (sizes == 4).all():  # as most assets are drawn
        faces = np.arange(len(sizes), dtype=np.int32)
        return _cut_quads(points, corner_point, start).reshape(-1, 3), np.repeat(faces, 2)
    large = np.flatnonzero(sizes > 4).astype(np.int32)
    concave = _concave_faces(points, corner_point, face_start, large)
    ears = [
        (face, start[face] + _cut_ears(points[corner_point[start[face] : face_start[face + 1]]]))
        for face in large[concave].tolist()
    ]
    counts = np.maximum(sizes - 2, 0)
    for face, cut in ears:
        counts[face] = len(cut)
    place = np.cumsum(counts) - counts
    corners = np.empty((int(counts.sum()), 3), dtype=np.int32)
    triangles, quads, fans = np.flatnonzero(sizes == 3), np.flatnonzero(sizes == 4), large[~concave]
    corners[place[triangles]] = start[triangles, None] + np.array([0, 1, 2], dtype=np.int32)
    cut_quads = _cut_quads(points, corner_point, start[quads])
    corners[place[quads]], corners[place[quads] + 1] = cut_quads[:, 0], cut_quads[:, 1]
    step = _ramps(counts[fans])
    owner = np.repeat(fans, counts[fans])
    fan = np.stack([np.zeros_like(step), step + 1, step + 2], axis=1)
    corners[place[owner] + step] = start[owner, None] + fan
    for face, cut in ears:
        corners[place[face] : place[face] + len(cut)] = cut
    return corners, np.repeat(np.arange(len(sizes), dtype=np.int32), counts)


def _ramps(lengths: IndexArray) -> IndexArray:
    """0, 1, 2 ... up to each length, one after the other."""
    ends = np.cumsum(lengths)
    total = int(ends[-1]) if len(ends) else 0
    return np.asarray(np.arange(total) - np.repeat(ends - lengths, lengths), dtype=np.int32)


def _concave_faces(
    points: FloatArray, corner_point: IndexArray, face_start: IndexArray, faces: IndexArray
) -> BoolArray:
    """(L,) bool: which of the given faces have a corner that turns against the face's normal."""
    sizes = np.diff(face_start)[faces]
    corners = np.repeat(face_start[:-1][faces], sizes) + _ramps(sizes)
    own_start = np.concatenate([[0], np.cumsum(sizes)]).astype(np.int32)
    turning = corner_turns(points, corner_point[corners], own_start)
    concave = np.zeros(len(faces), dtype=bool)
    concave[corner_faces(own_start)[turning < 0]] = True
    return concave


def corner_turns(
    points: FloatArray, corner_point: IndexArray, face_start: IndexArray
) -> FloatArray:
    """(C,) sine of each corner's turn about its face's normal, below 0 where it turns back.

    0 for a straight or collapsed corner and in a face without area.
    """
    here = rows_at(points, corner_point)
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
    """(Q, 2, 3) int32 corners: each quad in two triangles, start-corner independent."""
    chunks = [start[at : at + CHUNK] for at in range(0, len(start), CHUNK)]
    along_ac = [_cut_along_ac(points, corner_point, some) for some in chunks]
    cuts = np.array([[[0, 1, 3], [1, 2, 3]], [[0, 1, 2], [0, 2, 3]]], dtype=np.int32)
    choice = np.concatenate([np.empty(0, bool), *along_ac]).astype(np.int8)
    return np.asarray(start[:, None, None] + cuts[choice], dtype=np.int32)


def _cut_along_ac(points: FloatArray, corner_point: IndexArray, start: IndexArray) -> BoolArray:
    """(Q,) bool: cut from the first corner to the third, else from the second to the fourth."""
    a, b, c, d = (
        np.ascontiguousarray(rows_at(points, corner_point[start + k]).T) for k in range(4)
    )
    ac, bd = c - a, d - b
    normal = cross_columns(ac, bd)
    ab, bc, ad = b - a, c - b, d - a
    # The two halves on either side of a diagonal face the same way where it lies inside.
    ac_inside = (
        np.minimum(_dot(cross_columns(ab, ac), normal), _dot(cross_columns(ac, ad), normal)) > 0
    )
    bd_inside = (
        np.minimum(_dot(cross_columns(bc, bd), normal), _dot(cross_columns(ab, ad), normal)) > 0
    )
    first, second = _dot(ac, ac), _dot(bd, bd)
    tied = np.abs(first - second) <= 1e-6 * (first + second)
    heights = np.stack([_dot(_GENERIC[:, None], corner) for corner in (a, b, c, d)])
    ac_lowest = heights.argmin(axis=0) % 2 == 0
    ac_shorter = np.where(tied, ac_lowest, first < second)
    return np.asarray(np.where(ac_inside == bd_inside, ac_shorter, ac_inside))


# Of two diagonals of one length, the one from the corner lowest along here is cut; no more meaning.
_GENERIC = np.array([0.5698, 0.7548, 0.3247])


def _dot(a: FloatArray, b: FloatArray) -> FloatArray:
    """Dot products of columns, (3, N) each."""
    return np.asarray(a[0] * b[0] + a[1] * b[1] + a[2] * b[2])


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
