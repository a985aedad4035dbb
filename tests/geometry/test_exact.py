"""Exact places: rows of equal value share one, whatever their order."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reviewbot.geometry import exact
from reviewbot.geometry.exact import exact_places

ROWS = st.lists(
    st.tuples(*[st.sampled_from([0.0, -0.0, 1.0, 2.5, np.nan, np.inf, -np.inf, 1e-300])] * 2),
    max_size=40,
)


@given(ROWS)
def test_places_are_those_of_a_dictionary(rows: list[tuple[float, float]]) -> None:
    values = np.array(rows).reshape(-1, 2)
    seen: dict[bytes, int] = {}
    expected = [seen.setdefault((row + 0.0).tobytes(), len(seen)) for row in values]
    place, first = exact_places(values)
    assert place.tolist() == expected
    assert first.tolist() == [expected.index(k) for k in range(len(seen))]


@pytest.mark.parametrize("crowded", [0, 0xFFFF, 1 << 60])
def test_hashes_that_meet_change_nothing(crowded: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Hashes with few distinct values, as a hostile file could bring about."""
    values = np.random.default_rng(1).integers(0, 40, size=(3000, 3)).astype(float)
    expected = exact_places(values)
    plain = exact._row_hashes
    monkeypatch.setattr(exact, "_row_hashes", lambda rows: plain(rows) & np.uint64(crowded))
    for found, wanted in zip(exact_places(values), expected, strict=True):
        assert np.array_equal(found, wanted)


def test_many_rows_agree_with_numpy() -> None:
    values = np.random.default_rng(2).integers(0, 300, size=(200_000, 2)) / 7
    place, first = exact_places(values)
    assert len(first) == len(np.unique(values, axis=0))
    assert np.array_equal(values[first][place], values)
    assert np.array_equal(first, np.sort(first))
