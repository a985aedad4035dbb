"""Which way faces look."""

from dataclasses import replace

import numpy as np
import pytest
import trimesh
from edits import moved, unshared, with_turned_faces, without_faces
from examined import examined_part
from hypothesis import given, settings
from hypothesis import strategies as st
from shapes import cube, grid, joined, moebius, sphere, torus

from reviewbot.geometry.triangles import triangulate
from reviewbot.measure.winding import winding_numbers
from reviewbot.mesh import Part


def test_volumes_are_those_of_the_solids() -> None:
    assert examined_part(cube(side=3)).winding.sheet_volume.tolist() == pytest.approx([27])
    ring = examined_part(torus(256, 128)).winding.sheet_volume[0]
    assert ring == pytest.approx(2 * np.pi**2 * 0.3**2, rel=1e-3)  # Pappus
    globe = [
        abs(examined_part(sphere(2 * n, n)).winding.sheet_volume[0] - 4 / 3 * np.pi)
        for n in (16, 32)
    ]
    assert globe[0] / globe[1] == pytest.approx(4, rel=0.05)  # second order in the face size


def test_volumes_of_flat_faces_are_those_trimesh_finds() -> None:
    part = joined(cube(), moved(sphere(24, 12), (7, 5, -3)))
    triangles = part.corner_point[triangulate(part.points, part.corner_point, part.face_start)[0]]
    expected = trimesh.Trimesh(part.points, triangles, process=False).volume
    assert examined_part(part).winding.sheet_volume.sum() == pytest.approx(expected)


@pytest.mark.parametrize("part", [cube(), unshared(cube()), sphere(12, 6)], ids=lambda p: p.name)
def test_solids_wound_outwards_are_neither_turned_nor_inverted(part: Part) -> None:
    winding = examined_part(part).winding
    assert not winding.turned.any()
    assert not winding.sheet_inverted.any()
    assert len(winding.odd_sides) == 0
    assert winding.sheet_closed.all()


@settings(max_examples=25, deadline=None)
@given(faces=st.sets(st.integers(0, 71), min_size=1, max_size=12), shared=st.booleans())
def test_faces_turned_over_are_found_among_their_neighbours(faces: set[int], shared: bool) -> None:
    part = torus(12, 6) if shared else unshared(torus(12, 6))
    area = examined_part(part).surface.face_area
    if area[list(faces)].sum() < area.sum() / 2:
        winding = examined_part(with_turned_faces(part, sorted(faces))).winding
        assert set(np.flatnonzero(winding.turned).tolist()) == faces
        assert not winding.sheet_closed.any()


def test_a_moebius_band_is_odd_but_has_no_turned_face() -> None:
    winding = examined_part(moebius(12)).winding
    assert (len(winding.odd_sides), winding.turned.any()) == (1, False)


def inwards(part: Part) -> Part:
    return with_turned_faces(part, range(part.face_count))


def test_a_solid_wound_inwards_is_inverted() -> None:
    assert examined_part(inwards(cube())).winding.sheet_inverted.tolist() == [True]
    assert examined_part(inwards(unshared(cube()))).winding.sheet_inverted.tolist() == [True]


def test_the_wall_of_a_hollow_looks_inwards_and_is_right_so() -> None:
    hollow = joined(cube(side=2), inwards(sphere(12, 6, radius=0.5)))
    assert not examined_part(hollow).winding.sheet_inverted.any()
    within_the_hollow = joined(hollow, inwards(cube(side=0.1)))
    assert int(examined_part(within_the_hollow).winding.sheet_inverted.sum()) == 1
    beside = joined(cube(side=2), moved(inwards(sphere(12, 6, radius=0.5)), (3, 0, 0)))
    assert int(examined_part(beside).winding.sheet_inverted.sum()) == 1


def test_an_open_sheet_is_neither_closed_nor_inverted() -> None:
    for part in (grid(3, 3), inwards(grid(3, 3)), without_faces(inwards(cube()), [0])):
        winding = examined_part(part).winding
        assert not winding.sheet_closed.any()
        assert not winding.sheet_inverted.any()
        assert np.isnan(winding.sheet_volume).all()


def test_a_mirroring_transform_turns_the_winding_round() -> None:
    """glTF 2.0, 3.7.4: a negative determinant turns the winding order."""
    mirrored = replace(cube(), transform=np.diag([-1.0, 1, 1, 1]))
    assert not examined_part(mirrored).winding.sheet_inverted.any()
    assert examined_part(inwards(mirrored)).winding.sheet_inverted.all()


def test_winding_numbers_tell_inside_from_outside() -> None:
    """Jacobson, Kavan & Sorkine-Hornung 2013: 1 inside, 0 outside a closed outward surface."""
    one = examined_part(sphere(16, 8))
    spots = np.array([(0, 0, 0), (0.5, 0.5, 0.5), (1.1, 0, 0), (5, 5, 5)])
    numbers = winding_numbers(one.part, one.surface, np.arange(one.part.face_count), spots)
    np.testing.assert_allclose(numbers, (1, 1, 0, 0), atol=1e-12)
