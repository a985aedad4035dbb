"""Directions all round, evenly spread."""

from __future__ import annotations

from functools import cache
from itertools import combinations

import numpy as np

from reviewbot.mesh import FloatArray

# The first so many axes are evenly spread by themselves.
LEVELS = (6, 16, 31)


@cache
def view_axes() -> FloatArray:
    """(31, 3) unit axes, each for two opposite directions; always the same, in the same order.

    The six through the corners of an icosahedron, the ten through its faces and the fifteen
    through its edges. Each lot, and so each level, is a spherical 5-design: means over its
    directions are exact for polynomials up to the fifth degree (Delsarte, Goethals & Seidel,
    "Spherical codes and designs", Geometriae Dedicata 6, 1977). All are turned away from the
    usual axes, along which the faces of a prop lie.
    """
    golden = (1 + 5**0.5) / 2
    half = [(0, 1, golden), (0, 1, -golden), (1, golden, 0), (1, -golden, 0), (golden, 0, 1)]
    half.append((-golden, 0, 1))
    corners = np.concatenate([half, np.negative(half)])
    adjacent = corners @ corners.T > 1e-9
    sums = [
        corners[list(chosen)].sum(axis=0)
        for size in (1, 3, 2)  # a corner, the middle of a face, the middle of an edge
        for chosen in combinations(range(12), size)
        if all(adjacent[pair] for pair in combinations(chosen, 2))
    ]
    tilted = np.array([direction for direction in sums if _comes_first(direction)]) @ _TILT.T
    axes = np.asarray(tilted / np.linalg.norm(tilted, axis=1, keepdims=True))
    axes.flags.writeable = False
    return axes


def axes_for(rays_an_axis: int, rays: int, *, at_least: int = LEVELS[0]) -> FloatArray:
    """(N, 3) the first axes: the highest level that takes no more than so many rays in all.

    at_least  the level that is given however many rays it takes
    """
    fitting = [level for level in LEVELS if level <= at_least or level * rays_an_axis <= rays]
    return view_axes()[: fitting[-1]]


def _comes_first(direction: FloatArray) -> bool:
    """Of two opposite directions, the one whose first coordinate that is not 0 is above 0."""
    lead = direction[np.abs(direction) > 1e-9]
    return bool(lead[0] > 0)


# A turn by no round angle about no round axis; it has no further meaning.
_TILT = np.linalg.qr(
    np.array([[0.7548, -0.4302, 0.3819], [0.5698, 0.6180, -0.7321], [0.3247, 0.6583, 0.5641]])
)[0]
