"""Where surfaces are no surfaces."""

import numpy as np
import pytest
from edits import moved, unshared, with_repeated_faces
from examined import examined_part
from shapes import cube, fin, grid, joined, moebius, polygons, sphere, torus

from reviewbot.mesh import Part


@pytest.mark.parametrize(
    "part",
    [cube(), sphere(24, 12), torus(24, 12), grid(3, 2), moebius(12), unshared(cube())],
    ids=lambda part: part.name,
)
def test_surfaces_are_manifold(part: Part) -> None:
    manifold = examined_part(part).manifold
    assert (len(manifold.edges), len(manifold.points)) == (0, 0)


def test_three_sheets_on_one_edge() -> None:
    one = examined_part(fin())
    assert one.surface.edges.ends[one.manifold.edges].tolist() == [[0, 1]]
    assert len(one.manifold.points) == 0  # there the faces do hang together


def test_boxes_that_touch_along_an_edge_without_sharing_it_are_manifold() -> None:
    part = joined(cube(), moved(cube(), (1, 1, 0)))
    assert len(examined_part(part).manifold.edges) == 0


def test_two_cones_tip_to_tip() -> None:
    ring = [(np.cos(t), np.sin(t)) for t in np.linspace(0, 2 * np.pi, 8, endpoint=False)]
    points = [(0, 0, 0), *((x, y, 1) for x, y in ring), *((x, y, -1) for x, y in ring)]
    up = [(0, 1 + k, 1 + (k + 1) % 8) for k in range(8)]
    down = [(0, 9 + (k + 1) % 8, 9 + k) for k in range(8)]
    assert examined_part(polygons(points, up + down)).manifold.points.tolist() == [0]
    assert examined_part(polygons(points, up)).manifold.points.tolist() == []


def test_two_quads_corner_to_corner() -> None:
    points = [(0, 0, 0), (1, 0, 0), (1, 1, 0), (0, 1, 0), (2, 1, 0), (2, 2, 0), (1, 2, 0)]
    manifold = examined_part(polygons(points, [(0, 1, 2, 3), (2, 4, 5, 6)])).manifold
    assert (manifold.points.tolist(), len(manifold.edges)) == ([2], 0)


def test_a_repeated_face_is_no_third_side() -> None:
    manifold = examined_part(with_repeated_faces(cube(), [0])).manifold
    assert (len(manifold.edges), len(manifold.points)) == (0, 0)
