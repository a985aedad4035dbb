"""Points spread over the faces of an asset, and all its triangles for rays."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from reviewbot.geometry.polygons import triangle_vectors
from reviewbot.geometry.ranges import run_starts
from reviewbot.geometry.rows import rows_at
from reviewbot.geometry.triangles import triangulate
from reviewbot.measure.surface import Surface, mirrors
from reviewbot.mesh import FloatArray, IndexArray, Part

FEWEST = 6000  # samples of an asset of few faces: large faces get several
# Steps of the evenest sequence of points in a square (Roberts 2018, after Kronecker): powers of the
# real root of x^3 = x + 1.
_STEPS = (0.7548776662466927, 0.5698402909980532)
GENERIC = np.array([0.7548, 0.5698, 0.3247])  # no symmetry of a usual prop leaves ties along this


@dataclass(frozen=True, slots=True, kw_only=True)
class AssetTriangles:
    """The triangles of all parts, faces numbered through.

    points      (V, 3) float64, asset's space
    triangles   (T, 3) int32 into `points`
    face        (T,) int32, rising
    vector      (T, 3) float64 area vectors, along the outer side
    area        (T,) float64 square units
    face_first  (P + 1,) int32 first face of each part
    """

    points: FloatArray
    triangles: IndexArray
    face: IndexArray
    vector: FloatArray
    area: FloatArray
    face_first: IndexArray


@dataclass(frozen=True, slots=True, kw_only=True)
class FaceSamples:
    """Points on faces, each standing for a piece of one.

    face      (S,) int32 numbered through
    triangle  (S,) int32 into the asset's triangles
    weights   (S, 3) float64 barycentric coordinates in it
    point     (S, 3) float64
    normal    (S, 3) float64 unit length, outer side
    area      (S,) float64 square units that it stands for
    """

    face: IndexArray
    triangle: IndexArray
    weights: FloatArray
    point: FloatArray
    normal: FloatArray
    area: FloatArray


def asset_triangles(parts: Sequence[Part], surfaces: Sequence[Surface]) -> AssetTriangles:
    """Triangles of all parts; those of coordinates that are nan or infinite have a nan area."""
    pieces, owners = [np.empty((0, 3), np.int32)], [np.empty(0, np.int32)]
    first_point, first_face = 0, [0]
    for part, surface in zip(parts, surfaces, strict=True):
        corners, face = triangulate(surface.points, part.corner_point, part.face_start)
        turned = corners[:, ::-1] if mirrors(part.transform) else corners
        pieces.append(rows_at(part.corner_point, turned) + np.int32(first_point))
        owners.append(face + np.int32(first_face[-1]))
        first_point += len(surface.points)
        first_face.append(first_face[-1] + part.face_count)
    points = np.concatenate([np.empty((0, 3)), *(surface.points for surface in surfaces)])
    triangles = np.concatenate(pieces)
    vector = triangle_vectors(points, triangles)
    return AssetTriangles(
        points=points,
        triangles=triangles,
        face=np.concatenate(owners),
        vector=vector,
        area=np.sqrt(np.einsum("ij,ij->i", vector, vector)),
        face_first=np.array(first_face, dtype=np.int32),
    )


def sample_faces(asset: AssetTriangles) -> FaceSamples:
    """Samples of all faces that have an area.

    A small face gets one, in the middle of its largest triangle, where it surely lies on the
    surface; a large one gets as many as its area asks, spread over all its triangles.
    """
    known = np.isfinite(asset.area) & (asset.area > 0)
    piece = float(asset.area[known].sum()) / FEWEST
    counts = np.ones(len(asset.area), dtype=np.int32)
    if piece > 0:
        counts[known] = np.maximum(np.round(asset.area[known] / piece), 1)
    is_large = np.zeros(int(asset.face_first[-1]), dtype=bool)
    is_large[asset.face[counts > 1]] = True
    single, single_area = _largest_of_each_face(
        asset, np.flatnonzero(known & ~is_large[asset.face]).astype(np.int32)
    )
    several = np.flatnonzero(known & is_large[asset.face]).astype(np.int32)
    spread, weights = _spread(asset, several, counts[several])
    triangle = np.concatenate([single, spread])
    weights = np.concatenate([np.full((len(single), 3), 1 / 3), weights])
    return FaceSamples(
        face=asset.face[triangle],
        triangle=triangle,
        weights=weights,
        point=np.einsum(
            "nk,nkj->nj", weights, rows_at(asset.points, rows_at(asset.triangles, triangle))
        ),
        normal=rows_at(asset.vector, triangle) / asset.area[triangle][:, None],
        area=np.concatenate([single_area, asset.area[spread] / counts[spread]]),
    )


def sum_per_part(values: FloatArray, asset: AssetTriangles) -> FloatArray:
    """(P,) sums of per-face values (F,) over each part."""
    ends = np.concatenate([[0.0], np.cumsum(values)])[asset.face_first]
    return np.asarray(np.diff(ends))


def _largest_of_each_face(
    asset: AssetTriangles, triangle: IndexArray
) -> tuple[IndexArray, FloatArray]:
    """The largest of the given triangles of each face, and the area of all of that face's.

    Of equal ones the lowest along a fixed direction, whatever order the file has.
    """
    if not len(triangle):
        return triangle, np.empty(0)
    face, area = asset.face[triangle], asset.area[triangle]
    start = run_starts(face)
    sizes = np.diff(start, append=len(face))
    largest = np.repeat(np.maximum.reduceat(area, start), sizes)
    along = asset.points @ GENERIC
    corners = asset.triangles
    if len(triangle) < len(corners):
        corners = rows_at(corners, triangle)
    height = rows_at(along, corners[:, 0])
    for k in (1, 2):
        height += rows_at(along, corners[:, k])
    height[area < largest * (1 - 1e-6)] = np.inf
    lowest = np.repeat(np.minimum.reduceat(height, start), sizes)
    chosen = np.flatnonzero(height == lowest)
    once = run_starts(face[chosen])  # of those that tie the first
    return triangle[chosen[once]], np.add.reduceat(area, start)


def _spread(
    asset: AssetTriangles, triangle: IndexArray, counts: IndexArray
) -> tuple[IndexArray, FloatArray]:
    """So many points evenly over each triangle: (N,) triangle, (N, 3) barycentric coordinates.

    The corners are taken in their order along a fixed direction, whatever order the file has.
    """
    owner = np.repeat(triangle, counts)
    nth = np.arange(len(owner)) - np.repeat(np.cumsum(counts) - counts, counts)
    u, v = ((0.5 + (nth + 1) * step) % 1.0 for step in _STEPS)
    beyond = u + v > 1
    u, v = np.where(beyond, 1 - u, u), np.where(beyond, 1 - v, v)
    ordered = np.stack([u, v, 1 - u - v], axis=1)
    rank = np.argsort(np.argsort(asset.points[asset.triangles[triangle]] @ GENERIC, axis=1), axis=1)
    return owner, np.take_along_axis(ordered, np.repeat(rank, counts, axis=0), axis=1)
