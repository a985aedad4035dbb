"""Stretch, against map projections and closed forms.

A sphere that carries a map projection as its UVs is stretched by the projection's scale factors:
Snyder, "Map Projections: A Working Manual", USGS Professional Paper 1395 (1987), and pyproj (PROJ).
"""

from dataclasses import replace

import numpy as np
import pytest
from edits import uvs_placed, without_uvs
from examined import examined_part
from pyproj import Proj
from shapes import grid, polygons, sphere

from reviewbot.measure.stretch import Stretch, linear_pieces
from reviewbot.mesh import Part


def stretch_of(part: Part) -> Stretch:
    return examined_part(part).stretch


def patch(projection: str, count: int, *, west: float, south: float, size: float) -> Part:
    """A square of degrees of the unit globe in count x count quads, UVs by a PROJ projection."""
    longitude, latitude = np.meshgrid(
        west + size * np.linspace(0, 1, count + 1), south + size * np.linspace(0, 1, count + 1)
    )
    lon, lat = np.radians(longitude), np.radians(latitude)
    points = np.stack([np.cos(lat) * np.sin(lon), np.sin(lat), np.cos(lat) * np.cos(lon)], axis=-1)
    x, y = Proj(proj=projection, R=1)(longitude, latitude)
    sheet = grid(count, count)
    return replace(
        sheet, points=points.reshape(-1, 3), uvs=np.stack([x, y], axis=-1).reshape(-1, 2)
    )


def factors_at_faces(part: Part, projection: str) -> tuple[np.ndarray, np.ndarray]:
    """Tissot's greatest and least scale of the projection at the middle of each face."""
    middle = examined_part(part).surface.face_centre
    longitude = np.degrees(np.arctan2(middle[:, 0], middle[:, 2]))
    latitude = np.degrees(np.arcsin(middle[:, 1] / np.linalg.norm(middle, axis=1)))
    factors = Proj(proj=projection, R=1).get_factors(longitude, latitude)
    return np.asarray(factors.tissot_semimajor), np.asarray(factors.tissot_semiminor)


def error_of(projection: str, count: int) -> float:
    """Largest relative error of Γ = 1 / least scale and γ = 1 / greatest scale over a patch."""
    part = patch(projection, count, west=20, south=15, size=30)
    pieces = linear_pieces(part, part.points, np.arange(part.face_count))
    most, least = factors_at_faces(part, projection)
    errors = [
        np.bincount(pieces.face, weights=found) / 4 * factor - 1  # mean of the four pieces
        for found, factor in ((pieces.large, least), (pieces.small, most))
    ]
    return float(np.abs(errors).max())


@pytest.mark.parametrize("projection", ["eqc", "cea", "sinu", "moll", "laea"])
def test_singular_values_are_the_projection_s_scale_factors(projection: str) -> None:
    errors = [error_of(projection, count) for count in (8, 16, 32)]
    assert errors[2] < 2e-3
    assert errors[0] / errors[1] == pytest.approx(4, rel=0.25)  # second order in the face size
    assert errors[1] / errors[2] == pytest.approx(4, rel=0.25)


@pytest.mark.parametrize("projection", ["merc", "stere"])
def test_singular_values_of_conformal_projections_converge_too(projection: str) -> None:
    """Where Γ = γ, what little they differ on a face of some size counts one way only."""
    errors = [error_of(projection, count) for count in (8, 16, 32)]
    assert errors[2] < 4e-3
    assert errors[0] > 1.9 * errors[1] > 3.6 * errors[2]


def test_mercator_at_35_degrees_north() -> None:
    """PP 1395, numerical examples, spherical Mercator: h = k = 1.2207746 at 35 N (from memory; it
    is the secant of 35 degrees)."""
    part = patch("merc", 1, west=-75.0005, south=34.9995, size=0.001)
    pieces = linear_pieces(part, part.points, np.array([0]))
    np.testing.assert_allclose(1 / pieces.large, 1.2207746, rtol=1e-5)
    np.testing.assert_allclose(1 / pieces.small, 1.2207746, rtol=1e-5)


def test_conformal_maps_keep_angles_and_equal_area_maps_areas() -> None:
    """PP 1395: Mercator and stereographic are conformal, cylindrical equal-area and Lambert's
    azimuthal keep areas."""
    for projection in ("merc", "stere"):
        coarse, fine = (
            stretch_of(patch(projection, count, west=0, south=5, size=50)) for count in (24, 48)
        )
        assert fine.angle == pytest.approx(1, abs=5e-3)
        assert (coarse.angle - 1) / (fine.angle - 1) == pytest.approx(2, rel=0.05)
        assert fine.area > 1.05
    for projection in ("cea", "laea"):
        stretch = stretch_of(patch(projection, 48, west=0, south=5, size=50))
        assert stretch.area == pytest.approx(1, abs=3e-3)
        assert stretch.angle > 1.05


def test_whole_globe_in_plate_carree() -> None:
    """L2 in closed form: Γ = 1 and γ = cos φ, weighed by cos φ over the globe, give
    sqrt((1 + 2/3) / 2), times sqrt(2 π² / 4 π) for a map of 2 π by π over a surface of 4 π. The
    triangles at the poles fill half of their two rows of the map."""
    errors = []
    for rows in (32, 64):
        map_area = 1 - 1 / rows
        expected = np.sqrt(5 / 6) * np.sqrt(np.pi / 2 * map_area)
        globe = uvs_placed(sphere(2 * rows, rows), scale=(2, 1))
        errors.append(abs(stretch_of(globe).l2 - expected))
    assert errors[1] < 5e-4
    assert errors[0] > 3 * errors[1]


