"""Plain words for messages, and one steady place for many."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reviewbot.checks.place import worst_place
from reviewbot.checks.words import counted, figure, percent, verb


def test_counts_come_with_their_noun_and_verb() -> None:
    assert (counted(1, "face"), counted(3, "face")) == ("1 face", "3 faces")
    assert counted(2, "vertex", "vertices") == "2 vertices"
    assert (verb(1, "has", "have"), verb(0, "has", "have")) == ("has", "have")


@pytest.mark.parametrize(
    ("value", "said"),
    [
        (0, "0"),
        (1.5, "1.5"),
        (204.4, "204"),
        (0.01234, "0.0123"),
        (1e-7, "0.0000001"),
        (-2.0, "-2"),
        (-0.0, "0"),
        (-1e-15, "0"),
    ],
)
def test_figures_have_three_digits_that_matter(value: float, said: str) -> None:
    assert figure(value) == said


def test_figures_that_are_none_are_said_to_be_unknown() -> None:
    assert figure(float("nan")) == figure(float("inf")) == "unknown"


@pytest.mark.parametrize(
    ("share", "said"),
    [(0, "0%"), (0.5, "50%"), (0.041, "4.1%"), (1, "100%"), (2e-4, "under 0.1%")],
)
def test_shares_are_percentages(share: float, said: str) -> None:
    assert percent(share) == said


@given(seed=st.integers(0, 10**6))
def test_the_place_does_not_depend_on_the_order(seed: int) -> None:
    random = np.random.default_rng(seed)
    places = random.integers(-3, 3, (20, 3)).astype(float)
    badness = random.integers(0, 3, 20).astype(float)
    order = random.permutation(20)
    assert worst_place(places, badness) == worst_place(places[order], badness[order])


def test_the_place_is_the_worst_one_and_finite() -> None:
    places = np.array([(0, 0, 0), (1, 1, 1), (np.nan, 0, 0)])
    assert worst_place(places, np.array([1.0, 2.0, 9.0])) == (1, 1, 1)
    assert worst_place(places) == (0, 0, 0)
    assert worst_place(places[2:]) is None
    assert worst_place(np.empty((0, 3))) is None
