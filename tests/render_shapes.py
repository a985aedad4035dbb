"""Small helpers for the tests of pictures."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from reviewbot.mesh import Part
from reviewbot.render.camera import GRID_SHIFT, Camera


def finer(camera: Camera, coarse: int, fine: int) -> Camera:
    """The camera whose picture of `fine` pixels lies exactly over one of `coarse`.

    A picture's grid is shifted by a fraction of its own pixels.
    """
    step = camera.span / coarse - camera.span / fine
    offset = GRID_SHIFT[0] * step * camera.axes[0] - GRID_SHIFT[1] * step * camera.axes[1]
    return replace(camera, centre=camera.centre + offset)


def moved(part: Part, *, by: tuple[float, float, float], name: str | None = None) -> Part:
    return Part(
        name=name or part.name,
        points=part.points + np.array(by),
        corner_point=part.corner_point,
        face_start=part.face_start,
        uvs=part.uvs,
        corner_uv=part.corner_uv,
    )


def with_uvs(part: Part, uvs: np.ndarray) -> Part:
    """The same form with other UVs, corner by corner as before."""
    return Part(
        name=part.name,
        points=part.points,
        corner_point=part.corner_point,
        face_start=part.face_start,
        uvs=uvs,
        corner_uv=part.corner_uv,
    )


def bare(part: Part) -> Part:
    """The same form without UVs."""
    return Part(
        name=part.name,
        points=part.points,
        corner_point=part.corner_point,
        face_start=part.face_start,
    )
