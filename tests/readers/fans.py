"""Polygons as fans of triangles, one way to hand them to a library that knows only triangles."""

from __future__ import annotations

import numpy as np

from reviewbot.mesh import Part


def fan_corners(part: Part) -> np.ndarray:
    """(N, 3) corners of the triangles fanned from each face's first corner."""
    triangles = [
        (start, start + k, start + k + 1)
        for start, end in zip(part.face_start[:-1], part.face_start[1:], strict=True)
        for k in range(1, end - start - 1)
    ]
    return np.array(triangles, dtype=int).reshape(-1, 3)


def fan_points(part: Part) -> np.ndarray:
    """(N, 3, 3) points of those triangles."""
    return part.points[part.corner_point[fan_corners(part)]]
