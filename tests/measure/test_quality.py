"""Face quality against `vtk`, whose mesh filters carry the Verdict library itself."""

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from hypothesis.extra import numpy as npst
from shapes import cube, joined, polygons, sphere
from vtk import vtkMeshQuality, vtkQuad, vtkTriangle

from reviewbot.measure.quality import Quality, measure_quality
from reviewbot.mesh import Part

coordinates = st.floats(-10, 10, width=32)


def quality_of(part: Part) -> Quality:
    return measure_quality(part.points, part.corner_point, part.face_start)


def vtk_cell(points: np.ndarray) -> vtkQuad | vtkTriangle:
    cell = vtkQuad() if len(points) == 4 else vtkTriangle()
    for index, point in enumerate(points):
        cell.GetPoints().SetPoint(index, *map(float, point))
    return cell


def divisors(points: np.ndarray) -> np.ndarray:
    """All lengths and areas that the figures divide by."""
    apart = np.linalg.norm(points[:, None] - points, axis=2)[np.triu_indices(len(points), 1)]
    around = [np.roll(points, -k, axis=0)[:3] for k in range(len(points))]
    corner = [np.linalg.norm(np.cross(b - a, c - b)) for a, b, c in around]
    axes = []
    if len(points) == 4:
        p = points
        x1, x2 = p[1] - p[0] + p[2] - p[3], p[2] - p[1] + p[3] - p[0]
        axes = [np.linalg.norm(x1), np.linalg.norm(x2), np.linalg.norm(np.cross(x1, x2))]
    return np.array([*apart, *corner, *axes])


@given(points=npst.arrays(float, (4, 3), elements=coordinates))
def test_quads_match_verdict(points: np.ndarray) -> None:
    """SAND2007-1751 as carried by vtk (vtkMeshQuality), on any quad that is not collapsed.

    vtk gives the warpage as min(...)^3 and the manual as 1 minus it; ours follows the manual.
    """
    assume(divisors(points).min() > 1e-2)
    ours, cell = quality_of(polygons(points, [(0, 1, 2, 3)])), vtk_cell(points)
    assert ours.aspect[0] == pytest.approx(vtkMeshQuality.QuadAspectRatio(cell), rel=1e-6)
    assert ours.skew[0] == pytest.approx(vtkMeshQuality.QuadSkew(cell), abs=1e-6)
    assert ours.taper[0] == pytest.approx(vtkMeshQuality.QuadTaper(cell), rel=1e-6, abs=1e-6)
    assert 1 - ours.warpage[0] == pytest.approx(vtkMeshQuality.QuadWarpage(cell), abs=1e-6)
    assert ours.scaled_jacobian[0] == pytest.approx(
        vtkMeshQuality.QuadScaledJacobian(cell), abs=1e-6
    )


@given(points=npst.arrays(float, (3, 3), elements=coordinates))
def test_triangles_match_verdict(points: np.ndarray) -> None:
    assume(divisors(points).min() > 1e-2)
    ours, cell = quality_of(polygons(points, [(0, 1, 2)])), vtk_cell(points)
    assert ours.aspect[0] == pytest.approx(vtkMeshQuality.TriangleAspectRatio(cell), rel=1e-6)
    assert ours.scaled_jacobian[0] == pytest.approx(
        vtkMeshQuality.TriangleScaledJacobian(cell), abs=1e-6
    )


def test_best_shapes_have_the_manual_s_best_figures() -> None:
    """SAND2007-1751, 'q for unit square' and 'q for unit equilateral triangle'."""
    ours = quality_of(cube())
    for figure, best in [(ours.aspect, 1), (ours.skew, 0), (ours.taper, 0), (ours.warpage, 0)]:
        np.testing.assert_allclose(figure, best, atol=1e-12)
    np.testing.assert_allclose(ours.scaled_jacobian, 1)
    equilateral = quality_of(polygons([(0, 0, 0), (1, 0, 0), (0.5, 0.75**0.5, 0)], [(0, 1, 2)]))
    assert (equilateral.aspect[0], equilateral.scaled_jacobian[0]) == pytest.approx((1, 1))
    assert np.isnan(equilateral.skew[0])


def test_a_two_by_one_rectangle() -> None:
    """By hand: 2 * (2 + 1 + 2 + 1) / (4 * 2) = 1.5; still square in its corners."""
    ours = quality_of(polygons([(0, 0, 0), (2, 0, 0), (2, 1, 0), (0, 1, 0)], [(0, 1, 2, 3)]))
    assert (ours.aspect[0], ours.scaled_jacobian[0]) == pytest.approx((1.5, 1))


def test_broken_faces_give_figures_without_noise() -> None:
    points = [(0, 0, 0), (1, 0, 0), (2, 0, 0), (3, 0, 0), (np.nan, 0, 0), (1, 1, 1)]
    faces = [(0, 1, 2, 3), (0, 0, 0, 0), (0, 1, 2), (0, 1, 4, 5), (0, 1, 5, 3, 2), (0, 1)]
    ours = quality_of(polygons(points, faces))
    assert ours.aspect[:3].tolist() == [np.inf] * 3
    assert ours.scaled_jacobian[:3].tolist() == [0] * 3
    assert np.isnan([ours.aspect[3:], ours.scaled_jacobian[3:]]).all()


@given(seed=st.integers(0, 10**6))
def test_nothing_changes_by_turning_moving_scaling_or_another_first_corner(seed: int) -> None:
    rng = np.random.default_rng(seed)
    part = joined(cube(), sphere(6, 4))
    shaken = part.points + rng.normal(scale=0.1, size=part.points.shape)
    turn, _ = np.linalg.qr(rng.normal(size=(3, 3)))
    ends = zip(part.face_start[:-1], part.face_start[1:], strict=True)
    faces = [part.corner_point[a:b] for a, b in ends]
    order = rng.permutation(part.face_count)
    rolled = [np.roll(faces[f], rng.integers(4)).tolist() for f in order]
    first = quality_of(polygons(shaken, [face.tolist() for face in faces]))
    second = quality_of(polygons(7 * shaken @ turn.T + 5, rolled))
    for name in Quality.__slots__:
        np.testing.assert_allclose(
            getattr(second, name), getattr(first, name)[order], rtol=1e-6, atol=1e-9
        )
