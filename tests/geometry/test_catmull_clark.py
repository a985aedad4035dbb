"""Catmull–Clark steps and limits against published formulas and closed forms."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapes import cube, grid, joined, moebius, polygons, sphere, torus

from reviewbot.geometry.catmull_clark import edge_limits, refine, step, vertex_limits
from reviewbot.mesh import Part

SHAPES = [cube(), sphere(8, 5), torus(7, 5), grid(3, 2), moebius(9)]


def tetrahedron() -> Part:
    points = [(1, 1, 1), (1, -1, -1), (-1, 1, -1), (-1, -1, 1)]
    return polygons(points, [(0, 1, 2), (0, 3, 1), (0, 2, 3), (1, 3, 2)], name="tetrahedron")


def refined(part: Part, steps: int) -> np.ndarray:
    """Points after so many steps; the cage's stay first, then those of its edges."""
    points, corner_point, face_start = part.points, part.corner_point, part.face_start
    for _ in range(steps):
        points, corner_point, face_start = refine(step(points, corner_point, face_start))
    return points


def first_step(part: Part):
    return step(part.points, part.corner_point, part.face_start)


def all_edges(done) -> np.ndarray:
    return np.arange(len(done.edges.ends), dtype=np.int32)


def test_first_step_of_a_cube() -> None:
    """Catmull & Clark 1978: face point = mean of the face, edge point = mean of ends and face
    points, vertex point = (F + 2R + (n - 3)P) / n. Worked by hand for the cube of side 2."""
    done = first_step(cube(side=2.0))
    assert sorted(map(tuple, done.face_points)) == sorted(
        [(-1, 0, 0), (1, 0, 0), (0, -1, 0), (0, 1, 0), (0, 0, -1), (0, 0, 1)]
    )
    np.testing.assert_allclose(np.sort(np.abs(done.edge_points), axis=1), [[0, 0.75, 0.75]] * 12)
    np.testing.assert_allclose(np.abs(done.vertex_points), 5 / 9)


def test_first_step_has_the_counts_of_the_scheme() -> None:
    """V + E + F points and one quad a corner: follows from the definition."""
    for part in SHAPES:
        done = first_step(part)
        points, _, face_start = refine(done)
        assert len(points) == len(part.points) + len(done.edges.ends) + part.face_count
        assert len(face_start) - 1 == len(part.corner_point)


def test_limit_of_a_cube_corner() -> None:
    """Halstead, Kass & DeRose 1993 on the quads of the cage itself:
    (n^2 v + 4 sum(e) + sum(f)) / (n (n + 5)) = (9 + 4 - 1) / 24 = 1/2 a coordinate, by hand."""
    corner, edges, diagonals = np.ones(3), np.full(3, 1.0), np.full(3, -1.0)
    by_hand = (9 * corner + 4 * edges + diagonals) / 24
    np.testing.assert_allclose(vertex_limits(first_step(cube(side=2.0)))[7], by_hand)
    np.testing.assert_allclose(by_hand, 0.5)


@pytest.mark.parametrize("part", [*SHAPES, tetrahedron()], ids=lambda part: part.name)
def test_many_steps_come_to_the_limit(part: Part) -> None:
    """The formula's own claim: endless steps end there (error falls at least by two a step)."""
    done = first_step(part)
    count = len(part.points)
    size = np.ptp(part.points, axis=0).max()
    after = refined(part, 6)
    np.testing.assert_allclose(after[:count], vertex_limits(done), atol=2e-3 * size)
    edges = all_edges(done)
    np.testing.assert_allclose(
        after[count : count + len(edges)], edge_limits(done, edges), atol=2e-3 * size
    )
    closer = np.abs(refined(part, 4)[:count] - vertex_limits(done)).max()
    assert np.abs(after[:count] - vertex_limits(done)).max() <= closer / 3.9 + 1e-12


def test_limits_do_not_move_when_the_cage_is_refined() -> None:
    """A step keeps the limit surface: the limits of the refined cage are those of the cage."""
    for part in SHAPES:
        done = first_step(part)
        next_done = step(*refine(done))
        limits = vertex_limits(next_done)
        count = len(part.points)
        np.testing.assert_allclose(limits[:count], vertex_limits(done), atol=1e-12)
        edges = all_edges(done)
        np.testing.assert_allclose(
            limits[count : count + len(edges)], edge_limits(done, edges), atol=1e-12
        )


