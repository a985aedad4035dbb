"""Faces and pieces that are there twice."""

import numpy as np
import pytest
from edits import moved, unshared, with_repeated_faces
from examined import examined_part
from hypothesis import given, settings
from hypothesis import strategies as st
from shapes import cube, grid, joined, sphere


@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize("part", [cube(), unshared(cube()), sphere(8, 5)], ids=lambda p: p.name)
def test_repeated_faces_have_a_twin_however_they_are_wound(part, turned) -> None:
    twins = examined_part(with_repeated_faces(part, [0, 2], turned=turned)).twins
    assert int(np.count_nonzero(twins.face_twin >= 0)) == 2
    if part.name == "sphere":
        assert not twins.touching.any()


@settings(max_examples=20, deadline=None)
@given(noise=st.floats(0, 1e-8), seed=st.integers(0, 99))
def test_rounding_hides_no_twin_and_makes_none(noise: float, seed: int) -> None:
    part = joined(grid(6, 6), unshared(grid(6, 6)))
    off = noise * np.random.default_rng(seed).uniform(-1, 1, part.points.shape)
    twins = examined_part(moved(part, off)).twins
    assert int(np.count_nonzero(twins.face_twin >= 0)) == 36
    assert not (examined_part(moved(grid(6, 6), off[:49])).twins.face_twin >= 0).any()


def test_a_piece_on_an_identical_one_is_extra() -> None:
    part = joined(cube(), moved(cube(), (3, 0, 0)), cube())
    twins = examined_part(part).twins
    assert int(np.count_nonzero(twins.piece_extra)) == 1
    assert int(np.count_nonzero(twins.left_out)) == 6


def test_boxes_on_each_other_touch_and_are_left_in() -> None:
    twins = examined_part(joined(cube(), moved(cube(), (1, 0, 0)))).twins
    assert int(np.count_nonzero(twins.touching)) == 1
    assert not twins.left_out.any()


def test_faces_on_other_points_have_no_twin() -> None:
    twins = examined_part(joined(cube(), cube(side=0.5), moved(cube(), (0.5, 0, 0)))).twins
    assert not (twins.face_twin >= 0).any()
