"""Both back ends see the same; where they do not, an edge runs between."""

from __future__ import annotations

import numpy as np
import pytest
from shapes import grid, model, sphere, torus

from reviewbot.errors import RendererUnavailableError
from reviewbot.geometry.rays import rays_available
from reviewbot.mesh import Model
from reviewbot.render import backends
from reviewbot.render.backends import choose_renderer, open_backend
from reviewbot.render.camera import bottom_view, framing, projected, turntable
from reviewbot.render.gl_backend import gl_unavailable_because
from reviewbot.render.samples import Scene
from reviewbot.render.scene import build_scene

needs_both = pytest.mark.skipif(
    not rays_available() or gl_unavailable_because() is not None,
    reason=f"needs embreex and EGL: {gl_unavailable_because()}",
)
SIZE = 512
SHAPES = {
    "sphere of 5k triangles": (model(sphere(50, 51)), 0),
    "torus of 16k": (model(torus(128, 64)), 0),
    "open sheet of 12k, from below": (model(grid(77, 77)), 1),
}


def distance_to_edges(
    scene: Scene, camera: object, triangle: np.ndarray, pixel: np.ndarray
) -> np.ndarray:
    """How far pixels' middles lie from the nearest side of a triangle, in pixels."""
    ring = projected(camera, scene.points[scene.triangles[triangle].reshape(-1)], SIZE)[:, :2]
    ring = ring.reshape(-1, 3, 2)
    place = np.stack([pixel % SIZE + 0.5, pixel // SIZE + 0.5], axis=1)
    nearest = np.full(len(pixel), np.inf)
    for k in range(3):
        start, along = ring[:, k], ring[:, (k + 1) % 3] - ring[:, k]
        share = np.einsum("ij,ij->i", place - start, along) / np.einsum("ij,ij->i", along, along)
        foot = start + np.clip(share, 0, 1)[:, None] * along
        nearest = np.minimum(nearest, np.linalg.norm(place - foot, axis=1))
    return nearest


@needs_both
@pytest.mark.parametrize("name", SHAPES)
def test_both_back_ends_see_the_same_triangles(name: str) -> None:
    """At least 99.9 % of the covered pixels; all others lie on an edge."""
    shape, below = SHAPES[name]
    scene = build_scene(shape)
    frame = framing(scene)
    cameras = [bottom_view(frame)] if below else list(turntable(frame, 4))
    ray, gl = open_backend("ray", scene), open_backend("gl", scene)
    same = covered = 0
    for camera in cameras:
        by_ray, by_gl = (
            b.middle_triangles(camera, np.ones((SIZE, SIZE), dtype=bool)) for b in (ray, gl)
        )
        both = (by_ray >= 0) | (by_gl >= 0)
        covered += int(both.sum())
        same += int((by_ray == by_gl)[both].sum())
        apart = np.flatnonzero(by_ray != by_gl)
        off = np.full(len(apart), np.inf)
        for found in (by_ray, by_gl):
            hit = found[apart] >= 0
            edges = distance_to_edges(scene, camera, found[apart][hit], apart[hit])
            off[hit] = np.minimum(off[hit], edges)
        assert off.max(initial=0) < 0.02
    ray.close()
    gl.close()
    assert same / covered >= 0.999


@needs_both
def test_quarters_are_the_same_too() -> None:
    scene = build_scene(model(sphere(60, 31)))
    camera = turntable(framing(scene), 5)[1]
    pixels = np.flatnonzero(np.arange(SIZE * SIZE) % 97 == 0).astype(np.int32)
    ray, gl = open_backend("ray", scene), open_backend("gl", scene)
    by_ray, by_gl = (b.quarter_triangles(camera, SIZE, pixels) for b in (ray, gl))
    ray.close()
    gl.close()
    assert by_ray.shape == (len(pixels), 4)
    assert (by_ray == by_gl).mean() > 0.999


@pytest.mark.parametrize("renderer", ["ray", "gl"])
@pytest.mark.parametrize("shape", [model(), model(grid(0, 0))], ids=["no part", "empty part"])
def test_nothing_is_seen_of_nothing(renderer: str, shape: Model) -> None:
    if renderer == "ray" and not rays_available():
        pytest.skip("embreex is missing")
    if renderer == "gl" and gl_unavailable_because():
        pytest.skip(str(gl_unavailable_because()))
    scene = build_scene(shape)
    backend = open_backend(renderer, scene)
    camera = turntable(framing(scene), 4)[0]
    assert (backend.middle_triangles(camera, np.ones((16, 16), dtype=bool)) == -1).all()
    assert (backend.quarter_triangles(camera, 16, np.array([3, 4])) == -1).all()
    backend.close()


def test_a_missing_back_end_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(backends, "rays_available", lambda: False)
    monkeypatch.setattr(backends, "gl_unavailable_because", lambda: "no EGL here")
    with pytest.raises(RendererUnavailableError, match="embreex"):
        choose_renderer("ray")
    for wanted in ("gl", "auto"):
        with pytest.raises(RendererUnavailableError, match="no EGL here"):
            choose_renderer(wanted)


def test_auto_takes_what_is_there(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(backends, "gl_unavailable_because", lambda: None)
    monkeypatch.setattr(backends, "rays_available", lambda: True)
    assert choose_renderer("auto") == "ray"
    monkeypatch.setattr(backends, "rays_available", lambda: False)
    assert choose_renderer("auto") == "gl"
