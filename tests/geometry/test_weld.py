"""Places by value, against looking at every pair."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reviewbot.geometry.exact import exact_places
from reviewbot.geometry.groups import joined_labels, lot_is_mixed, renumbered
from reviewbot.geometry.weld import places_within


def same_partition(first: np.ndarray, second: np.ndarray) -> bool:
    return bool(((first[:, None] == first[None]) == (second[:, None] == second[None])).all())


@given(seed=st.integers(0, 10**6), columns=st.integers(1, 6), spread=st.integers(1, 40))
def test_rows_nearer_than_the_tolerance_share_a_place(seed: int, columns: int, spread: int) -> None:
    random = np.random.default_rng(seed)
    values = random.integers(0, spread, (40, columns)) + random.uniform(-0.01, 0.01, (40, columns))
    near = np.linalg.norm(values[:, None] - values[None], axis=-1) <= 0.1
    rows, others = np.nonzero(near)
    place = places_within(values, 0.1)
    assert same_partition(place, joined_labels(40, rows.astype(np.int32), others.astype(np.int32)))
    assert set(place.tolist()) == set(range(int(place.max()) + 1))


@given(seed=st.integers(0, 10**6), reach=st.sampled_from([1e-7, 1e-5, 1e-3, 0.03]))
def test_a_single_near_pair_among_many_is_found(seed: int, reach: float) -> None:
    random = np.random.default_rng(seed)
    grid = np.stack(np.meshgrid(*3 * [np.linspace(0, 1, 9)]), axis=-1).reshape(-1, 3)
    direction = random.normal(size=3)
    row = random.integers(len(grid))
    near = grid[row] + 0.999 * reach * direction / np.linalg.norm(direction)
    place = places_within(np.vstack([grid, near]), reach)
    assert place[-1] == place[row]
    assert len(np.unique(place)) == len(grid)


def test_places_apart_are_numbered_in_order() -> None:
    values = np.random.default_rng(1).normal(size=(50, 3))
    np.testing.assert_array_equal(places_within(values, 1e-9), np.arange(50))


def test_exact_places_tell_nan_apart_and_zero_from_nothing() -> None:
    values = np.array([(0.0, 1), (-0.0, 1), (np.nan, 1), (np.nan, 1), (np.inf, 1)])
    place, first = exact_places(values)
    assert same_partition(place, np.array([0, 0, 1, 1, 2]))
    assert len(first) == 3


@pytest.mark.parametrize("tolerance", [0.0, 1e-3])
def test_nothing_has_no_place(tolerance: float) -> None:
    assert len(places_within(np.empty((0, 3)), tolerance)) == 0


def test_a_whole_part_smaller_than_the_tolerance_is_one_place() -> None:
    values = np.random.default_rng(2).uniform(0, 1e-9, (5000, 3))
    assert places_within(values, 1e-3).max() == 0


def test_renumbered_and_mixed_lots() -> None:
    assert renumbered(np.array([7, 3, 7, 9])).tolist() == [1, 0, 1, 2]
    assert renumbered(np.array([], dtype=int)).tolist() == []
    lot, owner = np.array([0, 0, 1, 1, 2]), np.array([0, 1, 1, 1, 0])
    assert lot_is_mixed(lot, owner).tolist() == [True, True, False, False, False]
