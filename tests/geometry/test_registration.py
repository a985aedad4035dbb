from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial import cKDTree
from scipy.spatial.transform import Rotation
from shapes import cube, sphere, torus

from reviewbot.geometry.registration import registrations
from reviewbot.geometry.rigid import is_reflected, moved, similarity
from reviewbot.mesh import Part


def laid(part: Part, seed: int, *, reflected: bool) -> tuple[np.ndarray, np.ndarray]:
    """The points in another order, turned, sized and shifted, and the points as they were."""
    rng = np.random.default_rng(seed)
    turn = Rotation.random(random_state=seed).as_matrix() @ np.diag([1, 1, -1 if reflected else 1])
    matrix = similarity(rng.uniform(0.1, 9) * turn, np.zeros(3), rng.normal(size=3))
    return moved(part.points, matrix)[rng.permutation(len(part.points))], part.points


@settings(max_examples=20)
@given(st.integers(0, 10_000), st.booleans(), st.sampled_from([cube(), torus(20, 9)]))
def test_equal_sets_are_laid_on_each_other(seed: int, reflected: bool, part: Part) -> None:
    source, target = laid(part, seed, reflected=reflected)
    found = registrations(source, target, 1e-6)
    assert found
    for matrix in found:
        off, _ = cKDTree(target).query(moved(source, matrix))
        assert off.max() < 1e-5


def test_a_lopsided_set_fits_one_way_only() -> None:
    rng = np.random.default_rng(3)
    points = rng.normal(size=(40, 3))
    found = registrations(points[rng.permutation(40)], points, 1e-9)
    assert [is_reflected(matrix) for matrix in found] == [False]
    assert np.allclose(found[0], np.eye(4), atol=1e-6)


@pytest.mark.parametrize("count", [0, 1, 3])
def test_too_few_points_fit_nothing(count: int) -> None:
    assert registrations(np.ones((count, 3)), np.ones((count, 3)), 1e-6) == []


def test_other_sets_do_not_fit() -> None:
    one, other = sphere(12, 8), torus(12, 8)
    assert registrations(one.points, other.points[: len(one.points)], 1e-6) == []
