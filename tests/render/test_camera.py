"""Cameras are the same for both versions, hold everything, and agree with their projections."""

from __future__ import annotations

import numpy as np
import pytest
from shapes import cube, model, sphere

from reviewbot.mesh import Part
from reviewbot.render.camera import (
    bottom_view,
    close_up,
    framing,
    look,
    picture_plane,
    projected,
    top_view,
    turntable,
)
from reviewbot.render.scene import build_scene


def scattered(seed: int) -> Part:
    rng = np.random.default_rng(seed)
    points = rng.normal(size=(30, 3)) * rng.uniform(0.1, 5, 3)
    faces = np.arange(30).reshape(10, 3)
    return Part(
        name="scattered",
        points=points,
        corner_point=faces.reshape(-1),
        face_start=np.arange(0, 31, 3),
    )


@pytest.mark.parametrize("seed", range(5))
@pytest.mark.parametrize("up", ["y", "z"])
def test_every_view_holds_both_versions(seed: int, up: str) -> None:
    before, after = build_scene(model(scattered(seed))), build_scene(model(scattered(seed + 50)))
    frame = framing(before, after, up=up)
    furthest = 0.0
    for camera in (*turntable(frame, 16), top_view(frame), bottom_view(frame)):
        for scene in (before, after):
            place = projected(camera, scene.points, 100)[:, :2]
            assert place.min() > 0
            assert place.max() < 100
            furthest = max(furthest, float(np.abs(place - 50).max()))
    assert furthest > 35  # and no more room than needed


def test_stray_points_do_not_change_the_frame() -> None:
    part = cube()
    stray = Part(
        name="cube",
        points=np.concatenate([part.points, [[99.0, 99, 99]]]),
        corner_point=part.corner_point,
        face_start=part.face_start,
    )
    one, other = framing(build_scene(model(part))), framing(build_scene(model(stray)))
    assert one.span == other.span
    np.testing.assert_array_equal(one.centre, other.centre)


@pytest.mark.parametrize("up", ["y", "z"])
def test_axes_are_a_right_handed_frame_with_up_upwards(up: str) -> None:
    frame = framing(build_scene(model(sphere(8, 5))), up=up)
    upwards = np.array([0.0, 1, 0]) if up == "y" else np.array([0.0, 0, 1])
    for camera in turntable(frame, 7):
        np.testing.assert_allclose(camera.axes @ camera.axes.T, np.eye(3), atol=1e-12)
        assert np.linalg.det(camera.axes) == pytest.approx(1)
        assert camera.axes[1] @ upwards > 0.9
        assert camera.axes[2] @ upwards == pytest.approx(np.sin(np.radians(15)))


def test_sides_are_where_common_practice_puts_them() -> None:
    """Common practice: the front looks along +z where y is up, along -y where z is."""
    scene = build_scene(model(cube()))
    for up, front, right in (("y", [0, 0, 1], [1, 0, 0]), ("z", [0, -1, 0], [1, 0, 0])):
        by_name = {c.name: c for c in turntable(framing(scene, up=up), 16, elevation_degrees=0)}
        np.testing.assert_allclose(by_name["view 01 (front)"].axes[2], front, atol=1e-12)
        np.testing.assert_allclose(by_name["view 05 (right)"].axes[2], right, atol=1e-12)
    assert list(by_name)[8] == "view 09 (back)"
    assert list(by_name)[12] == "view 13 (left)"
    assert list(by_name)[1] == "view 02"


def test_the_picture_plane_undoes_projection() -> None:
    frame = framing(build_scene(model(sphere(8, 5))))
    camera = look(frame, "", azimuth_degrees=33, elevation_degrees=-20)
    corner, right, down = picture_plane(camera, 64)
    rng = np.random.default_rng(1)
    place = rng.uniform(0, 64, (20, 2))
    points = corner + place[:, :1] * right + place[:, 1:] * down + 0.3 * camera.axes[2]
    seen = projected(camera, points, 64)
    np.testing.assert_allclose(seen[:, :2], place, atol=1e-9)
    np.testing.assert_allclose(seen[:, 2], -0.3, atol=1e-12)


def test_a_close_up_has_its_place_in_the_middle() -> None:
    camera = close_up(top_view(framing(build_scene(model(cube())))), (0.2, 0.1, -0.3), 0.1, "near")
    x, y, _ = projected(camera, np.array([[0.2, 0.1, -0.3]]), 100)[0]
    assert abs(x - 50) < 0.5
    assert abs(y - 50) < 0.5


@pytest.mark.parametrize("points", [np.empty((0, 3)), np.zeros((3, 3))])
def test_nothing_and_a_point_get_a_frame_too(points: np.ndarray) -> None:
    part = Part(
        name="",
        points=points,
        corner_point=np.arange(len(points)),
        face_start=np.arange(0, len(points) + 1, 3),
    )
    assert framing(build_scene(model(part))).span == 1.0
