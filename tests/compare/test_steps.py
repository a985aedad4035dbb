"""Subdivision steps over faces and all that their corners carry.

Counts: a step that cuts each face of n corners into n quads gives V + E + F points and C quads
(Catmull & Clark 1978); one that cuts each triangle into four gives V + E points and 4 F triangles.
The points of the latter are compared with those of trimesh, those of the former with the limit
rule's first step in tests/geometry.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import trimesh
from mutations.plants import triangulated
from shapes import cube, grid, sphere

from reviewbot.compare.body import Body, body_of
from reviewbot.compare.grown import body_from, grown_from, place_count, some_faces, with_kept
from reviewbot.compare.steps import quad_step, steps, triangle_step
from reviewbot.measure.shells import find_shells
from reviewbot.mesh import Part


def body(part: Part) -> Body:
    return body_of(part, find_shells(part))


def test_a_cube_gives_the_known_counts_twice() -> None:
    once = quad_step(grown_from(body(cube())), smooth=False)
    assert (len(once.face), place_count(once)) == (24, 8 + 12 + 6)
    twice = quad_step(once, smooth=False)
    assert (len(twice.face), place_count(twice)) == (96, 26 + 48 + 24)
    assert np.bincount(twice.face).tolist() == [16] * 6


@pytest.mark.parametrize("smooth", [False, True])
def test_each_corner_knows_the_one_it_came_from(smooth: bool) -> None:
    old = body(sphere(8, 6))
    done = quad_step(quad_step(grown_from(old), smooth=smooth), smooth=smooth)
    rows = np.flatnonzero(done.corner >= 0)
    assert sorted(done.corner[rows]) == list(range(len(old.corner_face)))
    assert (old.corner_face[done.corner[rows]] == np.repeat(done.face, 4)[rows]).all()
    off = done.spots[done.place[rows]] - old.spots[old.shells.corner_place[done.corner[rows]]]
    assert (np.abs(off).max() < 1e-12) != smooth


def test_triangles_in_four_lie_where_a_reference_library_lays_them() -> None:
    part = triangulated(grid(5, 4), np.random.default_rng(1))
    done = triangle_step(grown_from(body(part)))
    points, faces = trimesh.remesh.subdivide(part.points, part.corner_point.reshape(-1, 3))
    assert len(done.face) == len(faces)

    def middles(corners: np.ndarray) -> np.ndarray:
        rows = np.round(corners.mean(axis=1), 9)
        return rows[np.lexsort(rows.T)]

    own = done.spots[done.place].reshape(-1, 3, 3)
    assert middles(own) == pytest.approx(middles(points[faces]))


def test_uvs_lie_halfway_and_hang_together() -> None:
    stepped = body_from(quad_step(grown_from(body(cube())), smooth=False), body(cube()))
    assert stepped.shells.count == 1
    areas = trimesh.triangles.area(
        np.pad(
            stepped.part.uvs[stepped.part.corner_uv].reshape(-1, 4, 2)[:, :3],
            [(0, 0)] * 2 + [(0, 1)],
        )
    )
    assert areas == pytest.approx(areas[0])


def test_faces_that_share_no_point_share_none_after_a_step() -> None:
    part = cube()
    loose = replace(part, points=part.points[part.corner_point], corner_point=np.arange(24))
    done = quad_step(grown_from(body(loose)), smooth=False)
    assert place_count(done) == 26
    faces_at = {point: set() for point in done.point.tolist()}
    for point, face in zip(done.point.tolist(), np.repeat(done.face, 4).tolist(), strict=True):
        faces_at[point].add(face)
    assert all(len(faces) == 1 for faces in faces_at.values())


def test_only_steps_of_about_the_wanted_size_are_given() -> None:
    grown = grown_from(body(cube()))
    assert [len(done.face) for done in steps(grown, 26, smooth=False)] == [24]
    assert [len(done.face) for done in steps(grown, 98, smooth=True)] == [96]
    assert not list(steps(grown, 8, smooth=False))
    assert not list(steps(grown, 10**6, smooth=False))


def test_faces_that_were_left_alone_stay_as_they_are() -> None:
    grown = grown_from(body(grid(4, 1)))
    done = with_kept(
        quad_step(some_faces(grown, np.array([0, 1])), smooth=False), grown, np.array([3])
    )
    assert np.bincount(done.face, minlength=4).tolist() == [4, 4, 0, 1]
    assert place_count(done) == 15 + 4
    assert len(np.unique(done.point)) == 15 + 4
