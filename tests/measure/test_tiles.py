"""Tiles by number, and how much of each is used; unions by shapely."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from edits import moved, uvs_placed, without_uvs
from examined import examined
from hypothesis import given, settings
from hypothesis import strategies as st
from shapes import cube, grid

from reviewbot.measure.tiles import Tiles
from reviewbot.mesh import Part


def tiles_of(*parts: Part) -> Tiles:
    return examined(*parts).tiles


@pytest.mark.parametrize(
    ("column", "row", "number"),
    [(0, 0, 1001), (1, 0, 1002), (9, 0, 1010), (0, 1, 1011), (3, 2, 1024), (9, 9, 1100)],
)
def test_tiles_are_numbered_in_rows_of_ten(column: int, row: int, number: int) -> None:
    """1001 + u + 10 v, as OpenUSD's texture sets number them."""
    tiles = tiles_of(uvs_placed(cube(), by=(column, row)))
    assert [tile.number for tile in tiles.tiles] == [number]
    assert tiles.homes == (number,)
    assert tiles.tiles[0].used == pytest.approx(0.375)
    assert not tiles.crosses.any()


@pytest.mark.parametrize("by", [(-1, 0), (0, -1), (10, 0)])
def test_outside_the_ten_columns_there_is_no_number(by: tuple[int, int]) -> None:
    tiles = tiles_of(uvs_placed(cube(), by=by))
    assert [tile.number for tile in tiles.tiles] == [None]
    assert tiles.outside.tolist() == [True]
    assert tiles.homes == ()


def test_a_chart_over_a_border_is_on_both_tiles() -> None:
    tiles = tiles_of(uvs_placed(grid(3, 3), scale=0.5, by=(0.8, 0.2)))
    assert {tile.number: round(tile.used, 9) for tile in tiles.tiles} == {1001: 0.1, 1002: 0.15}
    assert tiles.crosses.tolist() == [True]
    assert tiles.homes == ()


def test_the_whole_tile_is_not_over_its_border() -> None:
    tiles = tiles_of(uvs_placed(grid(3, 3), by=(1e-6, 0)))
    assert (tiles.crosses.any(), len(tiles.tiles)) == (False, 1)
    assert tiles.tiles[0].used == pytest.approx(1)


def test_copies_are_counted_once_and_need_no_tile_of_their_own() -> None:
    stack = [moved(cube(name=f"rivet{k}"), (3 * k, 0, 0)) for k in range(4)]
    aside = uvs_placed(moved(cube(name="aside"), (0, 5, 0)), by=(1, 0))
    tiles = tiles_of(*stack, aside)
    assert [(tile.number, tile.used, tile.charts) for tile in tiles.tiles] == [(1001, 0.375, 1)]


@settings(max_examples=15, deadline=None)
@given(seed=st.integers(0, 10**6), count=st.integers(1, 9))
def test_what_is_covered_twice_counts_once(seed: int, count: int) -> None:
    random = np.random.default_rng(seed)
    parts, shapes = [], []
    for k in range(count):
        sheet = grid(2, 2, name=f"p{k}")
        matrix = random.normal(size=(2, 2)) * 0.3
        uvs = sheet.uvs @ matrix + random.uniform(0, 1, 2)
        parts.append(replace(moved(sheet, (2 * k, 0, 0)), uvs=uvs))
        shapes.append(shapely.Polygon(uvs[[0, 2, 8, 6]]))
    union = shapely.union_all(shapes).intersection(shapely.box(0, 0, 1, 1)).area
    used = {tile.number: tile.used for tile in tiles_of(*parts).tiles}
    assert used.get(1001, 0.0) == pytest.approx(union, abs=1e-5)


def test_nothing_is_used_without_uvs() -> None:
    assert tiles_of(without_uvs(cube())).tiles == ()
    assert tiles_of().tiles == ()


def test_a_repeating_texture_over_many_tiles_is_no_layout() -> None:
    tiles = tiles_of(uvs_placed(grid(2, 2), scale=500))
    assert tiles.tiles == ()
    assert tiles.crosses.tolist() == [True]
