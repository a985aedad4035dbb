"""More tiles than planned."""

from edits import moved, uvs_placed
from found import found, toml
from shapes import cube, grid, sphere

from reviewbot.checks.tile_budget import RULE


def test_silent() -> None:
    assert found(RULE, cube(), uvs_placed(sphere(8, 4), scale=0.4, by=(0.5, 0.5))) == []
    two = (cube(), uvs_placed(sphere(8, 4), by=(1, 0)))
    assert found(RULE, *two, settings=toml("[texture]\ntiles = 2")) == []


def test_silent_on_copies_set_aside_and_on_overhangs() -> None:
    assert found(RULE, cube(), uvs_placed(moved(cube(name="b"), (3, 0, 0)), by=(1, 0))) == []
    assert found(RULE, cube(), uvs_placed(grid(2, 2), by=(0.5, 0))) == []


def test_fires() -> None:
    (finding,) = found(RULE, cube(), uvs_placed(sphere(8, 4), by=(3, 2)))
    assert (finding.severity, finding.value, finding.limit) == ("look", 2, 1)
    assert "(1001, 1024), planned is 1" in finding.message