def square(width: float, height: float, *, u: float, v: float, shear: float = 0.0) -> Part:
    points = [(0, 0, 0), (width, 0, 0), (width, height, 0), (0, height, 0)]
    uvs = [(0, 0), (u, 0), (u + shear, v), (shear, v)]
    return polygons(points, [(0, 1, 2, 3)], uvs=uvs, face_uvs=[(0, 1, 2, 3)])


@pytest.mark.parametrize("ratio", [1.0, 2.0, 5.0])
def test_closed_forms_of_a_square_drawn_out(ratio: float) -> None:
    """UVs `ratio` times as wide: scaled to equal areas Γ = sqrt(ratio) and γ = 1 / Γ. L2 and Linf
    by Sander et al. 2001, the energy by Smith & Schaefer 2015."""
    stretch = stretch_of(square(1, 1, u=0.1 * ratio, v=0.1))
    assert stretch.linf == pytest.approx(np.sqrt(ratio))
    assert stretch.l2 == pytest.approx(np.sqrt((ratio + 1 / ratio) / 2))
    assert stretch.dirichlet == pytest.approx(2 * (ratio + 1 / ratio))
    assert stretch.angle == pytest.approx(ratio)
    assert stretch.area == pytest.approx(1)
    assert stretch.face_worst.tolist() == pytest.approx([np.sqrt(ratio)])
    assert stretch.face_l2.tolist() == pytest.approx([stretch.l2])


def test_a_shear_has_the_singular_values_of_its_matrix() -> None:
    uv_to_surface = np.linalg.inv([[0.2, 0.1], [0, 0.2]])
    large, small = np.linalg.svd(uv_to_surface, compute_uv=False)
    part = square(1, 1, u=0.2, v=0.2, shear=0.1)
    pieces = linear_pieces(part, part.points, np.array([0]))
    np.testing.assert_allclose(pieces.large, large)
    np.testing.assert_allclose(pieces.small, small)


def test_two_patches_of_other_density_stretch_the_part_and_no_shell() -> None:
    """Two squares, one with twice the density: Γ = γ = 1 in each shell; L2 of the part is then
    sqrt((1 + 1/4) / 2) sqrt((1 + 4) / 2) = 1.25."""
    both = polygons(
        [(0, 0, 0), (1, 0, 0), (1, 1, 0), (0, 1, 0), (3, 0, 0), (4, 0, 0), (4, 1, 0), (3, 1, 0)],
        [(0, 1, 2, 3), (4, 5, 6, 7)],
        uvs=[(0, 0), (0.1, 0), (0.1, 0.1), (0, 0.1), (0.5, 0), (0.7, 0), (0.7, 0.2), (0.5, 0.2)],
        face_uvs=[(0, 1, 2, 3), (4, 5, 6, 7)],
    )
    stretch = stretch_of(both)
    np.testing.assert_allclose(stretch.face_worst, 1)
    assert stretch.l2 == pytest.approx(1.25)
    assert (stretch.mean, stretch.p95) == pytest.approx((1, 1))


def test_triangles_and_the_quads_they_make_agree_where_the_map_is_linear() -> None:
    quad = square(1, 2, u=0.3, v=0.1, shear=0.05)
    halves = polygons(
        quad.points, [(0, 1, 2), (0, 2, 3)], uvs=quad.uvs, face_uvs=[(0, 1, 2), (0, 2, 3)]
    )
    ngon = polygons(
        np.insert(quad.points, 1, [(0.5, 0, 0)], axis=0),
        [range(5)],
        uvs=np.insert(quad.uvs, 1, [(0.15, 0)], axis=0),
        face_uvs=[range(5)],
    )
    for part in (halves, ngon):
        assert stretch_of(part).l2 == pytest.approx(stretch_of(quad).l2)


def test_collapsed_uvs_are_infinite_and_left_out_of_the_part() -> None:
    part = grid(2, 1)
    uvs = part.uvs.copy()
    uvs[[2, 5], 0] = 0.5  # the right half has no width
    stretch = stretch_of(replace(part, uvs=uvs))
    assert np.isinf(stretch.face_l2).tolist() == [False, True]
    assert stretch.l2 == pytest.approx(np.sqrt((1 + 1) / 2))  # of the sound half: no stretch
    assert np.isfinite([stretch.l2, stretch.linf, stretch.dirichlet, stretch.p95]).all()


def test_without_uvs_or_faces_all_is_nan() -> None:
    for part in (without_uvs(grid(2, 2)), polygons(np.empty((0, 3)), [])):
        stretch = stretch_of(part)
        assert np.isnan([stretch.l2, stretch.linf, stretch.mean, stretch.p95]).all()
        assert np.isnan(stretch.face_l2).all()


def test_the_percentile_is_by_surface() -> None:
    strip = grid(20, 1)
    uvs = strip.uvs.copy()
    uvs[strip.uvs[:, 0] > 0.97, 0] += 0.5  # one face of twenty is drawn out
    stretch = stretch_of(replace(strip, uvs=uvs / 2))
    assert stretch.p95 == pytest.approx(np.sort(stretch.face_worst)[18])
    assert stretch.p95 < stretch.face_worst.max() / 2
