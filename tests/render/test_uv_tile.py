"""Tiles tell what is used, what overlaps, what is mirrored and what is too tight."""

from __future__ import annotations

import numpy as np
import pytest
from render_shapes import bare, moved, with_uvs
from shapely import box
from shapely.ops import unary_union
from shapes import cube, grid, model

from reviewbot.render.samples import Scene
from reviewbot.render.scene import build_scene
from reviewbot.render.uv_sheet import MovedShell, UvVersion, tile_name, uv_sheets
from reviewbot.render.uv_tile import (
    UvTile,
    borders_of,
    draw_tile,
    padding_of,
    tile_span,
    tiles_of,
    uv_faces,
)


def patches(*places: tuple[float, float, float, float]) -> Scene:
    """One square part a place: low u, low v, width, height in tiles."""
    parts = [
        moved(
            with_uvs(grid(2, 2), grid(2, 2).uvs * [w, h] + [u, v]), by=(2.0 * k, 0, 0), name=f"p{k}"
        )
        for k, (u, v, w, h) in enumerate(places)
    ]
    charts = [np.zeros(part.face_count, np.int32) for part in parts]
    return build_scene(model(*parts), charts=charts)


def drawn(scene: Scene, *, size: int) -> UvTile:
    return draw_tile(scene, uv_faces(scene), 0, 0, size=size)


def test_used_share_is_the_area_of_the_union() -> None:
    """Against shapely's union of the same rectangles, cut to the tile."""
    places = [(0.1, 0.1, 0.3, 0.4), (0.3, 0.3, 0.5, 0.5), (0.9, 0.0, 0.3, 0.2)]
    tile = drawn(patches(*places), size=400)
    whole = unary_union([box(u, v, u + w, v + h) for u, v, w, h in places])
    assert tile.used == pytest.approx(whole.intersection(box(0, 0, 1, 1)).area, abs=0.004)


def test_overlaps_are_where_two_lie() -> None:
    tile = drawn(patches((0.1, 0.1, 0.4, 0.4), (0.3, 0.3, 0.4, 0.4)), size=400)
    side = np.prod(tile.accidental.shape) * (1 / 1.06) ** 2
    assert tile.accidental.sum() / side == pytest.approx(0.04, abs=0.001)
    assert not tile.stacked.any()
    assert not tile.mirrored.any()


def test_copies_on_purpose_are_no_overlap_until_something_else_lies_there() -> None:
    scene = patches((0.1, 0.1, 0.3, 0.3), (0.1, 0.1, 0.3, 0.3), (0.6, 0.6, 0.2, 0.2))
    purpose = scene.part < 2
    tile = draw_tile(scene, uv_faces(scene), 0, 0, size=200, is_stacked=purpose)
    assert not tile.accidental.any()
    assert tile.stacked.sum() > 1000
    crowded = patches((0.1, 0.1, 0.3, 0.3), (0.1, 0.1, 0.3, 0.3), (0.2, 0.2, 0.3, 0.3))
    tile = draw_tile(crowded, uv_faces(crowded), 0, 0, size=200, is_stacked=crowded.part < 2)
    assert tile.accidental.any()
    assert not (tile.accidental & tile.stacked).any()


def test_neighbouring_faces_do_not_overlap_themselves() -> None:
    tile = drawn(build_scene(model(cube())), size=333)
    assert not tile.accidental.any()
    assert tile.used == pytest.approx(6 / 16, abs=0.003)  # six squares of a sixteenth


def test_mirrored_shells_are_told() -> None:
    scene = patches((0.5, 0.1, -0.3, 0.3), (0.6, 0.6, 0.3, 0.3))
    tile = draw_tile(scene, uv_faces(scene), 0, 0, size=200)
    np.testing.assert_array_equal(tile.mirrored, tile.part == 0)


def test_v_points_upwards() -> None:
    tile = drawn(patches((0.0, 0.75, 0.25, 0.25)), size=100)
    rows, columns = np.nonzero(tile.part >= 0)
    assert rows.max() < tile.part.shape[0] / 2
    assert columns.max() < tile.part.shape[1] / 2


