"""Triangles cover each face once, wound like it, whichever corner the face starts at."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapes import cube, grid, joined, polygons, sphere, torus

from reviewbot.geometry.polygons import face_areas, newell_vectors
from reviewbot.geometry.triangles import triangulate
from reviewbot.mesh import Part


def star(corners: int, seed: int) -> Part:
    """A flat polygon round the origin; concave where a spike stands between two notches."""
    rng = np.random.default_rng(seed)
    turn = np.linspace(0, 2 * np.pi, corners, endpoint=False)
    reach = rng.uniform(0.3, 1.5, corners)
    flat = np.stack([reach * np.cos(turn), reach * np.sin(turn), 0 * turn], axis=1)
    tilt, _ = np.linalg.qr(rng.normal(size=(3, 3)))
    return polygons(flat @ tilt.T, [list(range(corners))])


def areas_and_lean(part: Part) -> tuple[np.ndarray, np.ndarray]:
    """Each triangle's area, and how far its normal leans from its face's (1: not at all)."""
    corners, face = triangulate(part.points, part.corner_point, part.face_start)
    a, b, c = (part.points[part.corner_point[corners[:, k]]] for k in range(3))
    vectors = 0.5 * np.cross(b - a, c - a)
    area = np.linalg.norm(vectors, axis=1)
    normal = newell_vectors(part.points, part.corner_point, part.face_start)[face]
    normal /= np.linalg.norm(normal, axis=1, keepdims=True)
    return area, np.einsum("ij,ij->i", vectors, normal) / area


@given(corners=st.integers(3, 12), seed=st.integers(0, 10**6))
def test_a_flat_polygon_is_covered_once(corners: int, seed: int) -> None:
    """As many triangles as Meisters' two-ears theorem (1975) says, and no area twice."""
    part = star(corners, seed)
    area, lean = areas_and_lean(part)
    assert len(area) == corners - 2
    np.testing.assert_allclose(lean, 1, atol=1e-6)
    whole = face_areas(part.points, part.corner_point, part.face_start)[0]
    np.testing.assert_allclose(area.sum(), whole, rtol=1e-9)


@pytest.mark.parametrize(
    "part", [cube(), grid(4, 3), sphere(12, 7), torus(9, 8), joined(star(9, 1), cube(), star(5, 2))]
)
def test_faces_come_in_order_with_their_own_corners(part: Part) -> None:
    corners, face = triangulate(part.points, part.corner_point, part.face_start)
    assert (np.diff(face) >= 0).all()
    assert (corners >= part.face_start[face][:, None]).all()
    assert (corners < part.face_start[face + 1][:, None]).all()
    assert (np.bincount(face) == np.diff(part.face_start) - 2).all()


@pytest.mark.parametrize("turns", [1, 2, 3])
@pytest.mark.parametrize("part", [cube(), torus(9, 8)], ids=lambda p: p.name)
def test_the_start_corner_does_not_choose_the_diagonal(part: Part, turns: int) -> None:
    """Not even in squares and trapezoids, whose diagonals are of one length."""

    def cut(rolled: np.ndarray) -> set[frozenset[int]]:
        flat = rolled.reshape(-1)
        corners, _ = triangulate(part.points, flat, part.face_start)
        return {frozenset(row) for row in flat[corners].tolist()}

    quads = part.corner_point.reshape(-1, 4)
    assert cut(np.roll(quads, turns, axis=1)) == cut(quads)


@pytest.mark.parametrize("start", range(4))
def test_an_arrowhead_is_cut_through_its_notch(start: int) -> None:
    arrow = np.array([(0, 0, 0), (2, -1, 0), (0.5, 0, 0), (2, 1, 0)])
    part = polygons(np.roll(arrow, start, axis=0), [[0, 1, 2, 3]])
    area, lean = areas_and_lean(part)
    np.testing.assert_allclose(area, [0.25, 0.25])
    np.testing.assert_allclose(np.abs(lean), 1)


def test_less_than_a_triangle_gives_none() -> None:
    part = polygons(np.zeros((3, 3)), [[0, 1], [0, 1, 2], []])
    corners, face = triangulate(part.points, part.corner_point, part.face_start)
    assert (corners.tolist(), face.tolist()) == ([[2, 3, 4]], [1])
