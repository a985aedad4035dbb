"""Scenes hold what can be seen, once, with outer sides outside."""

from __future__ import annotations

import numpy as np
import pytest
from shapes import cube, grid, joined, model, polygons, sphere, torus

from reviewbot.mesh import Part
from reviewbot.render.samples import Scene
from reviewbot.render.scene import build_scene, find_twins, with_shared_colours


def enclosed_volume(scene: Scene) -> float:
    """Divergence theorem; above 0 where triangles are wound outwards."""
    a, b, c = scene.corners.transpose(1, 0, 2)
    return float(np.einsum("ij,ij->", a, np.cross(b, c)) / 6)


def test_every_triangle_knows_its_part_face_and_corners(prop) -> None:
    scene = build_scene(prop)
    for index, part in enumerate(prop.parts):
        own = scene.part == index
        face, corner = scene.face[own], scene.corner[own]
        assert set(face.tolist()) == set(range(part.face_count))
        assert (corner >= part.face_start[face][:, None]).all()
        assert (corner < part.face_start[face + 1][:, None]).all()
        np.testing.assert_array_equal(scene.corners[own], part.points[part.corner_point[corner]])
        np.testing.assert_array_equal(scene.uvs[scene.uv[own]], part.uvs[part.corner_uv[corner]])


def test_faces_with_broken_corners_are_left_out() -> None:
    part = grid(3, 2)
    points = part.points.copy()
    points[0, 1] = np.nan
    points[-1, 0] = np.inf
    broken = Part(
        name="grid", points=points, corner_point=part.corner_point, face_start=part.face_start
    )
    scene = build_scene(model(broken))
    assert sorted(set(scene.face.tolist())) == [1, 2, 3, 4]
    assert np.isfinite(scene.points).all()
    assert np.isfinite(scene.normals).all()


def test_coincident_triangles_are_seen_once() -> None:
    """Which of two coincident faces a ray meets first differs between machines."""
    scene = build_scene(model(sphere(12, 7), cube(), sphere(12, 7)))
    first = np.count_nonzero(scene.part == 0)
    np.testing.assert_array_equal(scene.hidden_twin, scene.part == 2)
    assert len(scene.traced) == first + np.count_nonzero(scene.part == 1)
    assert not scene.two_sided.any()


@pytest.mark.parametrize("noise", [0.0, 1e-9])
def test_twins_are_found_by_place_whatever_their_indices(noise: float) -> None:
    rng = np.random.default_rng(5)
    part = torus(14, 9)
    shuffled = rng.permutation(len(part.points))
    again = Part(
        name="again",
        points=part.points[shuffled] + rng.uniform(-noise, noise, part.points.shape),
        corner_point=np.argsort(shuffled)[part.corner_point],
        face_start=part.face_start,
    )
    scene = build_scene(model(part, again))
    assert (scene.hidden_twin == (scene.part == 1)).mean() > 0.999


def test_a_turned_twin_makes_a_face_two_sided() -> None:
    front = polygons([(0, 0, 0), (1, 0, 0), (0, 1, 0)], [[0, 1, 2]])
    back = polygons([(0, 0, 0), (1, 0, 0), (0, 1, 0)], [[0, 2, 1]])
    scene = build_scene(model(front, back))
    assert scene.hidden_twin.tolist() == [False, True]
    assert scene.two_sided.tolist() == [True, True]


def test_no_twins_in_one_shape() -> None:
    scene = build_scene(model(sphere(30, 16), grid(9, 9)))
    hidden, both = find_twins(scene.points, scene.triangles)
    assert not hidden.any()
    assert not both.any()


@pytest.mark.parametrize(
    "matrix", [np.diag([-1.0, 1, 1, 1]), np.diag([2.0, 2, -2, 1]), np.diag([3.0, 3, 3, 1])]
)
def test_mirroring_keeps_the_outer_side_outside(matrix: np.ndarray) -> None:
    part = sphere(20, 11)
    placed = Part(
        name="placed",
        points=part.points,
        corner_point=part.corner_point,
        face_start=part.face_start,
        transform=matrix,
    )
    expected = enclosed_volume(build_scene(model(part))) * abs(np.linalg.det(matrix))
    for scene in (build_scene(model(placed)), build_scene(model(part), undo=matrix)):
        assert enclosed_volume(scene) == pytest.approx(expected)
        outwards = np.einsum("tkj,tkj->tk", scene.corners, scene.normals[scene.normal])
        assert (outwards > 0).all()


