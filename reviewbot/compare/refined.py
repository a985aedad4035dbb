"""Whether faces were subdivided: what one or two steps would give is compared with what is there.

Steps tried: each face of n corners into n quads (points kept, or smoothed by Catmull–Clark), and
each triangle into four.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from reviewbot.compare.body import Body
from reviewbot.compare.polygons import Rounds, same_faces
from reviewbot.geometry.catmull_clark import refine, step_over
from reviewbot.geometry.edges import edges_of
from reviewbot.geometry.polygons import corners_of, previous_corners
from reviewbot.geometry.rows import rows_where
from reviewbot.geometry.twins import nearest_within, tree_of
from reviewbot.geometry.weld import rows_finite
from reviewbot.mesh import FloatArray, IndexArray

FOUND = 0.8  # of the faces after must be those of the step
SMOOTHED_NOISE = 20.0  # times the tolerance: smoothed points are sums of rounded ones


@dataclass(frozen=True, slots=True, kw_only=True)
class Cage:
    """Faces before a step and, after steps, where each face and corner came from.

    origin_face    (F,) int32 face of the body
    origin_corner  (C,) int32 corner of the body that lies here, -1 for a new point
    """

    points: FloatArray
    corner_point: IndexArray
    face_start: IndexArray
    origin_face: IndexArray
    origin_corner: IndexArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Refined:
    """Faces after that a step explains.

    parent  (K,) int32 for each face after that was asked about, the face before, -1 for none
    corner  (L,) int32 for each of their corners, the corner before that it lies on, -1 for none
    smooth  the points were smoothed
    """

    parent: IndexArray
    corner: IndexArray
    smooth: bool


def find_refined(
    before: Body,
    faces_before: IndexArray,
    after: Body,
    faces_after: IndexArray,
    tolerance: float,
) -> Refined | None:
    """The step from these faces before to those after, None where no step explains them."""
    ratio = len(faces_after) / max(len(faces_before), 1)
    if ratio < 2 or not len(faces_before):
        return None
    cage = _cage_of(before, faces_before)
    target = _cage_of(after, faces_after)
    tree = tree_of(after.used_spots)
    spot_rows = rows_where(rows_finite(after.spots))
    own = np.arange(len(after.spots), dtype=np.int32)
    whole = len(faces_before) == before.faces
    for refined, smooth in _steps(cage, len(faces_after), smooth_too=whole):
        reach = tolerance * (SMOOTHED_NOISE if smooth else 3.0)
        _, row = nearest_within(tree, refined.points, reach)
        place = np.where(row >= 0, spot_rows[row], len(after.spots) + np.arange(len(row)))
        found = same_faces(_rounds(refined, place.astype(np.int32)), _rounds(target, own))
        if (found.face >= 0).mean() >= FOUND:
            hit_face, hit_corner = found.face >= 0, found.corner >= 0
            return Refined(
                parent=np.where(hit_face, refined.origin_face[found.face], -1).astype(np.int32),
                corner=np.where(hit_corner, refined.origin_corner[found.corner], -1).astype(
                    np.int32
                ),
                smooth=smooth,
            )
    return None


def _cage_of(body: Body, faces: IndexArray) -> Cage:
    corners = corners_of(body.part.face_start, faces)
    sizes = np.diff(body.part.face_start)[faces]
    return Cage(
        points=body.spots,
        corner_point=body.shells.corner_place[corners],
        face_start=np.concatenate([[0], np.cumsum(sizes)]).astype(np.int32),
        origin_face=faces,
        origin_corner=corners,
    )


def _rounds(cage: Cage, place: IndexArray) -> Rounds:
    return Rounds(
        places=place[cage.corner_point],
        face_start=cage.face_start,
        order=np.zeros(len(cage.face_start) - 1),
    )


def _steps(cage: Cage, wanted: int, *, smooth_too: bool) -> Iterator[tuple[Cage, bool]]:
    """Cages after one to three steps whose number of faces is about the wanted one."""
    for smooth in (False, True) if smooth_too else (False,):
        current = cage
        for _ in range(3):
            if len(current.corner_point) > 1.3 * wanted:
                break
            current = _quad_step(current, smooth=smooth)
            if len(current.origin_face) >= 0.7 * wanted:
                yield current, smooth
    current = cage
    for _ in range(3):
        triangles = np.all(np.diff(current.face_start) == 3)
        if not triangles or 4 * len(current.origin_face) > 1.3 * wanted:
            break
        current = _triangle_step(current)
        yield current, False


def _quad_step(cage: Cage, *, smooth: bool) -> Cage:
    edges = edges_of(cage.corner_point, cage.face_start)
    done = step_over(cage.points, cage.corner_point, cage.face_start, edges)
    if not smooth:
        middle = 0.5 * (cage.points[edges.ends[:, 0]] + cage.points[edges.ends[:, 1]])
        done = replace(done, vertex_points=cage.points, edge_points=middle)
    points, corner_point, face_start = refine(done)
    origin_corner = np.full(len(corner_point), -1, dtype=np.int32)
    origin_corner[::4] = cage.origin_corner
    sizes = np.diff(cage.face_start)
    return Cage(
        points=points,
        corner_point=corner_point,
        face_start=face_start,
        origin_face=np.repeat(cage.origin_face, sizes),
        origin_corner=origin_corner,
    )


def _triangle_step(cage: Cage) -> Cage:
    """Each triangle into one at each corner and one in the middle."""
    edges = edges_of(cage.corner_point, cage.face_start)
    middle = 0.5 * (cage.points[edges.ends[:, 0]] + cage.points[edges.ends[:, 1]])
    own = len(cage.points) + edges.corner_edge
    previous = previous_corners(cage.face_start)
    at_corners = np.stack([cage.corner_point, own, own[previous]], axis=1).reshape(-1, 9)
    corners = np.concatenate([at_corners, own.reshape(-1, 3)], axis=1)
    origin = np.full(corners.shape, -1, dtype=np.int32)
    origin[:, [0, 3, 6]] = cage.origin_corner.reshape(-1, 3)
    return Cage(
        points=np.concatenate([cage.points, middle]),
        corner_point=corners.reshape(-1).astype(np.int32),
        face_start=np.arange(0, corners.size + 1, 3, dtype=np.int32),
        origin_face=np.repeat(cage.origin_face, 4),
        origin_corner=origin.reshape(-1),
    )