def test_tiles_by_the_middle_of_each_triangle() -> None:
    scene = patches((0.2, 0.2, 0.5, 0.5), (1.2, 2.2, 0.5, 0.5), (-0.8, 0.1, 0.5, 0.5))
    faces = uv_faces(scene)
    assert tiles_of(faces) == [(-1, 0), (0, 0), (1, 2)]
    lone = faces.tile[scene.part[faces.triangle] == 1]
    assert {tuple(row) for row in lone.tolist()} == {(1, 2)}
    assert tiles_of(uv_faces(build_scene(model(bare(cube()))))) == []


def test_tile_numbers() -> None:
    """1001 + column + 10 row, ten columns (OpenUSD, UsdPreviewSurface; common in the trade)."""
    assert [tile_name(0, 0), tile_name(1, 2), tile_name(9, 0)] == ["1001", "1022", "1010"]
    assert tile_name(10, 0) == "(10, 0)"
    assert tile_name(-1, 0) == "(-1, 0)"


@pytest.mark.parametrize(("gap", "is_tight"), [(0.05, False), (0.012, True)])
def test_shells_closer_than_twice_their_padding_are_marked(gap: float, is_tight: bool) -> None:
    scene = patches((0.1, 0.1, 0.3, 0.3), (0.4 + gap, 0.1, 0.3, 0.3))
    padded, tight = padding_of(draw_tile(scene, uv_faces(scene), 0, 0, size=800), 0.01)
    assert padded.any()
    assert tight.any() == is_tight
    if is_tight:
        _, columns = np.nonzero(tight)
        low, high = tile_span(800)
        u = (columns + 0.5 - low) / (high - low)
        assert u.min() > 0.395
        assert u.max() < 0.42


def test_borders_run_round_each_shell() -> None:
    tile = drawn(patches((0.2, 0.2, 0.5, 0.5)), size=200)
    border = borders_of(tile)
    side = np.sqrt((tile.part >= 0).sum())
    assert border.sum() == pytest.approx(4 * side - 4, abs=6)


def test_one_sheet_a_tile_and_none_without_uvs() -> None:
    one = UvVersion(scene=patches((0.1, 0.1, 0.3, 0.3), (1.1, 0.1, 0.3, 0.3)))
    none = UvVersion(scene=build_scene(model(bare(cube()))))
    sheets = uv_sheets(one, none, title="UVs of x", texture_size=1024, padding=4, size=300)
    assert [s.name for s in sheets] == ["uv-sheet-1001", "uv-sheet-1002"]
    assert "before 9%, after 0%" in sheets[0].caption
    assert uv_sheets(none, None, title="", texture_size=1024, padding=4) == []


def test_broken_uvs_are_drawn_nowhere() -> None:
    uvs = grid(2, 2).uvs.copy()
    uvs[0] = np.nan
    uvs[1] = 1e30
    scene = build_scene(model(with_uvs(grid(2, 2), uvs)))
    assert 0.3 < drawn(scene, size=100).used < 0.8


def test_a_map_that_stayed_looks_as_if_drawn_twice() -> None:
    """Against a sheet with a shell that moved far off, for which both versions are drawn."""
    places = (0.1, 0.1, 0.3, 0.3), (0.3, 0.2, 0.4, 0.4)
    before, after = UvVersion(scene=patches(*places)), UvVersion(scene=patches(*places))
    far = MovedShell(before=(7.5, 0.5), after=(8.5, 0.5))
    once, twice = (
        uv_sheets(before, after, title="x", texture_size=1024, padding=4, size=300, moved=moves)
        for moves in ((), (far,))
    )
    assert once == twice


@pytest.mark.parametrize("kind", ["uvs", "stacked"])
def test_a_map_that_changed_is_drawn_anew(kind: str) -> None:
    same = (0.1, 0.1, 0.3, 0.3), (0.1, 0.1, 0.3, 0.3)
    before = UvVersion(scene=patches(*same))
    if kind == "uvs":
        after = UvVersion(scene=patches((0.2, 0.1, 0.3, 0.3), same[1]))
    else:
        after = UvVersion(scene=before.scene, is_stacked=np.ones(len(before.scene.uv), dtype=bool))
    stayed, changed = (
        uv_sheets(before, version, title="x", texture_size=1024, padding=4, size=300)[0].data
        for version in (before, after)
    )
    assert stayed != changed
