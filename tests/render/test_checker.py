"""The checker is averaged exactly, and its pennants tell how the UVs lie."""

from __future__ import annotations

import numpy as np
import pytest
from render_shapes import bare, finer, with_uvs
from shapes import grid, model, sphere

from reviewbot.mesh import Part
from reviewbot.render.camera import bottom_view, framing, top_view, turntable
from reviewbot.render.checker import (
    PENNANT,
    board_darkness,
    cells_for,
    checker_light,
    filter_width,
    is_mirrored,
    uv_footprints,
)
from reviewbot.render.colours import light_of
from reviewbot.render.scene import build_scene
from reviewbot.render.visibility import ViewBuffer


def drawn(view: ViewBuffer, cells: float) -> np.ndarray:
    """The board without any shading of the form."""
    light = checker_light(view, np.ones(len(view.samples.pixel), np.float32), cells=cells)
    assert np.isfinite(light).all()
    return light


def test_the_box_filter_is_the_mean_of_many_points() -> None:
    """Against 200 x 200 points in each box, of sizes from a tenth of a cell to several."""
    rng = np.random.default_rng(2)
    place = rng.uniform(-6, 6, (60, 2)).astype(np.float32)
    width = rng.uniform(0.1, 4, (60, 2)).astype(np.float32)
    steps = (np.arange(200) + 0.5) / 200 - 0.5
    for at, size, found in zip(place, width, board_darkness(place, width), strict=True):
        u, v = np.meshgrid(*(at[k] + size[k] * steps for k in (0, 1)))
        dark = (np.floor(u) + np.floor(v)) % 2 == 1
        assert found == pytest.approx(dark.mean(), abs=0.01)


def test_pixels_are_the_mean_of_their_footprint(see) -> None:
    """A sphere with 48 cells at 64 pixels, against the mean of the same view at 512."""
    scene = build_scene(model(sphere(64, 33)))
    camera = turntable(framing(scene), 4)[0]
    coarse, fine = see(scene, camera, 64), see(scene, finer(camera, 64, 512), 512)

    def darkness(view: ViewBuffer, size: int) -> np.ndarray:
        mapped, place, footprint = uv_footprints(view)
        dark = board_darkness(place * 48, filter_width(footprint * 48))
        picture = np.bincount(view.samples.pixel, dark * view.samples.weight, size * size)
        share = np.bincount(view.samples.pixel, view.samples.weight, size * size)
        assert mapped.all()
        return np.where(share > 0.999, picture, np.nan).reshape(size, size)

    expected = darkness(fine, 512).reshape(64, 8, 64, 8).mean(axis=(1, 3))
    off = np.abs(darkness(coarse, 64) - expected)
    assert np.nanmean(off) < 0.025
    assert np.nanquantile(off, 0.99) < 0.25


def test_cells_too_fine_to_see_fade_to_the_mean(see) -> None:
    view = see(*_flat_sheet(grid(8, 8)), 64)
    light = drawn(view, 4000.0)
    whole = view.samples.weight == 1
    assert light[whole].std(axis=0).max() < 0.02


def _flat_sheet(part: Part) -> tuple:
    scene = build_scene(model(part))
    return scene, top_view(framing(scene))


def test_unmapped_faces_are_hatched_grey(see) -> None:
    view = see(*_flat_sheet(bare(grid(2, 2))), 96)
    light = drawn(view, 8.0)
    np.testing.assert_allclose(light[:, 0], light[:, 2], atol=1e-6)
    assert len(np.unique(light[:, 0].round(4))) == 2


@pytest.mark.parametrize("seen_from_above", [True, False])
def test_mirrored_uvs_are_told_from_plain_ones(see, seen_from_above: bool) -> None:
    for uvs, expected in ((grid(2, 2).uvs, False), (grid(2, 2).uvs * [-1, 1] + [1, 0], True)):
        scene = build_scene(model(with_uvs(grid(2, 2), uvs)))
        frame = framing(scene)
        camera = top_view(frame) if seen_from_above else bottom_view(frame)
        view = see(scene, camera, 48)
        _, _, footprint = uv_footprints(view)
        assert (is_mirrored(view, footprint) == expected).all()


def pennant_columns(view: ViewBuffer) -> np.ndarray:
    """Mean column of pole-like and of flag-like pennant pixels, relative to their cell's middle."""
    light = drawn(view, 2.0)
    blue = np.abs(light - light_of(PENNANT)).max(axis=1) < 0.02
    mapped, place, _ = uv_footprints(view)
    assert mapped.all()
    return place[blue] * 2 % 1


def test_pennants_fly_along_u_with_their_pole_along_v(see) -> None:
    u, v = pennant_columns(see(*_flat_sheet(grid(1, 1)), 256)).T
    assert len(u) > 100
    assert u.min() < 0.35
    assert u.max() > 0.6
    tip = v[u > 0.6]
    assert np.ptp(tip) < 0.25
    assert np.ptp(v[u < 0.37]) > 0.55


def test_mirrored_pennants_fly_backwards(see) -> None:
    """In the picture the flag's point lies left of the pole where U runs to the left."""
    for flip, tip_is_right in ((1, True), (-1, False)):
        uvs = grid(1, 1).uvs * [flip, 1] + [flip < 0, 0]
        view = see(*_flat_sheet(with_uvs(grid(1, 1), uvs)), 256)
        _, place, _ = uv_footprints(view)
        cell = place * 2
        inside = (np.floor(cell) == 0).all(axis=1)
        column = view.samples.pixel % 256
        tip = column[inside & (cell[:, 0] % 1 > 0.7)].mean()
        pole = column[inside & (cell[:, 0] % 1 < 0.4)].mean()
        assert (tip > pole) == tip_is_right


def test_the_number_of_cells_follows_what_is_seen(see) -> None:
    scene = build_scene(model(grid(4, 4)))
    view = see(scene, top_view(framing(scene)), 256)
    cells = cells_for([view], texture_size=2048, pixels=16)
    assert cells == 8  # the sheet is 256 / 1.06 / sqrt(2) = 171 pixels wide: 8 cells of 21
    small = build_scene(model(with_uvs(grid(4, 4), grid(4, 4).uvs / 8)))
    near = see(small, top_view(framing(small)), 256)
    assert cells_for([near], texture_size=2048, pixels=16) == 64
    assert cells_for([], texture_size=2048) == 16
