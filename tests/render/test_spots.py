"""Close-ups look at the place from where it is seen."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image
from render_shapes import moved
from shapes import cube, model, sphere

from reviewbot.render.backends import open_backend
from reviewbot.render.camera import bottom_view, framing, top_view, turntable
from reviewbot.render.clay import clay_light
from reviewbot.render.colours import VERMILLION
from reviewbot.render.compose import ViewImage, mask, picture
from reviewbot.render.scene import build_scene
from reviewbot.render.spots import Overview, Spot, best_camera, spot_jobs
from reviewbot.render.visibility import render_view


def all_round(scene) -> list:
    frame = framing(scene)
    return [(c, 1.0) for c in (*turntable(frame, 8), top_view(frame), bottom_view(frame))]


@pytest.mark.parametrize("axis", [0, 1, 2])
@pytest.mark.parametrize("side", [-1, 1])
def test_the_camera_stands_on_the_side_of_the_place(renderer: str, axis: int, side: int) -> None:
    scene = build_scene(model(cube()))
    at = np.array([0.11, 0.07, -0.13])
    at[axis] = 0.5 * side
    backend = open_backend(renderer, scene)
    camera = best_camera(scene, all_round(scene), backend, at)
    backend.close()
    assert camera is not None
    assert camera.axes[2][axis] * side > 0.6


def test_what_stands_before_a_place_is_looked_round(renderer: str) -> None:
    """A block before the cube's front: the place is seen from above or from aside."""
    scene = build_scene(model(cube(), moved(cube(side=0.8), by=(0, 0, 1.2), name="block")))
    backend = open_backend(renderer, scene)
    camera = best_camera(scene, all_round(scene), backend, (0.0, 0.45, 0.5))
    hidden = best_camera(scene, all_round(scene), backend, (0.0, 0.0, 0.0))
    backend.close()
    assert camera is not None
    assert camera.axes[2][2] < 0.99
    assert hidden is None


def spot_image(scene, renderer: str, spot: Spot) -> tuple[np.ndarray, str]:
    backend = open_backend(renderer, scene)
    overviews = []
    for camera, _ in all_round(scene):
        view = render_view(scene, camera, backend, 128)
        clay = picture(view.samples, clay_light(view))
        overviews.append(
            Overview(camera=camera, view=ViewImage(name="", clay=clay, mask=mask(view.samples)))
        )
    (job,) = spot_jobs(scene, framing(scene), backend, [spot], overviews=overviews, size=128)
    (made,) = job()
    backend.close()
    return np.asarray(Image.open(io.BytesIO(made.data))), made.caption


def test_the_place_is_ringed_in_both_panels(renderer: str) -> None:
    scene = build_scene(model(cube()))
    spot = Spot(at=(0.2, 0.2, 0.5), code="ngon", part="cube", message="One n-gon.")
    image, caption = spot_image(scene, renderer, spot)
    ringed = (np.abs(image.astype(int) - VERMILLION).sum(axis=2) < 30).any(axis=0)
    runs = np.flatnonzero(np.diff(np.flatnonzero(ringed)) > 20)  # gaps between the rings
    assert len(runs) >= 1
    assert caption == "One n-gon."


def test_the_edges_it_is_about_are_drawn(renderer: str) -> None:
    scene = build_scene(model(cube()))
    at = (0.2, 0.2, 0.5)
    line = np.array([[(-0.4, 0.2, 0.5), (0.4, 0.2, 0.5)]])
    bare = Spot(at=at, code="seam-exposed", part="cube", message="One run.")
    drawn = Spot(at=at, code="seam-exposed", part="cube", message="One run.", lines=line)
    inked = []
    for spot in (bare, drawn):
        image, _ = spot_image(scene, renderer, spot)
        inked.append((np.abs(image.astype(int) - VERMILLION).sum(axis=2) < 30).sum())
    assert inked[1] > 1.3 * inked[0]


def test_a_part_within_another_is_shown_alone(renderer: str) -> None:
    scene = build_scene(model(sphere(16, 9), cube(side=0.3, name="core")))
    spot = Spot(at=(0.05, 0.02, 0.15), code="ngon", part="core", message="Inside.")
    _, caption = spot_image(scene, renderer, spot)
    assert caption == "Inside. From near, other parts are left out."
    nowhere = Spot(at=(0.05, 0.02, 0.01), code="ngon", part="", message="Nowhere.")
    _, caption = spot_image(scene, renderer, nowhere)
    assert "hidden from all sides" in caption
