"""What a view sees is what geometry says it must see."""

from __future__ import annotations

import numpy as np
import pytest
from render_shapes import finer
from shapes import cube, grid, joined, model, sphere, torus

from reviewbot.geometry.polygons import face_areas
from reviewbot.mesh import Part
from reviewbot.render.camera import framing, look, projected, turntable
from reviewbot.render.compose import mask
from reviewbot.render.samples import coverage
from reviewbot.render.scene import build_scene
from reviewbot.render.visibility import interpolated


def tetrahedron() -> Part:
    points = np.array([(1, 1, 1), (1, -1, -1), (-1, 1, -1), (-1, -1, 1)])
    faces = np.array([(0, 1, 2), (0, 2, 3), (0, 3, 1), (1, 3, 2)])
    return Part(
        name="tetrahedron",
        points=points,
        corner_point=faces.reshape(-1),
        face_start=np.arange(0, 13, 3),
    )


@pytest.mark.parametrize(
    "part", [cube(), tetrahedron(), sphere(24, 13)], ids=lambda part: part.name
)
def test_mean_shadow_of_a_convex_body_is_a_quarter_of_its_surface(part: Part, see) -> None:
    """Cauchy's surface-area formula (1832), over directions in Gauss-Legendre rings."""
    scene = build_scene(model(part))
    frame = framing(scene)
    size, mean = 96, 0.0
    heights, weights = np.polynomial.legendre.leggauss(10)
    for height, weight in zip(heights, weights / 2, strict=True):
        for azimuth in np.arange(19) * 360 / 19 + 7.0:
            camera = look(
                frame,
                "",
                azimuth_degrees=azimuth,
                elevation_degrees=float(np.degrees(np.arcsin(height))),
            )
            covered = coverage(see(scene, camera, size).samples).sum()
            mean += weight / 19 * covered * (frame.span / size) ** 2
    surface = face_areas(part.points, part.corner_point, part.face_start).sum()
    assert mean == pytest.approx(surface / 4, rel=0.004)


def test_a_spheres_shadow_is_a_disc(see) -> None:
    scene = build_scene(model(sphere(256, 129, radius=2.0)))
    frame = framing(scene)
    view = see(scene, turntable(frame, 5)[2], 256)
    area = coverage(view.samples).sum() * (frame.span / 256) ** 2
    assert area == pytest.approx(4 * np.pi, rel=1e-3)
    depth = view.samples.depth
    assert depth.min() == pytest.approx(-2.0, abs=2e-3)
    across = np.linalg.norm(view.normals[:, :2], axis=1) * 2
    np.testing.assert_allclose(np.hypot(across, depth), 2.0, atol=0.02)


def test_samples_lie_where_they_were_taken(prop, see) -> None:
    """Barycentric coordinates put each sample back into its pixel, its depth where it was hit."""
    scene = build_scene(prop)
    camera = turntable(framing(scene), 7)[1]
    samples = see(scene, camera, 200).samples
    np.testing.assert_allclose(samples.bary.sum(axis=1), 1, atol=1e-5)
    assert samples.bary.min() >= 0
    points = np.einsum("sk,skj->sj", samples.bary.astype(float), scene.corners[samples.triangle])
    x, y, depth = projected(camera, points, 200).T
    middle = np.hypot(x - samples.pixel % 200 - 0.5, y - samples.pixel // 200 - 0.5)
    whole = samples.weight == 1
    assert np.quantile(middle[whole], 0.999) < 0.01
    np.testing.assert_allclose(middle[~whole], np.hypot(0.25, 0.25), atol=0.02)
    np.testing.assert_allclose(depth, samples.depth, atol=1e-3)


def test_footprints_are_the_change_over_one_pixel(see) -> None:
    scene = build_scene(model(grid(1, 1)))
    camera = look(framing(scene), "", azimuth_degrees=20, elevation_degrees=50)
    samples = see(scene, camera, 128).samples
    whole = np.flatnonzero(samples.weight == 1)
    place = {int(p): k for k, p in zip(whole, samples.pixel[whole], strict=True)}
    for axis, step in ((0, 1), (1, 128)):
        pairs = [
            (k, place[p + step])
            for p, k in place.items()
            if p + step in place and samples.triangle[k] == samples.triangle[place[p + step]]
        ]
        here, there = np.array(pairs).T
        change = samples.bary[there] - samples.bary[here]
        np.testing.assert_allclose(change, samples.footprint[here, axis], atol=1e-4)


def test_edges_are_as_smooth_as_if_every_pixel_were_seen_four_times(see) -> None:
    scene = build_scene(model(torus(48, 24)))
    camera = turntable(framing(scene), 3)[0]
    fine = (
        mask(see(scene, finer(camera, 256, 512), 512).samples)
        .reshape(256, 2, 256, 2)
        .mean(axis=(1, 3))
    )
    share = coverage(see(scene, camera, 256).samples)
    partly = (share > 0) & (share < 1)
    assert partly.sum() > 300
    assert np.abs(share - fine).mean() < 0.002


def test_nearer_parts_hide_what_lies_behind(see) -> None:
    """The inner of two nested spheres is never seen."""
    scene = build_scene(model(sphere(24, 13, radius=0.9), sphere(24, 13)))
    view = see(scene, turntable(framing(scene), 4)[1], 128)
    assert (scene.part[view.samples.triangle] == 1).all()


def test_inner_sides_are_told(see) -> None:
    outside, inside = sphere(24, 13), sphere(24, 13, flipped=True)
    for part, expected in ((outside, False), (inside, True)):
        scene = build_scene(model(part))
        view = see(scene, turntable(framing(scene), 4)[0], 96)
        assert (view.is_back == expected).all()
        assert (view.normals[:, 2] > 0).all()


def test_a_sheet_with_a_turned_copy_has_no_inner_side(see) -> None:
    sheet = grid(4, 4)
    turned = Part(
        name="turned",
        points=sheet.points,
        corner_point=sheet.corner_point.reshape(-1, 4)[:, ::-1].reshape(-1),
        face_start=sheet.face_start,
    )
    scene = build_scene(model(joined(sheet, turned)))
    for elevation in (60.0, -60.0):
        camera = look(framing(scene), "", azimuth_degrees=0, elevation_degrees=elevation)
        assert not see(scene, camera, 64).is_back.any()


def test_values_at_corners_are_linear_in_between(see) -> None:
    scene = build_scene(model(grid(2, 2)))
    camera = look(framing(scene), "", azimuth_degrees=0, elevation_degrees=70)
    samples = see(scene, camera, 64).samples
    values = (scene.points @ np.array([[1.0], [0.0], [2.0]])).astype(np.float32)
    found = interpolated(samples, values, scene.triangles)
    points = np.einsum("sk,skj->sj", samples.bary, scene.corners[samples.triangle])
    np.testing.assert_allclose(found[:, 0], points[:, 0] + 2 * points[:, 2], atol=1e-5)


def test_weight_one_comes_first_and_each_pixel_once(prop, see) -> None:
    scene = build_scene(prop)
    samples = see(scene, turntable(framing(scene), 5)[3], 120).samples
    assert (np.diff(samples.weight) <= 0).all()
    whole = samples.pixel[samples.weight == 1]
    assert len(np.unique(whole)) == len(whole)
    assert not np.isin(samples.pixel[samples.weight < 1], whole).any()
    assert coverage(samples).max() == pytest.approx(1.0)
