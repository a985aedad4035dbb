"""Figures of flat polygon lists, against shapely and the plain definitions."""

import itertools

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from reviewbot.geometry.polygons import (
    face_areas,
    face_centres,
    longest_sides,
    newell_vectors,
    next_corners,
    previous_corners,
    signed_areas,
    triangle_vectors,
)


def mixed(seed: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Points of a plane, corners and offsets of faces of none to seven corners."""
    random = np.random.default_rng(seed)
    sizes = random.integers(0, 8, 40)
    start = np.append(0, np.cumsum(sizes)).astype(np.int32)
    corner = random.integers(0, 30, start[-1]).astype(np.int32)
    return random.normal(size=(30, 2)) + random.normal() * 1e3, corner, start


@given(seed=st.integers(0, 10**6))
def test_signed_areas_are_those_of_the_rings(seed: int) -> None:
    uvs, corner, start = mixed(seed)
    found = signed_areas(uvs, corner, start)
    for face, (a, b) in enumerate(itertools.pairwise(start)):
        ring = uvs[corner[a:b]] - (uvs[corner[a]] if b > a else 0)
        x, y = np.concatenate([ring, ring[:1]]).T if b > a else np.zeros((2, 1))
        assert found[face] == pytest.approx(0.5 * np.sum(x[:-1] * y[1:] - x[1:] * y[:-1]), abs=1e-8)


@pytest.mark.parametrize("corners", [3, 4, 5, 9])
def test_areas_of_regular_polygons_are_those_shapely_finds(corners: int) -> None:
    turn = np.linspace(0, 2 * np.pi, corners, endpoint=False)
    ring = np.stack([np.cos(turn), np.sin(turn)], axis=1)
    index, start = np.arange(corners, dtype=np.int32), np.array([0, corners], dtype=np.int32)
    expected = shapely.Polygon(ring).area
    assert signed_areas(ring, index, start).tolist() == pytest.approx([expected])
    assert signed_areas(ring, index[::-1], start).tolist() == pytest.approx([-expected])
    raised = np.column_stack([ring[:, 0], 0 * turn, -ring[:, 1]]) + 1e6
    assert face_areas(raised, index, start).tolist() == pytest.approx([expected])
    np.testing.assert_allclose(newell_vectors(raised, index, start), [(0, expected, 0)], atol=1e-9)


@given(seed=st.integers(0, 10**6))
def test_centres_are_means_and_corners_go_round(seed: int) -> None:
    flat, corner, start = mixed(seed)
    points = np.column_stack([flat, flat[:, 0] * 2])
    centres = face_centres(points, corner, start)
    follow, before = next_corners(start), previous_corners(start)
    for face, (a, b) in enumerate(itertools.pairwise(start)):
        if a == b:
            assert np.isnan(centres[face]).all()
            continue
        np.testing.assert_allclose(centres[face], points[corner[a:b]].mean(axis=0), rtol=1e-12)
        assert follow[a:b].tolist() == np.roll(np.arange(a, b), -1).tolist()
        assert before[follow[a:b]].tolist() == list(range(a, b))


def test_unmapped_corners_and_numbers_that_are_none_spoil_their_face_alone() -> None:
    uvs = np.array([(0, 0), (1, 0), (1, 1), (0, 1), (np.nan, 0)])
    corner = np.array([0, 1, 2, 3, 0, 1, -1, 0, 1, 4], dtype=np.int32)
    start = np.array([0, 4, 7, 10], dtype=np.int32)
    np.testing.assert_array_equal(signed_areas(uvs, corner, start), [1, np.nan, np.nan])
    nothing = np.full(3, -1, dtype=np.int32)
    assert np.isnan(signed_areas(np.empty((0, 2)), nothing, np.array([0, 3], dtype=np.int32))).all()


def test_longest_sides_are_those_of_every_ring() -> None:
    random = np.random.default_rng(3)
    sizes = random.integers(1, 8, 200)
    start = np.append(0, np.cumsum(sizes)).astype(np.int32)
    uvs = random.normal(size=(50, 2))
    corner_uv = random.integers(0, 50, start[-1]).astype(np.int32)
    faces = np.flatnonzero(random.random(200) < 0.7).astype(np.int32)
    plain = [
        np.linalg.norm(ring - np.roll(ring, 1, axis=0), axis=1).max()
        for ring in (uvs[corner_uv[start[face] : start[face + 1]]] for face in faces)
    ]
    np.testing.assert_allclose(longest_sides(uvs, corner_uv, start, faces), plain)


def test_triangle_vectors_are_those_of_faces_of_three_corners() -> None:
    random = np.random.default_rng(4)
    points = random.normal(size=(30, 3))
    triangles = random.integers(0, 30, (9000, 3)).astype(np.int32)  # more than are taken at a time
    every = np.arange(0, triangles.size + 1, 3, dtype=np.int32)
    np.testing.assert_array_equal(
        triangle_vectors(points, triangles), newell_vectors(points, triangles.reshape(-1), every)
    )
