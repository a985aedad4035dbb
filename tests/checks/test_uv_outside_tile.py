"""UVs outside their tile."""

import pytest
from edits import moved, uvs_placed, without_uvs
from found import found
from shapes import cube, grid, joined, sphere

from reviewbot.checks.uv_outside_tile import RULE


@pytest.mark.parametrize("by", [(0, 0), (3, 0), (9, 4), (1e-6, -1e-6)])
def test_silent_in_a_tile_with_a_number(by) -> None:
    assert found(RULE, uvs_placed(grid(3, 3), by=by)) == []
    assert found(RULE, without_uvs(cube()), sphere(8, 4)) == []


@pytest.mark.parametrize("column", [-1, 1, 10])
def test_silent_on_copies_set_aside_by_whole_tiles(column: int) -> None:
    """So that a bake sees one of them only; common practice, no source."""
    aside = uvs_placed(moved(cube(), (3, 0, 0)), by=(column, 0), name="aside")
    assert found(RULE, cube(), aside) == []


def test_fires_across_a_border() -> None:
    part = joined(cube(), moved(uvs_placed(cube(), by=(0.5, 0)), (3, 0, 0)))
    (finding,) = found(RULE, part)
    assert (finding.severity, finding.count, finding.value) == ("look", 1, pytest.approx(0.5))
    assert finding.message.startswith("In the UVs 1 shell lies across the border of a tile")
    assert finding.at[0] > 2


@pytest.mark.parametrize("by", [(-1, 0), (0, -2), (10, 0)])
def test_fires_outside_all_tiles(by) -> None:
    (finding,) = found(RULE, uvs_placed(cube(), by=by))
    assert "outside the tiles" in finding.message
