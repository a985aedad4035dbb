"""Faces that were cut and merged at once, on polygons written by hand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from comparing import changes
from mutations.plants import faces_merged, partly_triangulated
from mutations.reexports import everything_at_once
from shapes import grid, model

from reviewbot.compare.polygons import Rounds
from reviewbot.compare.regrouped import Regrouped, corners_known, first_pieces, regrouped

#  3--4--5--8
#  |  |  |  |
#  0--1--2--7
QUADS = [(0, 1, 4, 3), (1, 2, 5, 4), (2, 7, 8, 5)]


def rounds(faces: Sequence[Sequence[int]]) -> Rounds:
    return Rounds(
        places=np.concatenate([*faces, []]).astype(np.int32),
        face_start=np.cumsum([0, *(len(face) for face in faces)]).astype(np.int32),
        order=np.zeros(len(faces)),
    )


def found(old: Sequence[Sequence[int]], new: Sequence[Sequence[int]]) -> Regrouped | None:
    return regrouped(rounds(old), rounds(new), rounds(old))


def test_a_quad_cut_and_one_half_merged_with_its_neighbour() -> None:
    result = found(QUADS[:2], [(0, 1, 3), (1, 2, 5, 4, 3)])
    assert result is not None
    assert result.owner.tolist().count(0) == 1
    assert result.owner.tolist().count(1) == 2
    parents = {
        tuple(sorted((int(o), int(p)))) for o, p in zip(result.owner, result.parent, strict=True)
    }
    assert parents == {(0, 0), (0, 1), (1, 1)}
    assert result.whole.sum() == 1
    assert not result.turned.any()


def test_corners_are_followed_through_both() -> None:
    old, new = QUADS[:2], [(0, 1, 3), (1, 2, 5, 4, 3)]
    result = found(old, new)
    assert result is not None
    corners, old_corners = corners_known(result)
    places_new, places_old = np.concatenate(new), np.concatenate(old)
    assert (places_new[corners] == places_old[old_corners]).all()
    assert set(corners.tolist()) == set(range(8))
    assert (first_pieces(result, 2) >= 0).all()


def test_faces_wound_the_other_way_as_well() -> None:
    result = found(QUADS[:2], [(3, 1, 0), (3, 4, 5, 2, 1)])
    assert result is not None
    assert result.turned.all()


def test_where_a_piece_is_missing_nothing_is_explained() -> None:
    assert found(QUADS[:2], [(1, 2, 5, 4, 3)]) is None


def test_a_face_beside_them_that_is_new_stays_unexplained() -> None:
    result = found(QUADS[:2], [(0, 1, 3), (1, 2, 5, 4, 3), (20, 21, 22)])
    assert result is not None
    assert first_pieces(result, 3)[2] == -1


def test_no_old_edge_inside_a_new_face_is_no_merger() -> None:
    assert found(QUADS[:1], [(0, 1, 4), (0, 4, 3)]) is None
    assert found(QUADS, QUADS) is None
    assert found([], []) is None


def test_other_polygons_on_the_same_points_are_not_explained() -> None:
    """The other way to cut two quads in three, over points that no old edge ties."""
    assert found(QUADS[:2], [(0, 2, 3), (2, 5, 3)]) is None


def test_both_are_told_each_once() -> None:
    part = replace(grid(9, 7), name="sheet")
    rng = np.random.default_rng
    after = faces_merged(partly_triangulated(part, rng(2)), rng(2))
    assert after is not None
    for one in (model(after), everything_at_once(model(after), rng(3))):
        told = sorted(change.code for change in changes(model(part), one))
        assert told == ["faces-merged", "triangulated"]
