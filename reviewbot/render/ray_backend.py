"""Seeing by rays, through Embree: runs on any processor, needs no driver."""

from __future__ import annotations

from typing import Literal

import numpy as np

from reviewbot.geometry.rays import shared_rays
from reviewbot.mesh import BoolArray, FloatArray, IndexArray
from reviewbot.render.camera import Camera, picture_plane, projected, seen_box
from reviewbot.render.samples import Floats32, Scene

_QUARTERS = np.array([(0.25, 0.25), (0.75, 0.25), (0.25, 0.75), (0.75, 0.75)], dtype=np.float32)


class RayBackend:
    """Rays parallel to the camera's axis, one a sample; see `backends.Backend`."""

    name: Literal["ray"] = "ray"

    def __init__(self, scene: Scene) -> None:
        self._traced = scene.traced
        is_all = len(self._traced) == len(scene.triangles)
        self._named_alike = is_all or not len(self._traced)
        triangles = scene.triangles if is_all else scene.triangles[self._traced]
        # One thread a view: views run side by side.
        self._rays = shared_rays(scene.points, triangles, workers=1)
        self._box = _box_corners(scene)

    def middle_triangles(self, camera: Camera, wanted: BoolArray) -> IndexArray:
        size = len(wanted)
        rows, columns = self._occupied(camera, size)
        row, column = np.nonzero(wanted[rows, columns])
        row += rows.start
        column += columns.start
        half = np.float32(0.5)
        x, y = column.astype(np.float32) + half, row.astype(np.float32) + half
        seen = np.full((size, size), -1, dtype=np.int32)
        seen[row, column] = self._seen(camera, x, y, size)
        return seen.reshape(-1)

    def quarter_triangles(self, camera: Camera, size: int, pixels: IndexArray) -> IndexArray:
        x = (pixels % size).astype(np.float32)[:, None] + _QUARTERS[:, 0]
        y = (pixels // size).astype(np.float32)[:, None] + _QUARTERS[:, 1]
        return self._seen(camera, x.reshape(-1), y.reshape(-1), size).reshape(-1, 4)

    def close(self) -> None:
        del self._rays

    def _seen(self, camera: Camera, x: Floats32, y: Floats32, size: int) -> IndexArray:
        corner, across, down = picture_plane(camera, size)
        found = self._rays.parallel_triangles(corner, np.stack([across, down]), x, y)
        if self._named_alike:
            return found
        return np.where(found >= 0, self._traced[found], np.int32(-1))

    def _occupied(self, camera: Camera, size: int) -> tuple[slice, slice]:
        """Rows and columns of pixels that the scene's box reaches into."""
        box = projected(camera, self._box, size)[:, :2]
        low = np.clip(np.floor(box.min(axis=0)) - 1, 0, size - 1).astype(np.int32)
        high = np.clip(np.ceil(box.max(axis=0)) + 1, 1, size).astype(np.int32)
        return slice(int(low[1]), int(high[1])), slice(int(low[0]), int(high[0]))


def _box_corners(scene: Scene) -> FloatArray:
    box = seen_box(scene)
    low, high = np.zeros((2, 3)) if box is None else box
    choice = np.array([(i, j, k) for i in (0, 1) for j in (0, 1) for k in (0, 1)])
    return np.asarray(np.where(choice == 0, low, high), dtype=np.float64)
