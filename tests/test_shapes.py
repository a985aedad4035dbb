"""The test meshes are what their names say."""

import numpy as np
import pytest
from shapes import cube, grid, joined, sphere, torus

from reviewbot.geometry.edges import edges_of
from reviewbot.geometry.polygons import newell_vectors
from reviewbot.measure.shells import find_shells
from reviewbot.mesh import Part


def enclosed_volume(part: Part) -> float:
    """Divergence theorem over flat faces; above 0 when wound outwards."""
    area = newell_vectors(part.points, part.corner_point, part.face_start)
    first = part.points[part.corner_point[part.face_start[:-1]]]
    return float(np.einsum("ij,ij->", area, first) / 3)


@pytest.mark.parametrize(
    ("part", "characteristic"),
    [(cube(), 2), (sphere(24, 12), 2), (torus(24, 12), 0), (grid(3, 2), 1)],
    ids=lambda value: getattr(value, "name", str(value)),
)
def test_euler_characteristic_is_that_of_the_solid(part: Part, characteristic: int) -> None:
    """Euler–Poincaré: V - E + F = 2 - 2g for a closed surface of genus g, 1 for a disc."""
    edges = edges_of(part.corner_point, part.face_start)
    assert len(part.points) - len(edges.ends) + part.face_count == characteristic


@pytest.mark.parametrize("part", [cube(), sphere(24, 12), torus(24, 12)], ids=lambda p: p.name)
def test_closed_shapes_are_wound_outwards(part: Part) -> None:
    assert enclosed_volume(part) > 0


def test_a_cube_unfolded_in_one_piece_is_cut_along_seven_edges() -> None:
    """The cut edges of an unfolded convex polyhedron span its vertices: V - 1 (textbook fact)."""
    shells = find_shells(cube())
    assert (shells.count, int(shells.is_seam.sum())) == (1, 7)


def test_a_torus_in_one_rectangle_is_cut_once_each_way() -> None:
    shells = find_shells(torus(24, 12))
    assert (shells.count, int(shells.is_seam.sum())) == (1, 24 + 12)


def test_joining_keeps_every_shell() -> None:
    assert find_shells(joined(cube(), torus(8, 6), grid(2, 2))).count == 3
