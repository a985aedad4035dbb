"""Polygon edges over a close view, drawn from the samples: what is hidden stays hidden."""

from __future__ import annotations

import numpy as np

from reviewbot.geometry.rows import rows_at
from reviewbot.render.samples import Floats32
from reviewbot.render.visibility import ViewBuffer


def wire_cover(view: ViewBuffer, *, width: float = 1.4) -> Floats32:
    """(S,) float32 how far each sample lies on a polygon's edge, `width` pixels wide.

    Diagonals that only cut polygons into triangles are left out. Barycentric coordinates are
    linear in the picture, so distances to the edges are exact.
    """
    samples = view.samples
    drawn = rows_at(view.scene.is_drawn_edge, samples.triangle)
    nearest = np.full(len(samples.triangle), np.inf, dtype=np.float32)
    footprint = samples.footprint
    for k in range(3):
        slope = np.hypot(footprint[:, 0, k], footprint[:, 1, k])
        distance = samples.bary[:, k] / np.maximum(slope, np.float32(1e-9))
        nearest = np.where(drawn[:, k], np.minimum(nearest, distance), nearest)
    # Each side of an edge draws half the line.
    return np.asarray(np.clip(width / 2 + 0.5 - nearest, 0, 1), dtype=np.float32)


def with_wires(view: ViewBuffer, light: Floats32, *, strength: float = 0.55) -> Floats32:
    """(S, 3) light with the edges drawn darker over it."""
    cover = wire_cover(view) * np.float32(strength)
    return np.asarray(light * (1 - cover)[:, None], dtype=np.float32)
