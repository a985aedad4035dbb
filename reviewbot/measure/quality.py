"""How well quads and triangles are shaped, by the Verdict library's definitions.

Source: Stimpson, Ernst, Knupp, Pébay & Thompson, "The Verdict Geometric Quality Library", Sandia
National Laboratories SAND2007-1751. For a quad with corners p0..p3, sides L0..L3 and the principal
axes X1 = (p1 - p0) + (p2 - p3), X2 = (p2 - p1) + (p3 - p0), X12 = (p0 - p1) + (p2 - p3):

aspect           longest side * (sum of sides) / (4 * area), the area that of the flat shadow;
                 1 for a square
skew             |X1 . X2| / (|X1| |X2|); 0 for a rectangle
taper            |X12| / min(|X1|, |X2|); 0 for a parallelogram
warpage          1 - min((n0 . n2)^3, (n1 . n3)^3) over unit corner normals; 0 for a flat quad
scaled_jacobian  least over the corners of (sides' cross product along the middle normal) /
                 (product of the sides); 1 for a rectangle, below 0 where a corner turns back

and for a triangle

aspect           longest side * (sum of sides) / (4 sqrt(3) * area); 1 when equilateral
scaled_jacobian  2 / sqrt(3) * twice the area / largest product of two sides; 1 when equilateral
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from reviewbot.geometry.rows import rows_at
from reviewbot.mesh import BoolArray, FloatArray, IndexArray

_CHUNK = 1 << 16  # faces at a time: with fewer, threads wait for the interpreter at each step


@dataclass(frozen=True, slots=True, kw_only=True)
class Quality:
    """Figures of each face, (F,) float64 without unit; nan where a figure does not apply.

    Faces of other than three or four corners have none; triangles have no skew, taper, warpage.
    """

    aspect: FloatArray
    skew: FloatArray
    taper: FloatArray
    warpage: FloatArray
    scaled_jacobian: FloatArray


def measure_quality(
    points: FloatArray, corner_point: IndexArray, face_start: IndexArray
) -> Quality:
    """Quality of faces; a collapsed face has an aspect of inf and a scaled Jacobian of 0."""
    sizes: IndexArray = np.diff(face_start)
    found = np.full((5, len(sizes)), np.nan)
    for quads in _some_at_a_time(sizes == 4):
        p = _corners(points, corner_point, face_start, quads, 4)
        found[0, quads] = quad_aspect(p)
        found[1, quads], found[2, quads] = quad_skew_and_taper(p)
        found[3, quads], found[4, quads] = quad_warpage_and_jacobian(p)
    for triangles in _some_at_a_time(sizes == 3):
        t = _corners(points, corner_point, face_start, triangles, 3)
        found[0, triangles], found[4, triangles] = triangle_aspect_and_jacobian(t)
    aspect, skew, taper, warpage, jacobian = found
    return Quality(aspect=aspect, skew=skew, taper=taper, warpage=warpage, scaled_jacobian=jacobian)


def _some_at_a_time(wanted: BoolArray) -> Iterator[IndexArray]:
    """Rows of the wanted faces, so many at a time that the working arrays stay in the cache."""
    rows = np.flatnonzero(wanted).astype(np.int32)
    for at in range(0, len(rows), _CHUNK):
        yield rows[at : at + _CHUNK]


def quad_aspect(p: FloatArray) -> FloatArray:
    """(Q,) aspect of quads given as (4, 3, Q)."""
    sides = _lengths(np.roll(p, -1, axis=0) - p)
    area = 0.5 * _length(_cross(p[2] - p[0], p[3] - p[1]))
    return _ratio(sides.max(axis=0) * sides.sum(axis=0), 4 * area, np.inf)


def quad_skew_and_taper(p: FloatArray) -> tuple[FloatArray, FloatArray]:
    """(Q,) each, of quads given as (4, 3, Q); a skew of 0 where an axis has no length."""
    first = (p[1] - p[0]) + (p[2] - p[3])
    second = (p[2] - p[1]) + (p[3] - p[0])
    across = (p[0] - p[1]) + (p[2] - p[3])
    a, b = _length(first), _length(second)
    skew = _ratio(np.abs(_dot(first, second)), a * b, 0.0)
    return skew, _ratio(_length(across), np.minimum(a, b), np.inf)


def quad_warpage_and_jacobian(p: FloatArray) -> tuple[FloatArray, FloatArray]:
    """(Q,) each, of quads given as (4, 3, Q); a collapsed corner's normal counts as square."""
    side = np.roll(p, -1, axis=0) - p
    middle = _cross((p[1] - p[0]) + (p[2] - p[3]), (p[2] - p[1]) + (p[3] - p[0]))
    middle_length = _length(middle)
    lengths = _lengths(side)
    normals, jacobians = [], []
    for k in range(4):
        corner = _cross(side[k - 1], side[k])
        normals.append((corner, _length(corner)))
        lever = lengths[k - 1] * lengths[k] * middle_length
        jacobians.append(_ratio(_dot(corner, middle), lever, 0.0))
    lean = [
        _ratio(_dot(normals[k][0], normals[k + 2][0]), normals[k][1] * normals[k + 2][1], 0.0)
        for k in (0, 1)
    ]
    return 1.0 - np.minimum(*lean) ** 3, np.min(jacobians, axis=0)


def triangle_aspect_and_jacobian(t: FloatArray) -> tuple[FloatArray, FloatArray]:
    """(T,) each, of triangles given as (3, 3, T)."""
    sides = _lengths(np.roll(t, -1, axis=0) - t)
    twice_area = _length(_cross(t[1] - t[0], t[2] - t[0]))
    aspect = _ratio(sides.max(axis=0) * sides.sum(axis=0), 2 * np.sqrt(3.0) * twice_area, np.inf)
    lever = (sides * np.roll(sides, -1, axis=0)).max(axis=0)
    return aspect, _ratio(2 / np.sqrt(3.0) * twice_area, lever, 0.0)


def _corners(
    points: FloatArray, corner_point: IndexArray, face_start: IndexArray, faces: IndexArray, n: int
) -> FloatArray:
    """(n, 3, N) corners of faces of n sides, coordinates first: columns are faster than rows."""
    start = face_start[:-1][faces]
    return np.stack(
        [np.ascontiguousarray(rows_at(points, corner_point[start + k]).T) for k in range(n)]
    ).reshape(n, 3, len(faces))


def _cross(a: FloatArray, b: FloatArray) -> FloatArray:
    return np.stack(
        [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]]
    )


def _dot(a: FloatArray, b: FloatArray) -> FloatArray:
    return np.asarray(a[0] * b[0] + a[1] * b[1] + a[2] * b[2])


def _length(a: FloatArray) -> FloatArray:
    return np.asarray(np.sqrt(_dot(a, a)))


def _lengths(a: FloatArray) -> FloatArray:
    """(K, N) lengths of (K, 3, N)."""
    return np.stack([_length(one) for one in a])


def _ratio(above: FloatArray, below: FloatArray, otherwise: float) -> FloatArray:
    """above / below, and `otherwise` where there is nothing below."""
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(below > 0, above / below, np.where(below == 0, otherwise, np.nan))
