"""Counts and pieces, against Euler–Poincaré and against VTK."""

from __future__ import annotations

import numpy as np
import pytest
import real_meshes
import vtk
from edits import moved, unshared
from examined import examined_part
from shapes import cube, grid, joined, moebius, polygons, sphere, torus
from vtk.util.numpy_support import numpy_to_vtk, numpy_to_vtkIdTypeArray

from reviewbot.mesh import Part
from reviewbot.readers.formats import read_model


@pytest.mark.parametrize(
    ("part", "characteristics"),
    [
        (cube(), [2]),
        (sphere(24, 12), [2]),
        (torus(24, 12), [0]),
        (grid(3, 2), [1]),
        (moebius(12), [0]),
        (joined(cube(), moved(torus(8, 6), (5, 0, 0)), moved(grid(2, 2), (9, 0, 0))), [2, 0, 1]),
    ],
    ids=lambda value: getattr(value, "name", ""),
)
def test_each_piece_has_the_characteristic_of_its_surface(
    part: Part, characteristics: list[int]
) -> None:
    """Euler–Poincaré: V - E + F = 2 - 2g closed, 1 for a disc, 0 for a Möbius band."""
    topology = examined_part(part).topology
    assert sorted(topology.piece_euler.tolist()) == sorted(characteristics)
    assert topology.euler == sum(characteristics)
    assert topology.pieces == len(characteristics)


def test_counts_by_size() -> None:
    part = polygons(
        [(0, 0, 0), (1, 0, 0), (2, 0, 0), (2, 1, 0), (1, 1, 0), (0, 1, 0), (3, 0, 0), (3, 1, 0.5)],
        [(0, 1, 2, 3, 4), (0, 4, 5), (2, 6, 7, 3)],
    )
    topology = examined_part(part).topology
    assert (topology.triangles, topology.quads, topology.ngons) == (1, 1, 1)
    assert (topology.faces, topology.points, topology.pieces) == (3, 8, 1)


def test_loose_and_bad_points_are_listed() -> None:
    points = [(0, 0, 0), (1, 0, 0), (np.nan, 1, 0), (9, 9, 9), (0, np.inf, 0)]
    topology = examined_part(polygons(points, [(0, 1, 2)])).topology
    assert topology.loose_points.tolist() == [3, 4]
    assert topology.bad_points.tolist() == [2, 4]


@pytest.mark.parametrize(
    ("points", "is_collapsed"),
    [
        ([(0, 0, 0), (1, 0, 0), (0.5, 0, 0)], True),  # on one line
        ([(0, 0, 0), (1, 0, 0), (1, 0, 0)], True),  # two corners in one place
        ([(0, 0, 0), (1, 0, 0), (0.5, 1e-8, 0)], True),  # but for the rounding of an export
        ([(0, 0, 0), (1, 0, 0), (0.5, 1e-4, 0)], False),  # thin, but there
        ([(0, 0, 0), (1, 0, 0), (1, 1, 0), (0, 1, 0)], False),
        ([(0, 0, 0), (1, 1, 0), (1, 0, 0), (0, 1, 0)], True),  # a bow tie: its halves cancel
    ],
)
def test_faces_without_area_have_collapsed(points: list, is_collapsed: bool) -> None:
    topology = examined_part(polygons(points, [tuple(range(len(points)))])).topology
    assert topology.collapsed.tolist() == [is_collapsed]


def test_small_faces_in_a_large_part_have_not_collapsed() -> None:
    part = joined(cube(side=1000), moved(cube(side=0.1), (0, 600, 0)))
    assert not examined_part(part).topology.collapsed.any()


def test_an_empty_part_has_nothing() -> None:
    topology = examined_part(polygons(np.empty((0, 3)), [])).topology
    assert (topology.faces, topology.edges, topology.euler, topology.pieces) == (0, 0, 0, 0)


def vtk_edge_counts(part: Part) -> tuple[int, int]:
    """Open and non-manifold edges by vtkFeatureEdges."""
    data = vtk.vtkPolyData()
    points = vtk.vtkPoints()
    points.SetData(numpy_to_vtk(np.nan_to_num(part.points), deep=True))
    cells = vtk.vtkCellArray()
    cells.SetData(
        numpy_to_vtkIdTypeArray(part.face_start.astype(np.int64), deep=True),
        numpy_to_vtkIdTypeArray(part.corner_point.astype(np.int64), deep=True),
    )
    data.SetPoints(points)
    data.SetPolys(cells)
    counts = []
    for boundary in (True, False):
        edges = vtk.vtkFeatureEdges()
        edges.SetInputData(data)
        edges.FeatureEdgesOff()
        edges.ManifoldEdgesOff()
        edges.SetBoundaryEdges(boundary)
        edges.SetNonManifoldEdges(not boundary)
        edges.Update()
        counts.append(edges.GetOutput().GetNumberOfCells())
    return counts[0], counts[1]


def test_edges_of_real_meshes_are_as_vtk_counts_them() -> None:
    seen = 0
    for path in real_meshes.myosuite_objs():
        for part in read_model(path.read_bytes(), path=str(path)).parts:
            one = examined_part(part)
            if not len(part.corner_point) or one.twins.left_out.any():
                continue  # faces lying on each other are left out here and counted there
            ends = one.surface.edges.ends
            if (ends[:, 0] == ends[:, 1]).any():
                continue
            expected = vtk_edge_counts(part)
            assert (one.topology.open_edges, len(one.manifold.edges)) == expected, part.name
            seen += 1
    assert seen >= 3


def test_unshared_faces_are_a_piece_each() -> None:
    topology = examined_part(unshared(cube())).topology
    assert (topology.pieces, topology.open_edges, topology.euler) == (6, 24, 6)
