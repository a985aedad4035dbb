"""Triangles in the plane cover each pixel's middle exactly once."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial import Delaunay
from shapely import Polygon, contains_xy

from reviewbot.render.uv_raster import covered_pixels


def pieces_of(corners: np.ndarray, height: int, width: int) -> Iterator[tuple[Any, Any]]:
    """Of triangles (T, 3, 2) with corners of their own."""
    x, y = corners.reshape(-1, 2).T
    ring = np.arange(3 * len(corners), dtype=np.int32).reshape(-1, 3)
    return covered_pixels(x, y, ring, height, width)


def counts(corners: np.ndarray, height: int, width: int) -> np.ndarray:
    total = np.zeros(height * width, dtype=int)
    for triangle, pixel in pieces_of(corners, height, width):
        assert len(triangle) == len(pixel)
        total += np.bincount(pixel, minlength=height * width)
    return total.reshape(height, width)


@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 10**6), whole=st.booleans())
def test_a_triangulated_area_is_covered_once(seed: int, whole: bool) -> None:
    """A Delaunay triangulation of a rectangle, corners on pixels' middles among them."""
    rng = np.random.default_rng(seed)
    inner = rng.uniform(2, 38, (30, 2))
    if whole:
        inner = np.floor(inner) + 0.5
    rim = np.array([(2, 2), (2, 38), (38, 2), (38, 38)])
    points = np.unique(np.concatenate([rim, inner]), axis=0)
    total = counts(points[Delaunay(points).simplices], 40, 40)
    expected = np.zeros((40, 40), dtype=int)
    expected[2:38, 2:38] = 1
    np.testing.assert_array_equal(total, expected)


@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 10**6))
def test_one_triangle_is_that_of_shapely(seed: int) -> None:
    corners = np.random.default_rng(seed).uniform(-10, 40, (1, 3, 2))
    x, y = np.meshgrid(np.arange(30) + 0.5, np.arange(30) + 0.5)
    expected = contains_xy(Polygon(corners[0]), x, y)
    np.testing.assert_array_equal(counts(corners, 30, 30) == 1, expected)


def test_many_spans_come_in_pieces_without_loss() -> None:
    strips = np.array([[(0, k), (50, k), (50, k + 0.99)] for k in np.linspace(0, 49, 9000)])
    pieces = list(pieces_of(strips, 50, 50))
    several = np.concatenate([pixel for _, pixel in pieces])
    one_by_one = sum(
        len(p) for k in range(0, 9000, 500) for _, p in pieces_of(strips[k : k + 500], 50, 50)
    )
    assert len(several) == one_by_one


@pytest.mark.parametrize(
    "corners",
    [
        np.empty((0, 3, 2)),
        np.full((1, 3, 2), np.nan),
        np.array([[(0, 0), (np.inf, 1), (1, 2)]]),
        np.full((1, 3, 2), 5.0),
        np.array([[(1e9, 1e9), (2e9, 1e9), (1e9, 2e9)]]),
    ],
    ids=["none", "nan", "infinite", "a point", "far off"],
)
def test_what_covers_nothing(corners: np.ndarray) -> None:
    assert counts(corners, 10, 10).sum() == 0
