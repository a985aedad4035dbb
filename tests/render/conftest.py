"""Fixtures for pictures: a back end that is here, a small prop, and its views."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import pytest
from render_shapes import moved
from shapes import cube, model, sphere, torus

from reviewbot.errors import RendererUnavailableError
from reviewbot.mesh import Model
from reviewbot.render.backends import Backend, choose_renderer, open_backend
from reviewbot.render.camera import Camera
from reviewbot.render.samples import Scene
from reviewbot.render.visibility import ViewBuffer, render_view


@pytest.fixture(scope="session")
def renderer() -> str:
    try:
        return choose_renderer("auto")
    except RendererUnavailableError as error:
        pytest.skip(str(error))


Look = Callable[[Scene, Camera, int], ViewBuffer]


@pytest.fixture
def see(renderer: str) -> Iterator[Look]:
    """One view of a scene; back ends are closed at the end."""
    opened: list[Backend] = []

    def one(scene: Scene, camera: Camera, size: int) -> ViewBuffer:
        opened.append(open_backend(renderer, scene))
        return render_view(scene, camera, opened[-1], size)

    yield one
    for backend in opened:
        backend.close()


@pytest.fixture
def prop() -> Model:
    """Three parts, one of which stands before another."""
    return model(
        cube(),
        moved(sphere(24, 13, radius=0.4), by=(0.0, 0.8, 0.0)),
        moved(torus(24, 10), by=(0.0, -0.2, 0.0)),
    )
