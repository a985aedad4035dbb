"""Cages to be subdivided, for the tests."""

from __future__ import annotations

import numpy as np
from shapes import grid, polygons

from reviewbot.mesh import Part


def looped_cube(loop: float) -> Part:
    """A cube of side 2 with a support loop this far from every edge: nine quads a side."""
    stops = np.array([-1, -1 + loop, 1 - loop, 1])
    u, v = np.meshgrid(stops, stops)
    sheet = np.stack([u, v, np.ones_like(u)], axis=-1).reshape(-1, 3)
    index = np.arange(16).reshape(4, 4)
    quads = np.stack(
        [index[:-1, :-1], index[:-1, 1:], index[1:, 1:], index[1:, :-1]], axis=-1
    ).reshape(-1, 4)
    turns = [np.eye(3)[:, axes] for axes in ([0, 1, 2], [1, 2, 0], [2, 0, 1])]
    sides = [sheet @ turn for turn in turns] + [-(sheet @ turn) for turn in turns]
    faces = [(quads + 16 * k)[:, :: 1 if k < 3 else -1] for k in range(6)]
    return polygons(np.concatenate(sides), np.concatenate(faces).tolist(), name="looped")


def prism(sides: int, *, height: float = 2.0) -> Part:
    """An upright prism over a regular polygon of radius 1, its ends one face each."""
    turn = np.linspace(0, 2 * np.pi, sides, endpoint=False)
    ring = np.stack([np.cos(turn), 0 * turn, -np.sin(turn)], axis=1)
    points = np.concatenate([ring, ring + np.array([0, height, 0])])
    k = np.arange(sides)
    around = np.stack([k, (k + 1) % sides, (k + 1) % sides + sides, k + sides], axis=1)
    return polygons(points, [*around.tolist(), k[::-1].tolist(), (k + sides).tolist()])


def holed_sheet(count: int, large: int) -> Part:
    """A flat sheet of count x count quads, `large` x `large` of which, from (1, 1) on, are one."""
    sheet = grid(count, count)
    index = np.arange((count + 1) ** 2).reshape(count + 1, count + 1)
    last = 1 + large
    rim = [
        *index[1, 1:last],
        *index[1:last, last],
        *index[last, last:1:-1],
        *index[last:1:-1, 1],
    ]
    row, column = np.divmod(np.arange(count * count), count)
    inside = (row >= 1) & (row < last) & (column >= 1) & (column < last)
    small = sheet.corner_point.reshape(-1, 4)[~inside]
    return polygons(sheet.points, [[int(k) for k in rim], *small.tolist()], name="holed")