def test_a_regular_grid_is_a_bicubic_b_spline() -> None:
    """Catmull & Clark 1978: on a regular net the surface is the uniform bicubic B-spline, whose
    knots lie at the (1, 4, 1)/6 means of control points; for z = x^2 that is x^2 + 1/3."""
    side = np.arange(7.0)
    x, y = np.meshgrid(side, side)
    index = np.arange(49).reshape(7, 7)
    faces = np.stack(
        [index[:-1, :-1], index[:-1, 1:], index[1:, 1:], index[1:, :-1]], axis=-1
    ).reshape(-1, 4)
    net = polygons(np.stack([x, y, x**2], axis=-1).reshape(-1, 3), faces.tolist())
    limits = vertex_limits(first_step(net)).reshape(7, 7, 3)[2:-2, 2:-2]
    np.testing.assert_allclose(limits[..., :2], net.points.reshape(7, 7, 3)[2:-2, 2:-2, :2])
    np.testing.assert_allclose(limits[..., 2], x[2:-2, 2:-2] ** 2 + 1 / 3)


def test_a_rim_is_a_cubic_b_spline() -> None:
    """Uniform cubic B-spline through a square's rim: knots at (1, 4, 1)/6 (textbook formula)."""
    square = polygons([(1, 1, 0), (-1, 1, 0), (-1, -1, 0), (1, -1, 0)], [(0, 1, 2, 3)])
    np.testing.assert_allclose(vertex_limits(first_step(square))[0], [2 / 3, 2 / 3, 0])
    np.testing.assert_allclose(refined(square, 1)[0], [0.75, 0.75, 0])


def test_a_flat_sheet_stays_flat_and_a_lone_point_stays() -> None:
    sheet = grid(4, 3)
    assert np.abs(refined(sheet, 2)[:, 1]).max() == 0
    with_stray = polygons(
        [*sheet.points, (9, 9, 9)], sheet.corner_point.reshape(-1, 4).tolist(), name="stray"
    )
    done = first_step(with_stray)
    np.testing.assert_array_equal(done.vertex_points[-1], (9, 9, 9))
    np.testing.assert_array_equal(vertex_limits(done)[-1], (9, 9, 9))


def test_three_sheets_on_one_edge_keep_that_edge_as_a_curve() -> None:
    points = [(0, 0, 0), (0, 0, 1), (1, 0, 0), (1, 0, 1), (-1, 1, 0), (-1, 1, 1), (-1, -1, 0)]
    book = polygons([*points, (-1, -1, 1)], [(0, 1, 3, 2), (0, 1, 5, 4), (0, 1, 7, 6)])
    done = first_step(book)
    shared = np.flatnonzero(done.edges.side_count == 3)
    np.testing.assert_allclose(done.edge_points[shared], [[0, 0, 0.5]])


@given(seed=st.integers(0, 10**6))
def test_limits_follow_rigid_moves_and_do_not_ask_for_an_order(seed: int) -> None:
    rng = np.random.default_rng(seed)
    part = joined(cube(), torus(5, 4), grid(2, 3))
    turn, _ = np.linalg.qr(rng.normal(size=(3, 3)))
    order = rng.permutation(part.face_count)
    spin = rng.permutation(len(part.points))
    moved = np.empty_like(part.points)
    moved[spin] = part.points @ turn.T + 3.0
    faces = [
        spin[np.roll(part.corner_point[part.face_start[f] : part.face_start[f + 1]], seed)].tolist()
        for f in order
    ]
    mixed = polygons(moved, faces)
    np.testing.assert_allclose(
        vertex_limits(first_step(mixed))[spin],
        vertex_limits(first_step(part)) @ turn.T + 3.0,
        atol=1e-12,
    )


def test_turned_over_faces_do_not_matter() -> None:
    part = cube()
    faces = part.corner_point.reshape(-1, 4).copy()
    faces[2] = faces[2, ::-1]
    np.testing.assert_allclose(
        vertex_limits(first_step(polygons(part.points, faces.tolist()))),
        vertex_limits(first_step(part)),
    )
