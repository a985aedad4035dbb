"""How far two surfaces lie apart, one way: its mean, and its largest (Hausdorff) value."""

from __future__ import annotations

import numpy as np

from reviewbot.geometry.surface_distance import distance_to_surface, spread_over
from reviewbot.mesh import FloatArray


def one_way_distance(
    triangles: FloatArray, other: FloatArray, *, points: int
) -> tuple[float, float]:
    """Mean and largest distance from one surface to the nearest point of another.

    triangles, other  (T, 3, 3), (U, 3, 3) float64; those with nan are passed over
    points            about how many places are measured: spread evenly for the mean, and the
                      corners as well for the largest; the same ones whatever order they come in
    returns           nan where either surface is empty. The larger of both ways' largest is the
                      Hausdorff distance
    """
    triangles = triangles[np.isfinite(triangles).all(axis=(1, 2))]
    if not len(triangles) or not np.isfinite(other).all(axis=(1, 2)).any():
        return float("nan"), float("nan")
    even = _thinned(spread_over(triangles, points)[0], points)
    corners = _thinned(triangles.reshape(-1, 3), points)
    distance = distance_to_surface(np.concatenate([even, corners]), other)
    return float(distance[: len(even)].mean()), float(distance.max())


def _thinned(points: FloatArray, count: int) -> FloatArray:
    """At most `count` of many points, chosen by where they lie, not by their order."""
    if len(points) <= count:
        return points
    # The low digits of a coordinate along no special direction are as good as a throw of dice.
    lot = (points @ np.array([7548.77, 5698.4, 3247.18]) / (np.abs(points).max() or 1.0)) % 1.0
    return points[np.argpartition(lot, count)[:count]]
