"""Mostly empty tiles."""

import pytest
from edits import uvs_placed, without_uvs
from found import found, toml
from shapes import cube, grid

from reviewbot.checks.tile_wasted import RULE


def test_silent() -> None:
    assert found(RULE, grid(3, 3)) == []
    assert found(RULE, without_uvs(cube())) == []
    assert found(RULE, cube(), settings=toml("[limits]\ntile_use = 0.3")) == []


def test_fires_on_each_tile_used_less() -> None:
    (finding,) = found(RULE, cube())
    assert (finding.severity, finding.count, finding.value) == ("note", 1, pytest.approx(0.375))
    small = uvs_placed(grid(3, 3, name="b"), scale=0.5, by=(2.1, 0.2))
    (finding,) = found(RULE, grid(3, 3), small)
    assert finding.message.startswith("Little of the texture is used (tile 1003: 25%)")


def test_silent_on_a_tile_that_is_only_reached_into() -> None:
    assert found(RULE, uvs_placed(grid(3, 3), scale=0.99, by=(0.4, 0))) == []
