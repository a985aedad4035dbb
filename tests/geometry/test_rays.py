"""Rays meet triangles where geometry says they do, at any scale and from any distance."""

import numpy as np
import pytest
from shapes import grid, sphere

from reviewbot.geometry.rays import CHUNK, RayScene, rays_available, shared_rays
from reviewbot.geometry.triangles import triangulate
from reviewbot.mesh import Part

pytestmark = pytest.mark.skipif(
    not rays_available(), reason="embreex has no wheel for this machine"
)


def triangle_corners(part: Part) -> np.ndarray:
    corners, _ = triangulate(part.points, part.corner_point, part.face_start)
    return part.points[part.corner_point[corners]]


def random_rays(count: int, *, seed: int = 7) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(seed)
    origins = rng.normal(size=(count, 3)) * 3
    return origins, rng.normal(size=(count, 3)) * 0.5 - origins


def brute_force_hits(
    corners: np.ndarray, origins: np.ndarray, directions: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Ray-triangle test by Möller & Trumbore (1997), every ray against every triangle."""
    a, edge_1, edge_2 = corners[:, 0], corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    unit = directions / np.linalg.norm(directions, axis=1, keepdims=True)
    across = np.cross(unit[:, None], edge_2)
    scale = np.einsum("tj,ntj->nt", edge_1, across)
    to_origin = origins[:, None] - a
    u = np.einsum("ntj,ntj->nt", to_origin, across) / scale
    other = np.cross(to_origin, edge_1)
    v = np.einsum("nj,ntj->nt", unit, other) / scale
    distance = np.einsum("tj,ntj->nt", edge_2, other) / scale
    inside = (u >= 0) & (v >= 0) & (u + v <= 1) & (distance > 0)
    distance = np.where(inside, distance, np.inf)
    nearest = distance.argmin(axis=1)
    reached = distance[np.arange(len(origins)), nearest]
    return np.where(np.isfinite(reached), nearest, -1), reached


@pytest.mark.parametrize("scale", [1e-4, 1.0, 1e6])
@pytest.mark.parametrize("offset", [0.0, 1e4])
def test_first_hits_are_those_of_moeller_and_trumbore(scale: float, offset: float) -> None:
    corners = triangle_corners(sphere(16, 9))
    origins, directions = random_rays(500)
    expected, distance = brute_force_hits(corners, origins, directions)
    shift = np.full(3, offset) * scale
    scene = RayScene(corners * scale + shift)
    found, reached = scene.first_hits(origins * scale + shift, directions)
    assert np.mean(found == expected) > 0.995  # the rest hit an edge that two triangles share
    np.testing.assert_allclose(reached, distance * scale, rtol=1e-6)


def test_a_far_away_eye_sees_the_same() -> None:
    scene = RayScene(triangle_corners(sphere(64, 33)))
    grid_x, grid_y = np.meshgrid(np.linspace(-0.7, 0.7, 40), np.linspace(-0.7, 0.7, 40))
    near = np.stack([grid_x.ravel(), grid_y.ravel(), np.full(1600, 3.0)], axis=1)
    far = near + np.array([0, 0, 1e7])
    down = np.tile([0.0, 0.0, -1.0], (1600, 1))
    np.testing.assert_array_equal(scene.first_hits(near, down)[0], scene.first_hits(far, down)[0])
    near_distance = scene.first_hits(near, down)[1]
    np.testing.assert_allclose(scene.first_hits(far, down)[1] - 1e7, near_distance, atol=1e-6)


def test_distance_to_a_sphere_is_analytic() -> None:
    """From outside along an axis through the middle: distance less the radius."""
    scene = RayScene(triangle_corners(sphere(200, 101, radius=2.0)))
    rng = np.random.default_rng(3)
    direction = rng.normal(size=(300, 3))
    direction /= np.linalg.norm(direction, axis=1, keepdims=True)
    _, distance = scene.first_hits(-5 * direction, direction)
    np.testing.assert_allclose(distance, 3.0, atol=2.0 * (1 - np.cos(np.pi / 100)) * 2)


def test_blocked_only_within_reach() -> None:
    scene = RayScene(triangle_corners(grid(3, 3)))
    origins = np.tile([0.41, 2.0, -0.37], (3, 1))
    down = np.tile([0.0, -1.0, 0.0], (3, 1))
    assert scene.is_blocked(origins, down).all()
    assert scene.is_blocked(origins, down, np.array([1.9, 2.1, np.inf])).tolist() == [
        False,
        True,
        True,
    ]
    assert not scene.is_blocked(origins, -down).any()


def test_broken_triangles_keep_their_numbers_and_are_never_hit() -> None:
    corners = triangle_corners(grid(2, 1))
    broken = np.concatenate([np.full((2, 3, 3), np.nan), corners, np.full((1, 3, 3), np.inf)])
    origins, down = np.array([[0.2, 1.0, -0.1]]), np.array([[0.0, -1.0, 0.0]])
    whole, _ = RayScene(corners).first_hits(origins, down)
    assert RayScene(broken).first_hits(origins, down)[0] == whole + 2


def test_nothing_to_hit() -> None:
    scene = RayScene(np.empty((0, 3, 3)))
    triangle, distance = scene.first_hits(*random_rays(4))
    assert triangle.tolist() == [-1] * 4
    assert np.isinf(distance).all()
    assert not scene.is_blocked(*random_rays(4)).any()
    assert RayScene(triangle_corners(grid(1, 1))).first_hits(*np.empty((2, 0, 3)))[0].size == 0


def test_origins_and_directions_must_pair_up() -> None:
    scene = RayScene(triangle_corners(grid(1, 1)))
    with pytest.raises(ValueError, match=r"\(N, 3\)"):
        scene.first_hits(np.zeros((1, 3)), np.ones((5, 3)))


def test_threads_and_shared_points_change_nothing() -> None:
    part = sphere(40, 21)
    corners, _ = triangulate(part.points, part.corner_point, part.face_start)
    triangles = part.corner_point[corners]
    origins, directions = random_rays(3 * CHUNK + 17)
    single = RayScene(part.points[triangles], workers=1).first_hits(origins, directions)[0]
    several = RayScene.of_points(part.points, triangles, workers=3)
    np.testing.assert_array_equal(several.first_hits(origins, directions)[0], single)


def test_parallel_lines_see_from_end_to_end() -> None:
    """Wherever the lines' points lie, before, within or behind the form."""
    part = sphere(40, 21)
    scene = RayScene(triangle_corners(part))
    rng = np.random.default_rng(9)
    across, down = rng.uniform(-0.6, 0.6, (2, 400)).astype(np.float32)
    steps = np.array([[1.0, 0, 0], [0, -1.0, 0]])  # along -z
    places = np.stack([across, -down, np.full(400, 5.0)], axis=1).astype(float)
    expected, _ = scene.first_hits(places, np.tile([0.0, 0, -1], (400, 1)))
    for height in (5.0, 0.0, -5.0):
        corner = np.array([0.0, 0, height])
        found = scene.parallel_triangles(corner, steps, across, down)
        assert (found == expected).mean() > 0.995  # the rest hit an edge that two triangles share


def test_shared_rays_are_built_once_for_the_same_arrays() -> None:
    part = sphere(32, 17)
    triangles, _ = triangulate(part.points, part.corner_point, part.face_start)
    triangles = part.corner_point[triangles]
    first = shared_rays(part.points, triangles, workers=1)
    again = shared_rays(part.points.copy(), triangles.copy(), workers=2)
    other = shared_rays(part.points * 2, triangles, workers=1)
    assert again._tree is first._tree
    assert other._tree is not first._tree
    down = np.array([[0.0, 0.0, -1.0]])
    # Within what 32 faces round a ball of radius 1 lie inside of it.
    assert first.first_hits(10 * -down, down)[1][0] == pytest.approx(9.0, abs=0.02)
    assert other.first_hits(10 * -down, down)[1][0] == pytest.approx(8.0, abs=0.02)