def test_undo_brings_an_export_back() -> None:
    turned = np.array([[0, 0, 100.0, 5], [0, 100, 0, 6], [-100, 0, 0, 7], [0, 0, 0, 1]])
    part = torus(12, 8)
    export = Part(
        name="torus",
        points=part.points @ turned[:3, :3].T + turned[:3, 3],
        corner_point=part.corner_point,
        face_start=part.face_start,
    )
    scene = build_scene(model(export), undo=np.linalg.inv(turned))
    np.testing.assert_allclose(scene.points, part.points, atol=1e-12)


def test_diagonals_are_no_edges_of_the_face() -> None:
    scene = build_scene(model(cube(), polygons(np.eye(3), [[0, 1, 2]], name="tri")))
    assert scene.is_drawn_edge[scene.part == 0].sum() == 24
    assert scene.is_drawn_edge[scene.part == 1].all()


def test_normals_of_a_sphere_point_outwards_and_a_cubes_stay_sharp() -> None:
    ball = build_scene(model(sphere(64, 33)))
    normals = ball.normals[ball.normal]
    assert np.einsum("tkj,tkj->tk", normals, ball.corners).min() > 0.995
    box = build_scene(model(cube()))
    flat = np.cross(*(box.corners[:, k] - box.corners[:, 0] for k in (1, 2)))
    flat /= np.linalg.norm(flat, axis=1, keepdims=True)
    np.testing.assert_allclose(box.normals[box.normal], np.repeat(flat[:, None], 3, 1), atol=1e-6)


def test_unwelded_faces_are_shaded_like_welded_ones() -> None:
    part = sphere(32, 17)
    loose = Part(
        name="loose",
        points=part.points[part.corner_point],
        corner_point=np.arange(len(part.corner_point)),
        face_start=part.face_start,
    )
    one, other = build_scene(model(part)), build_scene(model(loose))
    np.testing.assert_allclose(one.normals[one.normal], other.normals[other.normal], atol=1e-5)


def smoothed(groups: list[int]) -> Scene:
    box = cube()
    return build_scene(
        model(
            Part(
                name="box",
                points=box.points,
                corner_point=box.corner_point,
                face_start=box.face_start,
                face_smoothing=np.array(groups),
            )
        )
    )


def test_smoothing_groups_win_over_the_crease_angle() -> None:
    """Common practice: faces of one group are shaded as one surface, group 0 is flat."""
    soft, hard = smoothed([1] * 6), smoothed([0] * 6)
    corners = soft.corners / np.linalg.norm(soft.corners, axis=2, keepdims=True)
    np.testing.assert_allclose(soft.normals[soft.normal], corners, atol=1e-6)
    assert (np.abs(hard.normals[hard.normal]).max(axis=2) > 0.999).all()


def test_the_files_own_normals_win_over_all() -> None:
    box = cube()
    given = Part(
        name="box",
        points=box.points,
        corner_point=box.corner_point,
        face_start=box.face_start,
        normals=np.array([[0.6, 0.8, 0.0]]),
        corner_normal=np.zeros(24, np.int32),
    )
    scene = build_scene(model(given))
    np.testing.assert_allclose(scene.normals[scene.normal][:, :, :2] - [0.6, 0.8], 0, atol=1e-6)


def test_parts_keep_their_colour_when_the_list_changes() -> None:
    a, b = cube(name="lid"), cube(name="body")
    before, after = build_scene(model(a, b)), build_scene(model(b, cube(name="cover"), joined(a)))
    old, new = with_shared_colours(before, after, {"cover": "lid"})
    assert old.part_colour[1] == new.part_colour[0]
    assert old.part_colour[0] == new.part_colour[1]
    assert new.part_colour[2] not in old.part_colour
