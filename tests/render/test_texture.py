"""Base colour pictures are averaged exactly over what a pixel covers, and lie where UVs say."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image
from render_shapes import bare, finer
from shapes import grid, model, sphere

from reviewbot.render.camera import framing, top_view, turntable
from reviewbot.render.colours import light_of, linear_from_srgb
from reviewbot.render.scene import build_scene
from reviewbot.render.texture import (
    NAMES_NONE,
    NOT_THERE,
    Textured,
    box_means,
    texture_light,
    texture_sums,
)
from reviewbot.render.visibility import ViewBuffer

RNG = np.random.default_rng(5)


def noise(height: int, width: int) -> np.ndarray:
    return RNG.integers(0, 256, (height, width, 3), dtype=np.uint8)


def drawn(view: ViewBuffer, pixels: np.ndarray, number: int = 0) -> np.ndarray:
    """(S, 3) the picture on every triangle, without any shading of the form."""
    of_triangle = np.full(len(view.scene.triangles), number, np.int32)
    textured = Textured(pictures=(texture_sums(pixels),), of_triangle=of_triangle)
    light = texture_light(view, np.ones(len(view.samples.pixel), np.float32), textured)
    assert np.isfinite(light).all()
    return light


def test_boxes_of_whole_texels_are_pillows_box_filter() -> None:
    """Each block of 4 x 6 texels against `Image.resize` with `Resampling.BOX` of Pillow."""
    pixels = noise(24, 36)
    light = linear_from_srgb(pixels)
    sums = texture_sums(pixels)
    u, v = np.meshgrid((np.arange(6) + 0.5) / 6, 1 - (np.arange(6) + 0.5) / 6)
    place = np.stack([u.ravel(), v.ravel()], axis=1).astype(np.float32)
    found = box_means(sums, place, np.full_like(place, 1 / 6)).reshape(6, 6, 3)
    for k in range(3):
        band = Image.fromarray(light[..., k].astype(np.float32))
        expected = np.asarray(band.resize((6, 6), Image.Resampling.BOX))
        assert found[..., k] == pytest.approx(expected, abs=1e-5)


def test_boxes_anywhere_are_the_mean_of_many_points() -> None:
    """Boxes from a tenth of a texel to several tiles, over borders of tiles too."""
    pixels = noise(5, 7)
    light, sums = linear_from_srgb(pixels[::-1]), texture_sums(pixels)
    place = RNG.uniform(-2, 3, (80, 2)).astype(np.float32)
    width = np.exp(RNG.uniform(-4, 1, (80, 2))).astype(np.float32)
    steps = (np.arange(400) + 0.5) / 400 - 0.5
    for at, size, found in zip(place, width, box_means(sums, place, width), strict=True):
        column = np.floor((at[0] + size[0] * steps) * 7).astype(int) % 7
        row = np.floor((at[1] + size[1] * steps) * 5).astype(int) % 5
        assert found == pytest.approx(light[np.ix_(row, column)].mean(axis=(0, 1)), abs=0.02)


def test_the_whole_picture_is_its_mean_and_a_point_its_texel() -> None:
    pixels = noise(8, 8)
    sums = texture_sums(pixels)
    one = np.array([[0.3, 0.7]], np.float32)
    everything = box_means(sums, one, np.ones((1, 2), np.float32))[0]
    assert everything == pytest.approx(linear_from_srgb(pixels).mean(axis=(0, 1)), abs=1e-5)
    texel = box_means(sums, one, np.full((1, 2), 1e-3, np.float32))[0]
    assert texel == pytest.approx(linear_from_srgb(pixels[8 - 1 - 5, 2]), abs=1e-4)


def test_the_first_row_of_a_picture_lies_at_the_top_of_the_tile(see) -> None:
    """V runs upwards here, as in OBJ and USD; glTF's, which runs down, is turned at reading."""
    pixels = np.zeros((2, 2, 3), np.uint8)
    pixels[0, 1] = 255  # top right
    scene = build_scene(model(grid(1, 1)))
    view = see(scene, top_view(framing(scene)), 64)
    light = drawn(view, pixels)[:, 0]
    samples = view.samples
    uv = (scene.uvs[scene.uv[samples.triangle]] * samples.bary[..., None]).sum(axis=1)
    inner = (np.abs(uv - 0.5) > 0.05).all(axis=1)
    assert ((light > 0.5) == (uv > 0.5).all(axis=1))[inner].all()
    assert (light > 0.5)[inner].any()


def test_pixels_are_the_mean_of_what_they_cover(see) -> None:
    """A sphere at 64 pixels with 256 texels round it, against the mean of the view at 512."""
    scene, pixels = build_scene(model(sphere(64, 33))), noise(256, 256)
    camera = turntable(framing(scene), 4)[0]

    def picture(view: ViewBuffer, size: int) -> np.ndarray:
        samples, light = view.samples, drawn(view, pixels)[:, 1]
        total = np.bincount(samples.pixel, light * samples.weight, size * size)
        share = np.bincount(samples.pixel, samples.weight, size * size)
        return np.where(share > 0.999, total, np.nan).reshape(size, size)

    coarse = picture(see(scene, camera, 64), 64)
    fine = picture(see(scene, finer(camera, 64, 512), 512), 512)
    off = np.abs(coarse - fine.reshape(64, 8, 64, 8).mean(axis=(1, 3)))
    assert np.nanmedian(off) < 0.03
    assert np.nanmean(off) < 0.05


def test_what_has_no_picture_is_told_apart(see) -> None:
    scene = build_scene(model(grid(2, 2)))
    view = see(scene, top_view(framing(scene)), 64)
    pale = drawn(view, noise(2, 2), NAMES_NONE)
    assert len(np.unique(pale, axis=0)) == 1
    crossed = drawn(view, noise(2, 2), NOT_THERE)
    assert len(np.unique(crossed, axis=0)) == 2
    assert crossed.max() < pale.min()
    unmapped = build_scene(model(bare(grid(2, 2))))
    lacking = drawn(see(unmapped, top_view(framing(unmapped)), 64), noise(2, 2))
    assert lacking.max() == pytest.approx(light_of((176, 176, 176)).max())
