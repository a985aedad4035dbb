"""Rectangles in the tile: apart, inside, and none the worse for being many."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import STRtree, box

from reviewbot.demo.packing import pack

side = st.floats(0.01, 3.0)
rectangles = st.lists(st.tuples(side, side), min_size=1, max_size=25).map(np.array)


@settings(max_examples=40, deadline=None)
@given(rectangles)
def test_shells_keep_their_distance(sizes: np.ndarray) -> None:
    gap = 0.004
    scale, corners, is_turned = pack(sizes, gap=gap)
    placed = scale * np.where(is_turned[:, None], sizes[:, ::-1], sizes)
    assert corners.min() >= gap - 1e-9
    assert (corners + placed).max() <= 1 - gap + 1e-9
    grown = [
        box(*(low - gap / 2 + 1e-9), *(low + size + gap / 2 - 1e-9))
        for low, size in zip(corners, placed, strict=True)
    ]
    pairs = STRtree(grown).query(grown, predicate="intersects").T
    assert all(a == b for a, b in pairs.tolist())


def test_one_square_fills_the_tile() -> None:
    scale, corners, _ = pack(np.array([(2.0, 2.0)]), gap=0.01)
    assert scale == pytest.approx(0.98 / 2, rel=1e-6)
    np.testing.assert_allclose(corners, [[0.01, 0.01]])


def test_four_squares_fill_it_as_well() -> None:
    scale, _, _ = pack(np.ones((4, 2)), gap=0.0)
    assert scale == pytest.approx(0.5, rel=1e-6)


def test_many_strips_waste_little() -> None:
    sizes = np.column_stack([np.linspace(1, 2, 40), np.linspace(0.05, 0.2, 40)])
    scale, _, _ = pack(sizes, gap=0.0)
    assert scale**2 * sizes.prod(axis=1).sum() > 0.8
