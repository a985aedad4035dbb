"""Lines are as wide as asked, dashed along their run, and dimmed where the form hides them."""

from __future__ import annotations

import numpy as np
import pytest
from shapes import cube, model, sphere

from reviewbot.render.camera import framing, look, turntable
from reviewbot.render.colours import light_of
from reviewbot.render.lines import LineStyle, draw_lines, nearest_depths, over, runs, stroke
from reviewbot.render.scene import build_scene

INK = LineStyle(colour=(0, 0, 0), width=3.0)


@pytest.mark.parametrize(("width", "within"), [(1.0, 0.3), (2.6, 0.1), (5.0, 0.1)])
def test_a_stroke_covers_its_length_times_its_width(width: float, within: float) -> None:
    along = np.arange(0, 60, 0.2)
    cover = stroke(20 + along * 0.8, 15 + along * 0.6, width, 80, 100)
    assert cover.sum() == pytest.approx(60 * width + np.pi * width**2 / 4, rel=within)
    assert cover.max() == pytest.approx(1.0)


def test_a_stroke_beyond_the_picture_is_cut_off() -> None:
    beyond = np.array([-100.0, -1.0, 5.0, 500.0])
    cover = stroke(beyond, beyond, 4.0, 10, 12)
    assert cover.shape == (10, 12)
    assert cover[5, 5] > 0
    assert not stroke(np.array([50.0]), np.array([50.0]), 3.0, 10, 10).any()
    assert not stroke(np.empty(0), np.empty(0), 3.0, 10, 10).any()


def test_over_mixes_light_by_cover() -> None:
    light = np.full((2, 2, 3), 0.5, dtype=np.float32)
    cover = np.array([[0, 0.5], [1, 0]], dtype=np.float32)
    mixed = over(light, cover, (255, 0, 0))
    np.testing.assert_allclose(mixed[0, 1], 0.25 + 0.5 * light_of((255, 0, 0)), atol=1e-6)
    np.testing.assert_allclose(mixed[1, 0], [1, 0, 0], atol=1e-6)
    np.testing.assert_array_equal(light, 0.5)


def test_hidden_stretches_are_dimmed(see) -> None:
    scene = build_scene(model(sphere(48, 25)))
    camera = look(framing(scene), "", azimuth_degrees=0, elevation_degrees=0)
    view = see(scene, camera, 200)
    front = np.array([[[-0.3, 0.3, 0.99], [0.3, 0.3, 0.99]]])
    behind = front * [1, -1, -1]
    white = np.ones((200, 200, 3), dtype=np.float32)
    darkest = [1 - draw_lines(white, view, line, INK).min() for line in (front, behind)]
    assert darkest == pytest.approx([1.0, INK.hidden_share], abs=1e-3)


def test_lines_on_the_surface_are_seen(see) -> None:
    """All 12 edges of a cube: the 9 that face us in full, the 3 behind dimmed."""
    box = build_scene(model(cube()))
    view = see(box, turntable(framing(box), 7)[1], 256)
    corners = np.array([(x, y, z) for x in (0, 1) for y in (0, 1) for z in (0, 1)]) - 0.5
    pairs = [(i, j) for i in range(8) for j in range(i) if (i ^ j).bit_count() == 1]
    white = np.ones((256, 256, 3), dtype=np.float32)
    shown = 0
    for pair in pairs:
        drawn = draw_lines(white, view, corners[list(pair)][None], INK)[..., 0]
        full, dim = (drawn < 0.2).sum(), ((drawn > 0.65) & (drawn < 0.8)).sum()
        shown += full > dim
    assert shown == 9


def test_runs_go_on_over_a_chain() -> None:
    places = np.cumsum([[0, 0, 0], [1, 0, 0], [0, 2, 0], [0, 0, 3]], axis=0).astype(float)
    chain = np.stack([places[:-1], places[1:]], axis=1)
    shuffled = chain[[2, 0, 1]][:, ::-1]
    found = np.sort(runs(shuffled), axis=1)
    lengths = np.abs(np.diff(found, axis=1))[:, 0]
    np.testing.assert_allclose(lengths, [3, 1, 2])
    assert found.min() == 0
    assert found.max() == 6


def test_runs_of_loops_and_single_points() -> None:
    square = np.array([(0, 0, 0), (1, 0, 0), (1, 1, 0), (0, 1, 0)], dtype=float)
    loop = np.stack([square, np.roll(square, -1, axis=0)], axis=1)
    assert runs(loop).max() == 2
    assert np.isfinite(runs(np.zeros((1, 2, 3)))).all()


def test_dashes_leave_their_gaps(see) -> None:
    scene = build_scene(model(cube()))
    view = see(scene, look(framing(scene), "", azimuth_degrees=0, elevation_degrees=0), 256)
    line = np.array([[[-0.5, 0, 0.5], [0.5, 0, 0.5]]])
    white = np.ones((256, 256, 3), dtype=np.float32)
    solid = (draw_lines(white, view, line, INK)[..., 0] < 0.5).any(axis=0).sum()
    style = LineStyle(colour=(0, 0, 0), width=3.0, dash=8.0, gap=8.0)
    inked = (draw_lines(white, view, line, style)[..., 0] < 0.5).any(axis=0)
    assert solid > 120
    assert (np.diff(inked.astype(int)) == 1).sum() == pytest.approx(solid / 16, abs=1.5)


def test_nearest_depth_of_each_pixel(see, prop) -> None:
    scene = build_scene(prop)
    view = see(scene, turntable(framing(scene), 5)[1], 100)
    depth = nearest_depths(view.samples)
    seen = np.zeros(100 * 100, dtype=bool)
    seen[view.samples.pixel] = True
    np.testing.assert_array_equal(np.isfinite(depth).reshape(-1), seen)
    assert (depth.reshape(-1)[view.samples.pixel] <= view.samples.depth).all()
