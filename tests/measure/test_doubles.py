"""Parts that lie on identical ones."""

from dataclasses import replace

import numpy as np
from edits import moved, shuffled, unshared
from examined import examined
from hypothesis import given, settings
from hypothesis import strategies as st
from shapes import cube, grid, joined, polygons, sphere


def doubles(*parts) -> list[tuple[int, int, int, bool]]:
    return [(d.part, d.other, d.pieces, d.whole) for d in examined(*parts).doubles]


@settings(max_examples=15, deadline=None)
@given(seed=st.integers(0, 999), noise=st.floats(0, 1e-8))
def test_a_copy_is_found_however_it_is_written(seed: int, noise: float) -> None:
    part = sphere(9, 5)
    off = noise * np.random.default_rng(seed).uniform(-1, 1, part.points.shape)
    assert doubles(part, moved(shuffled(part, seed), off)) == [(0, 1, 1, True), (1, 0, 1, True)]


def test_a_part_on_a_piece_of_another() -> None:
    rivets = joined(*(moved(cube(), (3 * k, 0, 0)) for k in range(4)))
    assert doubles(rivets, moved(cube(), (6, 0, 0))) == [(0, 1, 1, False), (1, 0, 1, True)]


def test_three_in_one_place() -> None:
    assert len(doubles(cube(), cube(), cube())) == 6


def test_parts_in_other_places_or_of_another_shape_are_no_doubles() -> None:
    assert doubles(cube(), moved(cube(), (0.001, 0, 0)), cube(side=1.001)) == []
    turned = replace(cube(), points=cube().points @ np.diag([1, 1, 0.999]))
    assert doubles(cube(), turned, sphere(6, 4, radius=0.5)) == []
    assert doubles(grid(2, 2), unshared(grid(2, 2))) == []  # as many pieces as faces there


def test_single_faces_count_only_where_parts_are_equal() -> None:
    """Boxes written face by face that stand wall to wall have a face in common, and are two."""
    box = unshared(cube())
    assert doubles(box, moved(box, (1, 0, 0)), moved(box, (0, 1, 0))) == []
    assert doubles(box, box) == [(0, 1, 6, True), (1, 0, 6, True)]
    assert doubles(grid(1, 1), grid(1, 1)) == [(0, 1, 1, True), (1, 0, 1, True)]


def test_none_without_parts_or_faces() -> None:
    empty = polygons(np.empty((0, 3)), [])
    assert doubles() == doubles(empty, empty) == []
