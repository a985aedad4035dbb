"""Texel density."""

import numpy as np
import pytest
from edits import moved, uvs_placed, without_uvs
from examined import examined_part
from shapes import cube, grid, joined

from reviewbot.measure.density import middle_of


def test_pixels_per_unit() -> None:
    """A metre over a quarter of a 2048 map has 512 pixels; common practice, no source."""
    density = examined_part(cube()).density
    assert density.of_part == pytest.approx(512)
    np.testing.assert_allclose(density.of_face, 512)
    assert examined_part(cube(side=2)).density.of_part == pytest.approx(256)
    assert examined_part(uvs_placed(cube(), scale=0.5)).density.of_part == pytest.approx(256)


def test_shells_have_their_own_and_the_middle_is_by_surface() -> None:
    fine = uvs_placed(cube(side=0.1), scale=0.5)
    density = examined_part(joined(cube(), moved(fine, (3, 0, 0)))).density
    assert sorted(density.of_shell.tolist()) == pytest.approx([512, 2560])
    assert density.middle == pytest.approx(512)


def test_without_uvs_there_is_none() -> None:
    density = examined_part(without_uvs(grid(2, 2))).density
    assert np.isnan([density.of_part, density.middle, *density.of_face]).all()


def test_collapsed_uvs_have_none_and_do_not_count_for_the_middle() -> None:
    flat = uvs_placed(grid(1, 1), scale=(0, 1))
    density = examined_part(joined(flat, moved(grid(1, 1, width=0.5), (2, 0, 0)))).density
    assert density.of_face[0] == 0
    assert density.middle == pytest.approx(2048 * np.sqrt(2))


def test_middle_of() -> None:
    assert middle_of(np.array([1.0, 5, 3]), np.array([1.0, 1, 1])) == 3
    assert middle_of(np.array([1.0, 5, np.nan]), np.array([1.0, 9, 99])) == 5
    assert np.isnan(middle_of(np.array([]), np.array([])))
