"""Flat tables of figures."""

import numpy as np
import pytest
from edits import moved, uvs_placed, without_uvs
from examined import examined
from shapes import cube, grid, polygons

from reviewbot.measure.summary import asset_measures, part_measures


def test_a_cube() -> None:
    figures = part_measures(examined(cube(side=2)).parts[0])
    assert {key: figures[key] for key in ("faces", "quads", "points", "edges", "euler")} == {
        "faces": 6,
        "quads": 6,
        "points": 8,
        "edges": 12,
        "euler": 2,
    }
    assert (figures["area"], figures["volume"], figures["width"]) == (24, 8, 2)
    assert (figures["shells"], figures["seam_length"], figures["density"]) == (1, 14, 256)
    assert (figures["stretch_l2"], figures["stretch_dirichlet"]) == (1, 4)


def test_the_asset_adds_its_parts_up() -> None:
    parts = [
        cube(),
        moved(uvs_placed(grid(2, 2), by=(1, 0)), (3, 0, 0)),
        moved(cube(name="b"), (6, 0, 0)),
    ]
    figures = asset_measures(examined(*parts))
    assert (figures["parts"], figures["faces"], figures["shells"]) == (3, 16, 3)
    assert (figures["area"], figures["uv_area"]) == (13, 1.75)
    assert (figures["stacked_shells"], figures["overlap_area"]) == (1, 0)
    assert (figures["tiles"], figures["tile_numbers"]) == (2, "1001, 1002")
    assert figures["tile_use"] == pytest.approx((0.375 + 1) / 2)
    assert figures["border_length"] == 4
    assert figures["density"] == pytest.approx(2048 * np.sqrt(1.75 / 13))


def test_figures_that_do_not_exist_are_none() -> None:
    figures = part_measures(examined(without_uvs(cube())).parts[0])
    for key in ("seam_length", "stretch_l2", "density", "crumbliness", "solidity"):
        assert figures[key] is None, key
    empty = part_measures(examined(polygons(np.empty((0, 3)), [])).parts[0])
    assert (empty["faces"], empty["area"], empty["width"]) == (0, 0, None)
    assert asset_measures(examined())["tile_use"] is None


def test_high_parts_have_no_figures_of_uvs() -> None:
    figures = part_measures(examined(cube(name="lid_high")).parts[0])
    assert "shells" not in figures
    assert asset_measures(examined(cube(name="lid_high")))["shells"] == 0
