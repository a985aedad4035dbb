"""How far points lie from a surface of triangles."""

from __future__ import annotations

import numpy as np

from reviewbot.geometry.rows import rows_finite, rows_where
from reviewbot.geometry.twins import nearest_few, tree_of
from reviewbot.mesh import FloatArray, IndexArray

SAMPLES = 30_000
NEAREST = 8


def distance_to_surface(points: FloatArray, triangles: FloatArray) -> FloatArray:
    """(N,) distance of each point to the nearest triangle.

    points     (N, 3) float64
    triangles  (T, 3, 3) float64; those with nan are passed over
    returns    inf where there is no triangle or a point is not finite. The nearest triangle is
               sought among those of the nearest of some 30,000 points spread over the surface,
               so on odd surfaces a figure may be a little too large, never too small
    """
    triangles = triangles[np.isfinite(triangles).all(axis=(1, 2))]
    distance = np.full(len(points), np.inf)
    rows = rows_where(rows_finite(points))
    if not len(triangles) or not len(rows):
        return distance
    spread, owner = spread_over(triangles, SAMPLES)
    _, found = nearest_few(tree_of(spread), points[rows], NEAREST)
    best = np.full(len(rows), np.inf)
    for rank in range(found.shape[1]):
        best = np.minimum(best, _to_triangle(points[rows], triangles[owner[found[:, rank]]]))
    distance[rows] = best
    return distance


def spread_over(triangles: FloatArray, count: int) -> tuple[FloatArray, IndexArray]:
    """About `count` points spread evenly over triangles, at least one on each, and whose each is.

    They lie on a regular grid of barycentric coordinates: the same for the same triangles.
    """
    area = np.linalg.norm(
        np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0]), axis=1
    )
    share = count * area / max(float(area.sum()), 1e-300)
    steps = np.clip(np.ceil(np.sqrt(share)), 1, 200).astype(int)
    points, owners = [], []
    for step in np.unique(steps).tolist():
        rows = rows_where(steps == step)
        weights = _grid_weights(step)
        points.append(np.einsum("gk,tkc->tgc", weights, triangles[rows]).reshape(-1, 3))
        owners.append(np.repeat(rows, len(weights)))
    return np.concatenate(points), np.concatenate(owners)


def _grid_weights(step: int) -> FloatArray:
    """(N, 3) barycentric coordinates of the middles of the upright ones of step^2 triangles."""
    a, b = np.meshgrid(np.arange(step), np.arange(step), indexing="ij")
    inside = a + b < step
    first, second = (a[inside] + 1 / 3) / step, (b[inside] + 1 / 3) / step
    return np.stack([first, second, 1 - first - second], axis=1)


def _to_triangle(points: FloatArray, triangles: FloatArray) -> FloatArray:
    """Distance of each point to its own triangle: to the plane inside, else to the nearest side."""
    a, b, c = triangles[:, 0], triangles[:, 1], triangles[:, 2]
    normal = np.cross(b - a, c - a)
    length = np.linalg.norm(normal, axis=1)
    sides = [
        np.einsum("ij,ij->i", np.cross(q - p, points - p), normal)
        for p, q in ((a, b), (b, c), (c, a))
    ]
    inside = (length > 0) & (np.minimum.reduce(sides) >= 0)
    plane = np.abs(np.einsum("ij,ij->i", points - a, normal)) / np.where(length > 0, length, 1)
    to_sides = np.minimum.reduce([_to_segment(points, p, q) for p, q in ((a, b), (b, c), (c, a))])
    return np.asarray(np.where(inside, plane, to_sides))


def _to_segment(points: FloatArray, start: FloatArray, end: FloatArray) -> FloatArray:
    along = end - start
    square = np.einsum("ij,ij->i", along, along)
    reach = np.einsum("ij,ij->i", points - start, along) / np.where(square > 0, square, 1)
    nearest = start + np.clip(reach, 0, 1)[:, None] * along
    return np.asarray(np.linalg.norm(points - nearest, axis=1))
