"""Edges of polygons are drawn where they lie, diagonals are not."""

from __future__ import annotations

import numpy as np
import pytest
from shapes import grid, model

from reviewbot.render.camera import framing, look, projected, top_view
from reviewbot.render.scene import build_scene
from reviewbot.render.wires import wire_cover, with_wires


@pytest.mark.parametrize("width", [1.0, 2.0, 4.0])
def test_lines_cover_their_length_times_their_width(see, width: float) -> None:
    """Three lines each way over a sheet of 2 x 2 quads; the outer ones are half cut off."""
    scene = build_scene(model(grid(2, 2)))
    camera = look(framing(scene), "", azimuth_degrees=17, elevation_degrees=90)
    view = see(scene, camera, 400)
    cover = wire_cover(view, width=width)
    corner = projected(camera, scene.points, 400)[:, :2]
    side = float(np.linalg.norm(corner[2] - corner[0]))
    covered = float((cover * view.samples.weight).sum())
    # A line within is seen from both sides, one on the rim from one: 2 x (1 + 2 / 2) whole lines.
    assert covered == pytest.approx(4 * side * width, rel=0.06)


def test_no_line_on_a_diagonal(see) -> None:
    scene = build_scene(model(grid(1, 1)))
    camera = top_view(framing(scene))
    view = see(scene, camera, 200)
    middle = projected(camera, scene.points.mean(axis=0)[None], 200)[0, :2]
    row, column = np.divmod(view.samples.pixel, 200)
    near = np.hypot(column + 0.5 - middle[0], row + 0.5 - middle[1]) < 20
    assert near.any()
    assert not wire_cover(view)[near].any()


def test_lines_darken_the_light_beneath(see) -> None:
    scene = build_scene(model(grid(3, 3)))
    view = see(scene, top_view(framing(scene)), 100)
    light = np.ones((len(view.samples.pixel), 3), dtype=np.float32)
    drawn = with_wires(view, light, strength=0.5)
    assert drawn.min() == pytest.approx(0.5)
    assert drawn.max() == 1.0
