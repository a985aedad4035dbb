"""Shells and seams, by value."""

from dataclasses import replace

import numpy as np
import pytest
from edits import moved, shuffled, unshared, with_repeated_faces, with_turned_faces, without_uvs
from hypothesis import given, settings
from hypothesis import strategies as st
from shapes import FIN_FACES, FIN_POINTS, box, cube, grid, joined, polygons, sphere, torus

from reviewbot.measure.shells import Shells, find_shells
from reviewbot.mesh import Part


def seam_length(shells: Shells) -> float:
    return float(shells.lengths[shells.is_seam].sum())


def figures(part: Part) -> tuple[int, int, float]:
    shells = find_shells(part)
    return shells.count, int(shells.is_seam.sum()), round(seam_length(shells), 9)


def test_a_convex_polyhedron_in_one_piece_is_cut_along_all_corners_but_one() -> None:
    """The cuts of a one-piece net are a spanning tree of V corners: V - 1 edges; textbook fact."""
    assert figures(cube()) == (1, 7, 7.0)
    count, cuts, _ = figures(box((0, 0, 0), (3, 2, 1)))
    assert (count, cuts) == (1, 7)


def test_a_torus_in_one_rectangle_is_cut_once_each_way() -> None:
    count, cuts, length = figures(torus(24, 12))
    assert (count, cuts) == (1, 24 + 12)
    around = 24 * 2 * np.sin(np.pi / 24) * 1.3  # the outer of the 12 rings of 24 sides
    across = 12 * 2 * np.sin(np.pi / 12) * 0.3
    assert length == pytest.approx(around + across)


@pytest.mark.parametrize("part", [cube(), sphere(12, 6), torus(8, 6)], ids=lambda p: p.name)
@pytest.mark.parametrize("seed", range(3))
def test_order_indices_and_sharing_mean_nothing(part: Part, seed: int) -> None:
    assert figures(shuffled(part, seed)) == figures(part)
    assert figures(unshared(part)) == figures(part)
    assert figures(shuffled(unshared(part), seed)) == figures(part)


@settings(max_examples=20, deadline=None)
@given(seed=st.integers(0, 999))
def test_rounding_to_six_digits_means_nothing(seed: int) -> None:
    random = np.random.default_rng(seed)
    part = unshared(torus(12, 8))
    rounded = replace(
        part,
        points=part.points + random.uniform(-1e-7, 1e-7, part.points.shape),
        uvs=(part.uvs + random.uniform(-1e-6, 1e-6, part.uvs.shape)).round(6),
    )
    shells = find_shells(rounded)
    assert (shells.count, int(shells.is_seam.sum())) == (1, 20)


def test_turned_faces_stay_in_their_shell() -> None:
    assert figures(with_turned_faces(cube(), [1, 4])) == figures(cube())


def test_boxes_side_by_side_keep_their_own_seams() -> None:
    """Along the four edges they share, by place alone, each box's own two sides meet or part."""
    for gap in (0, 5):
        shells = find_shells(joined(cube(), moved(cube(), (1 + gap, 0, 0))))
        seams = int(shells.is_seam.sum())
        assert (seams, shells.count) == (14, 2) if gap else seams in range(10, 15)


def test_a_doubled_part_keeps_its_seams() -> None:
    assert figures(joined(cube(), cube()))[1:] == figures(cube())[1:]
    assert figures(with_repeated_faces(cube(), [0, 1, 2, 3, 4, 5]))[1:] == figures(cube())[1:]


def test_a_third_sheet_on_a_seamless_edge_makes_no_seam() -> None:
    uvs = [(0.1, 0.5), (0.2, 0.5), (0.1, 0.6), (0.2, 0.6), (0.1, 0.4), (0.2, 0.4)]
    loose = [(0.7, 0.5), (0.8, 0.5), (0.8, 0.6), (0.7, 0.6)]
    flat = [(0, 1, 3, 2), (1, 0, 4, 5), (6, 7, 8, 9)]
    shells = find_shells(polygons(FIN_POINTS, FIN_FACES, uvs=uvs + loose, face_uvs=flat))
    assert (shells.count, int(shells.is_seam.sum())) == (2, 0)
    apart = [(0.7, 0.1), (0.8, 0.1), (0.8, 0.2), (0.7, 0.2)]
    cut = [(0, 1, 3, 2), (11, 10, 13, 12), (6, 7, 8, 9)]
    shells = find_shells(polygons(FIN_POINTS, FIN_FACES, uvs=uvs + loose + apart, face_uvs=cut))
    assert int(shells.is_seam.sum()) == 1


def test_unmapped_faces_have_no_shell_and_make_no_seam() -> None:
    assert figures(without_uvs(cube())) == (0, 0, 0.0)
    half = cube()
    corner_uv = half.corner_uv.copy()
    corner_uv[:4] = -1
    shells = find_shells(replace(half, corner_uv=corner_uv))
    assert shells.face_shell[0] == -1
    assert not shells.is_seam[shells.edges.corner_edge[:4]].any()


def test_a_uv_that_is_no_number_counts_as_none() -> None:
    part = grid(2, 2)
    uvs = part.uvs.copy()
    uvs[4] = np.nan  # the middle: all four faces stand on it
    assert find_shells(replace(part, uvs=uvs)).count == 0


def test_an_empty_part_has_nothing() -> None:
    shells = find_shells(polygons(np.empty((0, 3)), []))
    assert (shells.count, len(shells.lengths), len(shells.joins)) == (0, 0, 0)
