"""Catmull–Clark subdivision: one step on polygons, and where points end up in the limit.

Rules inside: Catmull & Clark, "Recursively generated B-spline surfaces on arbitrary topological
meshes", Computer-Aided Design 10(6), 1978. Limit positions: Halstead, Kass & DeRose, "Efficient,
fair interpolation using Catmull-Clark surfaces", SIGGRAPH 1993. An open border, and an edge where
more than two sides meet, is a cubic B-spline curve of its own points (DeRose, Kass & Truong,
"Subdivision surfaces in character animation", SIGGRAPH 1998); a point where other than two such
edges meet stays where it is.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reviewbot.geometry.edges import Edges, edges_of
from reviewbot.geometry.polygons import (
    corner_faces,
    face_centres,
    next_corners,
    previous_corners,
)
from reviewbot.mesh import BoolArray, FloatArray, IndexArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """The points of one Catmull–Clark step over a cage of V points, E edges, F faces.

    corner_point, face_start  the cage's own
    edges          the cage's
    rim            (E,) bool edges treated as a curve: other than two sides
    vertex_points  (V, 3); a point without faces stays
    edge_points    (E, 3)
    face_points    (F, 3); nan for a face without corners
    """

    corner_point: IndexArray
    face_start: IndexArray
    edges: Edges
    rim: BoolArray
    vertex_points: FloatArray
    edge_points: FloatArray
    face_points: FloatArray


def step(points: FloatArray, corner_point: IndexArray, face_start: IndexArray) -> Step:
    """One step over a cage; nan where a coordinate that counts is nan.

    Points are the same by index: weld by value first (`geometry.weld`) where seams were exported
    as split points.
    """
    return step_over(points, corner_point, face_start, edges_of(corner_point, face_start))


def step_over(
    points: FloatArray, corner_point: IndexArray, face_start: IndexArray, edges: Edges
) -> Step:
    """The same where the cage's edges are known already."""
    rim = edges.side_count != 2
    face_points = face_centres(points, corner_point, face_start)
    middle = 0.5 * (points[edges.ends[:, 0]] + points[edges.ends[:, 1]])
    side_face = face_points[corner_faces(face_start)]
    inside = 0.5 * (middle + _mean(side_face, edges.corner_edge, len(middle)))
    return Step(
        corner_point=corner_point,
        face_start=face_start,
        edges=edges,
        rim=rim,
        vertex_points=_vertex_points(points, corner_point, edges, middle=middle, around=side_face),
        edge_points=np.where(rim[:, None], middle, inside),
        face_points=face_points,
    )


def refine(done: Step) -> tuple[FloatArray, IndexArray, IndexArray]:
    """The quads of one step: (points, corner_point, face_start).

    Points are the cage's first, then one an edge, then one a face; each corner of the cage
    becomes one quad, in the order of the corners, wound as its face is.
    """
    points = np.concatenate([done.vertex_points, done.edge_points, done.face_points])
    first_edge = len(done.vertex_points)
    first_face = first_edge + len(done.edge_points)
    quads = np.stack(
        [
            done.corner_point,
            first_edge + done.edges.corner_edge,
            first_face + corner_faces(done.face_start),
            first_edge + done.edges.corner_edge[previous_corners(done.face_start)],
        ],
        axis=1,
    ).astype(np.int32)
    return points, quads.reshape(-1), np.arange(0, quads.size + 1, 4, dtype=np.int32)


def vertex_limits(done: Step) -> FloatArray:
    """(V, 3) where the cage's points end up after endless steps.

    Inside, (n^2 v + 4 sum(e) + sum(f)) / (n (n + 5)) over the n edge and face points round each
    point after one step; on a rim, (e + 4 v + e') / 6. A corner of the rim, and a point without
    faces, stays.
    """
    count = len(done.vertex_points)
    valence = np.bincount(done.corner_point, minlength=count)[:, None].astype(np.float64)
    edge_sum = _sum_at_ends(done.edge_points, done.edges.ends, count)
    face_sum = _sum(done.face_points[corner_faces(done.face_start)], done.corner_point, count)
    weights = np.maximum(valence * (valence + 5), 1)
    inside = (valence**2 * done.vertex_points + 4 * edge_sum + face_sum) / weights
    inside = np.where(valence > 0, inside, done.vertex_points)
    curve_ends = done.edges.ends[done.rim]
    return _with_rims(inside, done.vertex_points, done.edge_points[done.rim], curve_ends, 4.0)


