from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from reviewbot.geometry.rigid import (
    consensus_similarity,
    fit_similarity,
    inverse,
    is_reflected,
    mirror_axis_of,
    mirroring,
    moved,
    nearest_signed_axes,
    scale_of,
    signed_axes,
    similarity,
    turn_of,
)

SEEDS = st.integers(0, 2**32 - 1)


def cloud(rng: np.random.Generator, count: int = 30) -> np.ndarray:
    return rng.normal(size=(count, 3)) * [3, 2, 1] + [5, -1, 2]


def random_similarity(rng: np.random.Generator, *, reflected: bool = False) -> np.ndarray:
    turn = Rotation.random(random_state=int(rng.integers(1 << 30))).as_matrix()
    if reflected:
        turn = turn @ np.diag([1.0, 1.0, -1.0])
    return similarity(rng.uniform(0.1, 10) * turn, rng.normal(size=3), rng.normal(size=3))


@given(SEEDS)
def test_the_turn_is_the_one_scipy_finds(seed: int) -> None:
    """scipy.spatial.transform.Rotation.align_vectors solves the same problem without scale."""
    rng = np.random.default_rng(seed)
    source = cloud(rng)
    target = moved(source, random_similarity(rng)) + 0.01 * rng.normal(size=source.shape)
    expected, _ = Rotation.align_vectors(target - target.mean(axis=0), source - source.mean(axis=0))
    found = fit_similarity(source, target)
    assert np.allclose(found[:3, :3] / scale_of(found), expected.as_matrix(), atol=1e-6)


@given(SEEDS, st.booleans())
def test_an_exact_similarity_is_found_again(seed: int, reflected: bool) -> None:
    rng = np.random.default_rng(seed)
    matrix = random_similarity(rng, reflected=reflected)
    source = cloud(rng)
    found = fit_similarity(source, moved(source, matrix))
    assert np.allclose(found, matrix, atol=1e-8)
    assert is_reflected(found) == reflected
    assert np.allclose(moved(moved(source, found), inverse(found)), source)


def test_a_flat_set_is_turned_and_not_reflected() -> None:
    flat = np.array([[0, 0, 0], [1, 0, 0], [0, 2, 0], [3, 1, 0]], dtype=float)
    assert not is_reflected(fit_similarity(flat, flat * [-1, 1, 1]))


def test_points_that_coincide_are_only_shifted() -> None:
    found = fit_similarity(np.ones((4, 3)), np.full((4, 3), 3.0))
    assert np.allclose(found[:3, 3], [2, 2, 2])
    assert np.array_equal(fit_similarity(np.empty((0, 3)), np.empty((0, 3))), np.eye(4))


@given(SEEDS)
def test_a_third_of_the_points_elsewhere_do_not_disturb_the_fit(seed: int) -> None:
    rng = np.random.default_rng(seed)
    source, matrix = cloud(rng, 90), random_similarity(rng)
    target = moved(source, matrix)
    wrong = rng.choice(90, size=30, replace=False)
    target[wrong] += rng.normal(size=(30, 3)) * 5 * scale_of(matrix) + scale_of(matrix)
    found = consensus_similarity(source, target, 1e-6 * scale_of(matrix))
    assert np.allclose(found.matrix, matrix, atol=1e-6 * scale_of(matrix))
    assert found.share == pytest.approx(2 / 3, abs=0.02)


def test_nan_points_agree_with_nothing() -> None:
    source = cloud(np.random.default_rng(1))
    source[3] = np.nan
    found = consensus_similarity(source, np.array(source), 1e-9)
    assert not found.agrees[3]
    assert found.agrees.sum() == len(source) - 1


def test_the_right_angled_turns_are_the_cubes_symmetries() -> None:
    """24 turns of the cube, 48 with reflections (any book on crystallography: class m-3m)."""
    turns = signed_axes()
    assert len({turn.tobytes() for turn in turns + 0.0}) == 48
    assert int((np.linalg.det(turns) > 0).sum()) == 24
    assert np.array_equal(turns[0], np.eye(3))


@given(st.floats(0.01, 179.9), SEEDS)
def test_angle_and_axis_are_found_again(angle: float, seed: int) -> None:
    axis = np.random.default_rng(seed).normal(size=3)
    axis /= np.linalg.norm(axis)
    matrix = np.eye(4)
    matrix[:3, :3] = 2.5 * Rotation.from_rotvec(np.radians(angle) * axis).as_matrix()
    found, about = turn_of(matrix)
    assert found == pytest.approx(angle, abs=1e-6)
    assert np.allclose(about, axis, atol=1e-4)


def test_a_half_turn_has_an_axis_too() -> None:
    angle, axis = turn_of(np.diag([-1.0, 1.0, -1.0, 1.0]))
    assert angle == pytest.approx(180)
    assert np.allclose(np.abs(axis), [0, 1, 0])


@pytest.mark.parametrize("axis", range(3))
def test_a_mirroring_is_told_by_its_axis(axis: int) -> None:
    assert mirror_axis_of(mirroring(axis)) == axis


def test_only_right_angles_count_as_such() -> None:
    turn = np.eye(4)
    turn[:3, :3] = 100 * Rotation.from_euler("x", 90, degrees=True).as_matrix()
    found = nearest_signed_axes(turn, 1e-6)
    assert found is not None
    assert np.array_equal(found, [[1, 0, 0], [0, 0, -1], [0, 1, 0]])
    turn[:3, :3] = Rotation.from_euler("x", 89, degrees=True).as_matrix()
    assert nearest_signed_axes(turn, 1e-3) is None
