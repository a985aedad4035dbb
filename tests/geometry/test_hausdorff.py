"""Surface distances against closed forms, SciPy and trimesh."""

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.distance import directed_hausdorff
from shapes import cube, grid, sphere

from reviewbot.geometry.hausdorff import one_way_distance
from reviewbot.geometry.triangles import triangulate
from reviewbot.mesh import Part


def triangles_of(part: Part) -> np.ndarray:
    corners, _ = triangulate(part.points, part.corner_point, part.face_start)
    return part.points[part.corner_point[corners]]


def both_ways(first: np.ndarray, second: np.ndarray) -> np.ndarray:
    return np.array(
        [one_way_distance(first, second, points=4000), one_way_distance(second, first, points=4000)]
    )


def test_two_parallel_sheets() -> None:
    sheet = triangles_of(grid(5, 5))
    np.testing.assert_allclose(both_ways(sheet, sheet + np.array([0, 0.3, 0])), 0.3)


def test_a_half_sheet_is_near_the_whole_but_not_the_other_way_round() -> None:
    """Distance to a square of half the width grows from 0 to 1/2 over the other half: mean 1/8."""
    whole, half = triangles_of(grid(8, 8)), triangles_of(grid(4, 8, width=0.5))
    (near_mean, near), (far_mean, far) = both_ways(half, whole)
    assert (near_mean, near) == pytest.approx((0, 0), abs=1e-12)
    assert far == pytest.approx(0.5)
    assert far_mean == pytest.approx(1 / 8, rel=0.02)


def test_concentric_spheres_lie_apart_by_the_difference_of_radii() -> None:
    inner, outer = triangles_of(sphere(96, 48)), triangles_of(sphere(96, 48, radius=1.1))
    np.testing.assert_allclose(both_ways(inner, outer), 0.1, rtol=0.02)


def test_a_surface_is_at_no_distance_from_itself_however_it_is_cut() -> None:
    coarse, fine = triangles_of(grid(2, 2)), triangles_of(grid(30, 17))
    np.testing.assert_allclose(both_ways(coarse, fine), 0, atol=1e-12)


def test_nothing_on_either_side_has_no_distance() -> None:
    none, broken = np.empty((0, 3, 3)), np.full((1, 3, 3), np.nan)
    some = triangles_of(cube())
    for other in (none, broken):
        assert np.isnan(both_ways(some, other)).all()


@settings(max_examples=5, deadline=None)
@given(seed=st.integers(0, 10**6))
def test_it_agrees_with_trimesh_and_scipy(seed: int) -> None:
    """trimesh's closest points give the exact distance from the corners; SciPy's
    `directed_hausdorff` over dense samples of both comes near the surfaces' own from above."""
    rng = np.random.default_rng(seed)
    first = triangles_of(sphere(12, 8))
    second = triangles_of(cube(side=1.5)) + rng.normal(scale=0.3, size=3)
    largest = one_way_distance(first, second, points=4000)[1]
    box = trimesh.Trimesh(second.reshape(-1, 3), np.arange(len(second) * 3).reshape(-1, 3))
    exact = trimesh.triangles.closest_point  # point to its own triangle
    corners = np.unique(first.reshape(-1, 3), axis=0)
    every = [exact(np.tile(one, (len(corners), 1, 1)), corners) for one in box.triangles]
    of_corners = np.min([np.linalg.norm(corners - near, axis=1) for near in every], axis=0).max()
    assert of_corners <= largest + 1e-12
    dense = trimesh.sample.sample_surface_even(box, 20000, seed=seed)[0]
    ours, _ = trimesh.sample.sample_surface(
        trimesh.Trimesh(first.reshape(-1, 3), np.arange(len(first) * 3).reshape(-1, 3)),
        4000,
        seed=seed,
    )
    scipy_distance = directed_hausdorff(np.concatenate([ours, corners]), dense)[0]
    assert largest == pytest.approx(scipy_distance, abs=0.05)


@settings(max_examples=8, deadline=None)
@given(seed=st.integers(0, 10**6))
def test_order_does_not_matter(seed: int) -> None:
    rng = np.random.default_rng(seed)
    first, second = triangles_of(sphere(9, 6)), triangles_of(cube())
    mixed = rng.permutation(first)[:, [1, 2, 0]]
    np.testing.assert_allclose(both_ways(mixed, second), both_ways(first, second), rtol=0.01)