def edge_limits(done: Step, edges: IndexArray) -> FloatArray:
    """(N, 3) where the middles of the given edges end up after endless steps.

    An edge's point has four edges after one step, so the limit formula needs its two end points,
    two face points, and the edge points next to it in both faces. An edge of a rim ends up on
    the rim's curve.
    """
    own = done.edge_points[edges]
    ends = done.vertex_points[done.edges.ends[edges]].sum(axis=1)
    curve = (4.0 * own + ends) / 6.0
    inside = ~done.rim[edges]
    start = done.edges.side_start[edges[inside]]
    follow, before = next_corners(done.face_start), previous_corners(done.face_start)
    faces = corner_faces(done.face_start)
    near, far = ends[inside], np.zeros((len(start), 3))
    for side in (done.edges.sides[start], done.edges.sides[start + 1]):
        near = near + done.face_points[faces[side]]
        for beside in (follow[side], before[side]):
            far += done.edge_points[done.edges.corner_edge[beside]]
    curve[inside] = (16.0 * own[inside] + 4.0 * near + far) / 36.0
    return np.asarray(curve)


def _vertex_points(
    points: FloatArray,
    corner_point: IndexArray,
    edges: Edges,
    *,
    middle: FloatArray,
    around: FloatArray,
) -> FloatArray:
    """(V, 3) the cage's points after one step: (F + 2 R + (n - 3) P) / n inside.

    middle  (E, 3) middles of edges; around  (C, 3) face point at each corner
    """
    rim = edges.side_count != 2
    count = len(points)
    valence = np.bincount(corner_point, minlength=count)[:, None].astype(np.float64)
    some = np.maximum(valence, 1)
    face_mean = _sum(around, corner_point, count) / some
    edge_mean = _sum_at_ends(middle, edges.ends, count) / some
    inside = (face_mean + 2 * edge_mean + (valence - 3) * points) / some
    inside = np.where(valence > 0, inside, points)
    # A curve's (1/8, 6/8, 1/8) of its points is (1/4, 1/2, 1/4) of middle, point, middle.
    return _with_rims(inside, points, middle[rim], edges.ends[rim], 2.0)


def _with_rims(
    inside: FloatArray,
    points: FloatArray,
    curve_points: FloatArray,
    curve_ends: IndexArray,
    weight: float,
) -> FloatArray:
    """Points on a rim by their curve's rule, its corners as they are, all others as given."""
    count = len(points)
    meeting = np.bincount(curve_ends.reshape(-1), minlength=count)
    pull = _sum_at_ends(curve_points, curve_ends, count)
    curve = (weight * points + pull) / (weight + 2.0)
    moved = np.where((meeting == 2)[:, None], curve, points)
    return np.where((meeting == 0)[:, None], inside, moved)


def _sum_at_ends(values: FloatArray, ends: IndexArray, count: int) -> FloatArray:
    """(count, 3) sums of rows over both ends of their edges."""
    return _sum(values, ends[:, 0], count) + _sum(values, ends[:, 1], count)


def _sum(values: FloatArray, group: IndexArray, count: int) -> FloatArray:
    """(count, 3) sums of rows by group."""
    return np.stack(
        [np.bincount(group, weights=values[:, axis], minlength=count) for axis in range(3)], axis=1
    )


def _mean(values: FloatArray, group: IndexArray, count: int) -> FloatArray:
    """(count, 3) means of rows by group; 0 for an empty group."""
    size = np.bincount(group, minlength=count)
    return _sum(values, group, count) / np.maximum(size, 1)[:, None]
