"""Collapsed UVs."""

from dataclasses import replace

import pytest
from edits import moved, uvs_placed
from found import found
from shapes import cube, grid, joined, sphere

from reviewbot.checks.uv_zero_area import RULE


@pytest.mark.parametrize("part", [cube(), sphere(12, 6), uvs_placed(grid(2, 2), scale=0.01)])
def test_silent(part) -> None:
    assert found(RULE, part) == []


def test_silent_where_the_face_itself_has_no_area() -> None:
    flat = replace(grid(1, 1), points=grid(1, 1).points * [0, 1, 1])
    assert found(RULE, joined(cube(), uvs_placed(flat, scale=(0, 1)))) == []


@pytest.mark.parametrize("scale", [0.0, (0, 1), (1e-7, 1)])
def test_a_stop_where_much_has_collapsed(scale) -> None:
    (finding,) = found(RULE, uvs_placed(grid(2, 2), scale=scale))
    assert (finding.severity, finding.count, finding.value) == ("stop", 4, pytest.approx(1))


def test_a_look_at_a_little() -> None:
    little = moved(uvs_placed(grid(1, 1, width=0.01), scale=(0, 1)), (3, 0, 0))
    (finding,) = found(RULE, joined(cube(), little))
    assert (finding.severity, finding.count) == ("look", 1)
    assert finding.at[0] > 2
