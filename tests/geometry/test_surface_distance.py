from __future__ import annotations

import numpy as np
import trimesh
from shapes import grid, torus

from reviewbot.geometry.surface_distance import distance_to_surface, spread_over


def triangles_of(part) -> np.ndarray:
    quads = part.points[part.corner_point].reshape(-1, 4, 3)
    return np.concatenate([quads[:, [0, 1, 2]], quads[:, [0, 2, 3]]])


def test_the_distance_is_the_one_trimesh_finds() -> None:
    """trimesh.triangles.closest_point, tried on every triangle."""
    triangles = triangles_of(torus(24, 12))
    points = np.random.default_rng(1).normal(size=(300, 3))
    pairs = np.repeat(points, len(triangles), axis=0)
    nearest = trimesh.triangles.closest_point(np.tile(triangles, (len(points), 1, 1)), pairs)
    expected = np.linalg.norm(nearest - pairs, axis=1).reshape(len(points), -1).min(axis=1)
    assert np.allclose(distance_to_surface(points, triangles), expected, atol=1e-9)


def test_above_a_sheet_it_is_the_height() -> None:
    points = np.array([[0.3, 0.25, -0.6], [0.5, -2.0, -0.5], [2.0, 0.0, -0.5]])
    assert np.allclose(distance_to_surface(points, triangles_of(grid(3, 3))), [0.25, 2, 1])


def test_without_a_surface_everything_is_far() -> None:
    assert np.isinf(distance_to_surface(np.zeros((2, 3)), np.empty((0, 3, 3)))).all()
    assert np.isinf(distance_to_surface(np.full((1, 3), np.nan), triangles_of(grid(1, 1)))).all()


def test_points_are_spread_by_area() -> None:
    small = np.array([[0, 0, 0], [1, 0, 0], [0, 1, 0]], dtype=float)
    points, owner = spread_over(np.stack([small, 10 * small]), 1000)
    assert len(points) == len(owner)
    assert (owner == 0).sum() >= 1
    assert (owner == 1).sum() > 20 * (owner == 0).sum()
