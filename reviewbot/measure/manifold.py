"""Where a part is no manifold surface: edges of three or more sides, points of several fans."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reviewbot.geometry.groups import joined_labels
from reviewbot.geometry.polygons import next_corners
from reviewbot.measure.joints import Joints
from reviewbot.measure.surface import Surface
from reviewbot.measure.twins import Twins
from reviewbot.mesh import IndexArray, Part


@dataclass(frozen=True, slots=True, kw_only=True)
class Manifold:
    """By index; faces that lie on another one are left out.

    edges   (K,) int32 into the surface's edges: more than two sides lie on each
    points  (N,) int32 points whose faces do not all hang together by edges at the point
            (umbrella test), as where two cones meet tip to tip
    """

    edges: IndexArray
    points: IndexArray


def measure_manifold(part: Part, surface: Surface, joints: Joints, twins: Twins) -> Manifold:
    """Where a part is not manifold; nothing for a part without faces."""
    return Manifold(edges=joints.crowded, points=_torn_points(part, surface, twins))


def _torn_points(part: Part, surface: Surface, twins: Twins) -> IndexArray:
    """Points whose corners fall into several groups, corners over one edge being joined."""
    edges, follow = surface.edges, next_corners(part.face_start)
    sides = edges.sides
    left, right = sides[:-1], sides[1:]
    same = edges.corner_edge[left] == edges.corner_edge[right]
    left, right = left[same], right[same]
    low_left, high_left = _ends(left, edges.forward, follow)
    low_right, high_right = _ends(right, edges.forward, follow)
    corners = len(part.corner_point)
    group = joined_labels(
        corners,
        np.concatenate([low_left, high_left]),
        np.concatenate([low_right, high_right]),
    )
    kept = np.repeat(~twins.left_out, np.diff(part.face_start))
    point, group = part.corner_point[kept], group[kept]
    one_of_them = np.full(len(surface.points), -1, dtype=np.int32)
    one_of_them[point] = group
    return np.unique(point[one_of_them[point] != group])


def _ends(sides: IndexArray, forward: np.ndarray, follow: IndexArray) -> tuple[IndexArray, ...]:
    """The corners at the lower and at the higher end of each side's edge."""
    run = forward[sides]
    return np.where(run, sides, follow[sides]), np.where(run, follow[sides], sides)
