"""Overlapping boxes, against looking at every pair."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from reviewbot.geometry.boxes import overlapping_boxes


def every_pair(box: np.ndarray) -> set[tuple[int, int]]:
    return {
        (i, j)
        for i in range(len(box))
        for j in range(i + 1, len(box))
        if (box[i, 0] < box[j, 1]).all() and (box[j, 0] < box[i, 1]).all()
    }


@given(seed=st.integers(0, 10**6), count=st.integers(0, 60), spread=st.floats(0.01, 3))
def test_finds_every_pair_once(seed: int, count: int, spread: float) -> None:
    random = np.random.default_rng(seed)
    middle, half = random.normal(size=(count, 2)), random.gamma(0.5, spread, (count, 2)) + 1e-9
    box = np.stack([middle - half, middle + half], axis=1).reshape(-1, 2, 2)
    pairs = [tuple(pair) for pair in overlapping_boxes(box).tolist()]
    assert len(pairs) == len(set(pairs))
    assert set(pairs) == every_pair(box)


def test_boxes_that_only_touch_or_are_nothing_overlap_none() -> None:
    beside = np.array([[(0, 0), (1, 1)], [(1, 0), (2, 1)], [(0.5, 0.5), (0.5, 0.5)]], dtype=float)
    unknown = np.full((2, 2, 2), np.nan)
    assert len(overlapping_boxes(np.concatenate([beside, unknown]))) == 0


def test_stops_at_the_limit() -> None:
    box = np.tile([[(0.0, 0.0), (1.0, 1.0)]], (100, 1, 1))
    assert len(overlapping_boxes(box)) == 4950
    assert len(overlapping_boxes(box, limit=10)) == 10
