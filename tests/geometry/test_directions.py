"""Directions all round are evenly spread, opposites always together, always the same."""

import numpy as np
import pytest

from reviewbot.geometry.directions import LEVELS, view_axes


def both_ways(count: int) -> np.ndarray:
    return np.concatenate([view_axes()[:count], -view_axes()[:count]])


def test_axes_are_unit_and_stay_the_same() -> None:
    assert len(view_axes()) == LEVELS[-1]
    np.testing.assert_allclose(np.linalg.norm(view_axes(), axis=1), 1)
    assert view_axes() is view_axes()
    assert not view_axes().flags.writeable


@pytest.mark.parametrize("count", LEVELS)
def test_each_level_is_a_spherical_five_design(count: int) -> None:
    """Delsarte, Goethals & Seidel 1977: means of x^2, x^4 and x^2 y^2 over the directions are
    those over the sphere, 1/3, 1/5 and 1/15 (calculus), in any frame."""
    x = both_ways(count)
    np.testing.assert_allclose(x.T @ x / len(x), np.eye(3) / 3, atol=1e-12)
    fourth = np.einsum("ni,nj->ij", x**2, x**2) / len(x)
    np.testing.assert_allclose(fourth, np.full((3, 3), 1 / 15) + np.eye(3) * (1 / 5 - 1 / 15))


@pytest.mark.parametrize(("count", "largest_gap"), [(6, 37.4), (16, 22.7), (31, 18.8)])
def test_no_direction_is_far_from_a_view(count: int, largest_gap: float) -> None:
    """The corner of an icosahedron's face lies 37.38 degrees from its middle (Coxeter, "Regular
    Polytopes", table I); the finer levels were measured on a fine net and are held."""
    anywhere = np.random.default_rng(3).normal(size=(20000, 3))
    anywhere /= np.linalg.norm(anywhere, axis=1, keepdims=True)
    nearest = (anywhere @ both_ways(count).T).max(axis=1)
    assert np.degrees(np.arccos(nearest.min())) < largest_gap


def test_no_view_looks_along_a_face_of_an_upright_box() -> None:
    assert np.abs(view_axes()).min() > 1e-3
