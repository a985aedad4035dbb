"""Seeing by OpenGL, without a display, through `pyrender` on EGL.

One context serves the whole process and is never closed (closing one kills the others), and all
calls run in one thread of its own. A process that has used it must not fork: start children afresh.
"""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from functools import cache
from typing import TYPE_CHECKING, Any, Literal, TypeVar

import numpy as np

from reviewbot.errors import RendererUnavailableError
from reviewbot.mesh import BoolArray, FloatArray, IndexArray
from reviewbot.render.camera import GRID_SHIFT, Camera, seen_box
from reviewbot.render.samples import Scene

if TYPE_CHECKING:
    from reviewbot.render.gl_renderer import IdRenderer

T = TypeVar("T")


@cache
def _thread() -> ThreadPoolExecutor:
    return ThreadPoolExecutor(1, thread_name_prefix="gl")


def _in_gl_thread(task: Callable[..., T], *arguments: Any) -> T:
    return _thread().submit(task, *arguments).result()


@cache
def _renderer() -> IdRenderer | str:
    """The process's renderer, or why there is none."""
    return _in_gl_thread(_start)


def _start() -> IdRenderer | str:
    try:
        # Loading the GL libraries takes most of a second and fails in its own ways where some are
        # missing (AttributeError, assertions): it waits until asked for, and any failure is told.
        from reviewbot.render.gl_renderer import IdRenderer  # noqa: PLC0415

        return IdRenderer()
    except Exception as error:
        return f"{type(error).__name__}: {error}".strip().split("\n")[0]


def gl_unavailable_because() -> str | None:
    """None where OpenGL can be used here without a display, else why not, in a line."""
    renderer = _renderer()
    return renderer if isinstance(renderer, str) else None


class GlBackend:
    """Each triangle drawn with its number as its colour; see `backends.Backend`."""

    name: Literal["gl"] = "gl"

    def __init__(self, scene: Scene) -> None:
        renderer = _renderer()
        if isinstance(renderer, str):
            raise RendererUnavailableError(f"OpenGL cannot be used on this machine: {renderer}")
        self._renderer = renderer
        self._traced = scene.traced
        triangles = scene.triangles[self._traced]
        box = seen_box(scene)
        low, high = np.zeros((2, 3)) if box is None else box
        self._middle = 0.5 * low + 0.5 * high
        self._scale = float(np.linalg.norm(0.5 * high - 0.5 * low)) or 1.0
        points = ((scene.points - self._middle) / self._scale).astype(np.float32)
        self._drawn = _in_gl_thread(renderer.upload, points, triangles) if len(triangles) else None

    def middle_triangles(self, camera: Camera, wanted: BoolArray) -> IndexArray:
        size = len(wanted)
        return self._seen(camera, size, size).reshape(-1)

    def quarter_triangles(self, camera: Camera, size: int, pixels: IndexArray) -> IndexArray:
        doubled = self._seen(camera, size, 2 * size)
        row, column = 2 * (pixels // size), 2 * (pixels % size)
        quarters = [doubled[row + i, column + j] for i in (0, 1) for j in (0, 1)]
        return np.stack(quarters, axis=1)

    def close(self) -> None:
        if self._drawn is not None:
            _in_gl_thread(self._renderer.release, self._drawn)
            self._drawn = None

    def _seen(self, camera: Camera, size: int, resolution: int) -> IndexArray:
        if self._drawn is None:
            return np.full((resolution, resolution), -1, dtype=np.int32)
        matrix = self._clip_matrix(camera, size)
        drawn = _in_gl_thread(self._renderer.draw, self._drawn, matrix, resolution)
        return np.where(drawn > 0, self._traced[drawn - 1], np.int32(-1))

    def _clip_matrix(self, camera: Camera, size: int) -> FloatArray:
        """(4, 4) from the scaled points to clip space, the picture's shift within."""
        matrix = np.eye(4)
        half = 0.5 * camera.span / self._scale
        offset = (self._middle - camera.centre) / self._scale
        matrix[:3, :3] = camera.axes
        matrix[:3, 3] = camera.axes @ offset
        matrix[:2] /= half
        matrix[0, 3] -= 2 * GRID_SHIFT[0] / size
        matrix[1, 3] += 2 * GRID_SHIFT[1] / size
        # The scaled scene lies within 1 of its middle, wherever the camera looks.
        matrix[2, :3] = -camera.axes[2]
        matrix[2, 3] = 0.0
        return matrix
