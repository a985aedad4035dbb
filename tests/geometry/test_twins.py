from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from reviewbot.geometry.twins import nearest_within, shared_places, tree_of

NONE = np.empty((0, 2), dtype=np.int32)


def shared(before: np.ndarray, after: np.ndarray, tolerance: float = 1e-3) -> tuple:
    return shared_places(before, after, tolerance, likely=NONE)


@given(st.integers(0, 2**32 - 1), st.integers(1, 60))
def test_reordered_and_shaken_points_keep_their_places(seed: int, count: int) -> None:
    rng = np.random.default_rng(seed)
    before = rng.permutation(1000)[:count, None] * np.array([1.0, 0.3, 0.1])
    order = rng.permutation(count)
    after = before[order] + rng.uniform(-4e-4, 4e-4, (count, 3))
    number_before, number_after, total = shared(before, after)
    assert total == count
    assert np.array_equal(number_after, number_before[order])


def test_new_and_lost_points_have_places_of_their_own() -> None:
    before = np.array([[0.0, 0, 0], [1, 0, 0]])
    after = np.array([[1.0, 0, 0], [2, 0, 0]])
    number_before, number_after, total = shared(before, after)
    assert total == 3
    assert number_before[1] == number_after[0]
    assert len({*number_before, *number_after}) == 3


def test_two_points_that_rounding_could_swap_share_a_place() -> None:
    before = np.array([[0.0, 0, 0], [2e-4, 0, 0]])
    number_before, number_after, _ = shared(before, before + 1e-4)
    assert number_before[0] == number_before[1] == number_after[0] == number_after[1]


def test_a_likely_partner_is_taken_before_a_search() -> None:
    before = np.array([[0.0, 0, 0], [5e-4, 0, 0]])
    likely = np.array([[0, 0], [1, 1]], dtype=np.int32)
    number_before, number_after, total = shared_places(before, before, 1e-3, likely=likely)
    assert total == 2
    assert np.array_equal(number_before, number_after)


def test_points_without_coordinates_are_nowhere() -> None:
    spot = np.full((1, 3), np.nan)
    number_before, number_after, total = shared(spot, spot)
    assert total == 2
    assert number_before[0] != number_after[0]


def test_nothing_is_near_an_empty_tree() -> None:
    distance, row = nearest_within(tree_of(np.empty((0, 3))), np.zeros((2, 3)), 1.0)
    assert np.isinf(distance).all()
    assert (row == -1).all()
