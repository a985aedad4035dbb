"""Tubes with a cut, for the tests."""

from __future__ import annotations

import numpy as np
from shapes import polygons

from reviewbot.mesh import Part


def square_tube(cut: int, *, height: float = 8.0, rows: int = 16, name: str = "tube") -> Part:
    """An upright open tube of a square's four sides, each two faces wide, side length 1, unrolled
    in one piece and cut at one of its eight lines: the odd ones run along corners."""
    ring = np.array([(0, -1), (1, -1), (1, 0), (1, 1), (0, 1), (-1, 1), (-1, 0), (-1, -1)]) / 2
    level = np.linspace(0, height, rows + 1)
    points = [(x, y, -z) for y in level for x, z in ring]
    start = np.arange(rows)[:, None] * 8 + np.arange(8)
    beside = np.arange(rows)[:, None] * 8 + (np.arange(8) + 1) % 8
    faces = np.stack([start, beside, beside + 8, start + 8], axis=-1).reshape(-1, 4)
    u, v = np.meshgrid(np.arange(9) / 8, level / height)
    column = np.arange(rows)[:, None] * 9 + (np.arange(8) - cut) % 8
    uv_faces = np.stack([column, column + 1, column + 10, column + 9], axis=-1).reshape(-1, 4)
    uvs = np.stack([u, v], axis=-1).reshape(-1, 2)
    return polygons(points, faces.tolist(), uvs=uvs, face_uvs=uv_faces.tolist(), name=name)
