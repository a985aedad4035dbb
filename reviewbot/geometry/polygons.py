"""Figures of polygons stored flat: corner lists with running offsets.

Everything here is the same whichever corner a face starts at. A face's area is the length of
its Newell vector (Newell's method, as in Sutherland, Evans & Tampieri; common practice), which
for a flat face is its area and for a warped one the area of its flat shadow.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from reviewbot.geometry.rows import row_lengths, rows_at
from reviewbot.mesh import FloatArray, IndexArray

CHUNK = 1 << 16  # faces at a time: with fewer, threads wait for the interpreter at each step


def face_sizes(face_start: IndexArray) -> IndexArray:
    """(F,) int32 number of corners of each face."""
    return np.diff(face_start)


def corner_faces(face_start: IndexArray) -> IndexArray:
    """(C,) int32 the face each corner belongs to."""
    faces = np.arange(len(face_start) - 1, dtype=np.int32)
    return np.repeat(faces, np.diff(face_start))


def next_corners(face_start: IndexArray) -> IndexArray:
    """(C,) int32 the corner after each, round its face."""
    following = np.arange(1, int(face_start[-1]) + 1, dtype=np.int32)
    filled = face_start[1:] > face_start[:-1]
    following[face_start[1:][filled] - 1] = face_start[:-1][filled]
    return following


def previous_corners(face_start: IndexArray) -> IndexArray:
    """(C,) int32 the corner before each, round its face."""
    before = np.arange(-1, int(face_start[-1]) - 1, dtype=np.int32)
    filled = face_start[1:] > face_start[:-1]
    before[face_start[:-1][filled]] = face_start[1:][filled] - 1
    return before


def corners_of(face_start: IndexArray, faces: IndexArray) -> IndexArray:
    """(K,) int32 the corners of the given faces, face by face."""
    sizes = np.diff(face_start)[faces]
    offset = np.arange(sizes.sum()) - np.repeat(np.cumsum(sizes) - sizes, sizes)
    return np.asarray(np.repeat(face_start[faces], sizes) + offset, dtype=np.int32)


def sum_per_face(values: FloatArray, face_start: IndexArray) -> FloatArray:
    """Sums of per-corner values (C,) or (C, K) over each face: (F,) or (F, K); 0 for no corners."""
    sums = np.zeros((len(face_start) - 1, *values.shape[1:]), dtype=np.float64)
    filled = face_start[1:] > face_start[:-1]
    if filled.any():
        sums[filled] = np.add.reduceat(values, face_start[:-1][filled], axis=0)
    return sums


@np.errstate(invalid="ignore", over="ignore")  # infinity less infinity is nan, and said so
def newell_vectors(
    points: FloatArray, corner_point: IndexArray, face_start: IndexArray
) -> FloatArray:
    """(F, 3) area vectors: along the face's normal, as long as its area.

    nan where a point is nan or infinite.
    """
    sizes, start = np.diff(face_start), face_start[:-1]
    vectors = np.zeros((len(sizes), 3))
    for size, faces in _of_few_corners(sizes):
        ring = [rows_at(points, corner_point[start[faces] + k]).T for k in range(size)]
        vectors[faces] = 0.5 * cross_columns(ring[2] - ring[0], ring[-1] - ring[1]).T
    larger = np.flatnonzero(sizes > 4)
    if len(larger):
        vectors[larger] = _ring_vectors(points, corner_point, start[larger], sizes[larger])
    return vectors


@np.errstate(invalid="ignore", over="ignore")
def triangle_vectors(points: FloatArray, triangles: IndexArray) -> FloatArray:
    """(T, 3) the same of triangles (T, 3) into the points."""
    vectors = np.empty((len(triangles), 3))
    for at in range(0, len(triangles), CHUNK):
        a, b, c = (rows_at(points, corner).T for corner in triangles[at : at + CHUNK].T)
        vectors[at : at + CHUNK] = 0.5 * cross_columns(c - a, c - b).T
    return vectors


def cross_columns(a: FloatArray, b: FloatArray) -> FloatArray:
    """Cross products of columns, (3, N) each."""
    return np.stack(
        [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]]
    )


def _ring_vectors(
    points: FloatArray, corner_point: IndexArray, start: IndexArray, sizes: IndexArray
) -> FloatArray:
    corners, own_start = _rings(start, sizes)
    here = rows_at(points, corner_point[corners])
    # Measured from a corner of the face itself, so that a far-off origin costs no digits.
    here = here - np.repeat(here[own_start[:-1]], sizes, axis=0)
    there = here[next_corners(own_start)]
    return 0.5 * sum_per_face(cross_columns(here.T, there.T).T, own_start)


def _rings(start: IndexArray, sizes: IndexArray) -> tuple[IndexArray, IndexArray]:
    """Corners of some faces, one face after the other, and the offsets of each face in them."""
    own_start = np.concatenate([[0], np.cumsum(sizes)]).astype(np.int32)
    within = np.arange(own_start[-1]) - np.repeat(own_start[:-1], sizes)
    return (np.repeat(start, sizes) + within).astype(np.int32), own_start


def signed_areas(uvs: FloatArray, corner_uv: IndexArray, face_start: IndexArray) -> FloatArray:
    """(F,) signed area of each face in the UV plane, above 0 for counter-clockwise (shoelace).

    nan for a face with an unmapped corner (``corner_uv`` of -1).
    """
    sizes, start = np.diff(face_start), face_start[:-1]
    areas = np.zeros(len(sizes))
    if len(uvs):
        for size, faces in _of_few_corners(sizes):
            a, b, *others = (rows_at(uvs, corner_uv[start[faces] + k]).T for k in range(size))
            c, d = others[0], others[-1]
            areas[faces] = 0.5 * _cross_flat(c - a, d - b)
        larger = np.flatnonzero(sizes > 4)
        if len(larger):
            flat = np.column_stack([uvs, np.zeros(len(uvs))])
            areas[larger] = _ring_vectors(flat, corner_uv, start[larger], sizes[larger])[:, 2]
    unmapped = corner_uv < 0
    if unmapped.any():
        areas[corner_faces(face_start)[unmapped]] = np.nan
    return areas


def longest_sides(
    values: FloatArray, corner_value: IndexArray, face_start: IndexArray, faces: IndexArray
) -> FloatArray:
    """(K,) the longest side of each of the given faces, which all have corners.

    values        (V, N) points or UVs, and corner_value (C,) into them
    """
    longest = np.empty(len(faces))
    sizes, start = np.diff(face_start)[faces], face_start[:-1][faces]
    for size, some in _of_few_corners(sizes):
        ring = [rows_at(values, corner_value[start[some] + k]) for k in range(size)]
        sides = [row_lengths(ring[k] - ring[k - 1]) for k in range(size)]
        longest[some] = np.maximum.reduce(sides)
    other = np.flatnonzero((sizes != 3) & (sizes != 4))
    if len(other):
        corners, own_start = _rings(start[other], sizes[other])
        here = rows_at(values, corner_value[corners])
        lengths = row_lengths(here[next_corners(own_start)] - here)
        longest[other] = np.maximum.reduceat(lengths, own_start[:-1])
    return longest


def _of_few_corners(sizes: IndexArray) -> Iterator[tuple[int, IndexArray | slice]]:
    """Rows of faces of three and of four corners, so many at a time that the working arrays stay in
    the cache: nearly all faces are of these, and need no sums by runs of corners."""
    for size in (3, 4):
        some = np.flatnonzero(sizes == size).astype(np.int32)
        for at in range(0, len(some), CHUNK):
            is_all = len(some) == len(sizes)
            yield size, slice(at, at + CHUNK) if is_all else some[at : at + CHUNK]


def _cross_flat(a: FloatArray, b: FloatArray) -> FloatArray:
    """Cross products of columns in a plane, (2, N) each."""
    return np.asarray(a[0] * b[1] - a[1] * b[0])


def face_areas(points: FloatArray, corner_point: IndexArray, face_start: IndexArray) -> FloatArray:
    """(F,) areas in square units; 0 for a collapsed face, nan where a coordinate is nan."""
    return np.asarray(np.linalg.norm(newell_vectors(points, corner_point, face_start), axis=1))


def face_centres(
    points: FloatArray, corner_point: IndexArray, face_start: IndexArray
) -> FloatArray:
    """(F, 3) mean of each face's corners; nan for a face without corners."""
    sizes, start = np.diff(face_start), face_start[:-1]
    centres = np.full((len(sizes), 3), np.nan)
    for size, faces in _of_few_corners(sizes):
        total = rows_at(points, corner_point[start[faces]])
        for k in range(1, size):
            total += rows_at(points, corner_point[start[faces] + k])
        centres[faces] = total / size
    other = np.flatnonzero((sizes > 0) & (sizes != 3) & (sizes != 4))
    if len(other):
        corners, own_start = _rings(start[other], sizes[other])
        centres[other] = (
            sum_per_face(rows_at(points, corner_point[corners]), own_start) / sizes[other, None]
        )
    return centres
