"""Areas from outlines, against shapely (GEOS)."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from reviewbot.geometry.outlines import (
    areas_covered_again,
    covered_area,
    covered_area_by_columns,
    shared_areas,
    slopes_of,
    times_covered,
)

TILE = np.array([[0.0, 0.0], [1.0, 1.0]])


def stars(seed: int, count: int, *, size: float = 0.2, corners: int = 20) -> list[np.ndarray]:
    """Star-shaped polygons, mostly concave, counter-clockwise, at random places of the tile."""
    random = np.random.default_rng(seed)
    rings = []
    for _ in range(count):
        turn = np.linspace(0, 2 * np.pi, corners, endpoint=False) + random.uniform(0, 0.2, corners)
        reach = size * random.uniform(0.3, 1, corners)
        ring = np.stack([np.cos(turn), np.sin(turn)], axis=1) * reach[:, None]
        rings.append(ring + random.uniform(0, 1, 2))
    return rings


def segments(rings: list[np.ndarray]) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    start = np.concatenate(rings)
    end = np.concatenate([np.roll(ring, -1, axis=0) for ring in rings])
    region = np.repeat(np.arange(len(rings), dtype=np.int32), [len(ring) for ring in rings])
    return start, end, region


@settings(max_examples=20, deadline=None)
@given(seed=st.integers(0, 10**6))
def test_shared_areas_are_those_of_the_intersections(seed: int) -> None:
    rings = stars(seed, 8)
    slopes = slopes_of(*segments(rings), len(rings))
    pairs = np.array([(i, j) for i in range(8) for j in range(i, 8)], dtype=np.int32)
    shapes = [shapely.Polygon(ring) for ring in rings]
    expected = [shapes[i].intersection(shapes[j]).area for i, j in pairs.tolist()]
    np.testing.assert_allclose(shared_areas(slopes, pairs), expected, atol=1e-14)


@settings(max_examples=20, deadline=None)
@given(seed=st.integers(0, 10**6), size=st.floats(0.02, 0.6), low=st.integers(-20, 40))
def test_covered_area_is_that_of_the_union_within_the_box(seed: int, size: float, low: int) -> None:
    rings = stars(seed, 40, size=size)
    box = np.array([[low / 100, 0.1], [low / 100 + 0.6, 0.9]])
    union = shapely.union_all([shapely.Polygon(ring) for ring in rings])
    expected = union.intersection(shapely.box(*box[0], *box[1])).area
    assert covered_area(*segments(rings), box) == pytest.approx(expected, abs=1e-12)


def test_columns_come_close_where_masses_lie_on_each_other() -> None:
    rings = stars(3, 300, size=0.1)
    start, end, region = segments(rings)
    exact = covered_area(start, end, region, TILE)
    assert covered_area_by_columns(start, end, TILE, columns=2048) == pytest.approx(exact, abs=1e-4)


def test_a_hole_is_not_covered() -> None:
    ring = np.array([(0, 0), (1, 0), (1, 1), (0, 1)], dtype=float)
    hole = (ring[::-1] - 0.5) * 0.5 + 0.5
    start, end, _ = segments([ring, hole])
    one = np.zeros(len(start), dtype=np.int32)
    assert covered_area(start, end, one, TILE) == pytest.approx(0.75)
    slopes = slopes_of(start, end, one, 1)
    np.testing.assert_array_equal(times_covered(slopes, np.array([(0.1, 0.1), (0.5, 0.5)])), (1, 0))


@pytest.mark.parametrize("turns", [1, 2, 3])
def test_a_ring_that_runs_round_several_times_covers_itself(turns: int) -> None:
    """A point covered n times lies in n (n - 1) / 2 pairs of layers; textbook fact."""
    ring = np.tile([(0.2, 0.2), (0.8, 0.2), (0.8, 0.7), (0.2, 0.7)], (turns, 1))
    start, end, region = segments([ring])
    slopes = slopes_of(start, end, region, 1)
    again = areas_covered_again(slopes, np.array([0.3 * turns]))
    assert again[0] == pytest.approx(0.3 * turns * (turns - 1) / 2)
    assert covered_area(start, end, region, TILE) == pytest.approx(0.3)


def test_nothing_covers_nothing() -> None:
    nothing = np.empty((0, 2))
    region = np.empty(0, dtype=np.int32)
    assert covered_area(nothing, nothing, region, TILE) == 0
    assert len(shared_areas(slopes_of(nothing, nothing, region, 0), np.empty((0, 2), int))) == 0
