"""One subdivision step over a part with all that its corners carry: welding, UVs, where they came
from.

Two steps: each face of n corners into n quads (points kept, or smoothed by Catmull–Clark), and
each triangle into four.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from reviewbot.compare.body import Body, body_of
from reviewbot.compare.uv_places import corner_uvs
from reviewbot.geometry.catmull_clark import refine, step_over
from reviewbot.geometry.edges import edges_of
from reviewbot.geometry.polygons import (
    corner_faces,
    corners_of,
    next_corners,
    previous_corners,
    sum_per_face,
)
from reviewbot.geometry.rows import rows_where
from reviewbot.geometry.weld import rows_finite
from reviewbot.measure.shells import find_shells
from reviewbot.mesh import FloatArray, IndexArray, Part


@dataclass(frozen=True, slots=True, kw_only=True)
class Grown:
    """The faces of a part before a step and, after steps, what each came from.

    spots   (P, 3) float64 where each place lies
    place   (C,) int32 place under each corner
    point   (C,) int32 point of the file under each corner; several may lie on one place
    uv      (C, 2) float64, nan for none; halfway between old ones at new corners
    start   (F + 1,) int32
    face    (F,) int32 face of the part
    corner  (C,) int32 corner of the part that lies here, -1 for a new point
    """

    spots: FloatArray
    place: IndexArray
    point: IndexArray
    uv: FloatArray
    start: IndexArray
    face: IndexArray
    corner: IndexArray


def grown_from(body: Body) -> Grown:
    """A part as it is, before any step."""
    corners = np.arange(len(body.corner_face), dtype=np.int32)
    return Grown(
        spots=body.spots,
        place=body.shells.corner_place,
        point=body.part.corner_point,
        uv=corner_uvs(body, corners),
        start=body.part.face_start,
        face=np.arange(body.faces, dtype=np.int32),
        corner=corners,
    )


def picked(grown: Grown, corners: IndexArray, start: IndexArray, face: IndexArray) -> Grown:
    """Other polygons on the same corners."""
    return replace(
        grown,
        place=grown.place[corners],
        point=grown.point[corners],
        uv=grown.uv[corners],
        start=start.astype(np.int32),
        face=face.astype(np.int32),
        corner=grown.corner[corners],
    )


def quad_step(grown: Grown, *, smooth: bool) -> Grown:
    """Each face of n corners into n quads; quads come in the order of the corners."""
    edges = edges_of(grown.place, grown.start)
    done = step_over(grown.spots, grown.place, grown.start, edges)
    if not smooth:
        middle = 0.5 * (grown.spots[edges.ends[:, 0]] + grown.spots[edges.ends[:, 1]])
        done = replace(done, vertex_points=grown.spots, edge_points=middle)
    spots, place, start = refine(done)
    follow, previous = next_corners(grown.start), previous_corners(grown.start)
    ahead, owner = _halfway(grown.uv, follow), corner_faces(grown.start)
    uv = np.stack([grown.uv, ahead, _face_means(grown)[owner], ahead[previous]], axis=1)
    middle_point = _pair_keys(grown.point, grown.point[follow])
    keys = np.stack(
        [_lone_keys(grown.point), middle_point, _face_keys(owner), middle_point[previous]], axis=1
    )
    corner = np.full(len(place), -1, dtype=np.int32)
    corner[::4] = grown.corner
    return Grown(
        spots=spots,
        place=place,
        point=_numbered(keys.reshape(-1)),
        uv=uv.reshape(-1, 2),
        start=start,
        face=np.repeat(grown.face, np.diff(grown.start)),
        corner=corner,
    )


def triangle_step(grown: Grown) -> Grown:
    """Each triangle into one at each corner and one in the middle; all faces must be triangles."""
    edges = edges_of(grown.place, grown.start)
    middle = 0.5 * (grown.spots[edges.ends[:, 0]] + grown.spots[edges.ends[:, 1]])
    follow, previous = next_corners(grown.start), previous_corners(grown.start)
    own = (len(grown.spots) + edges.corner_edge).astype(np.int32)
    ahead, middle_point = (
        _halfway(grown.uv, follow),
        _pair_keys(grown.point, grown.point[follow]),
    )

    def cut(at_corner: np.ndarray, at_middle: np.ndarray) -> np.ndarray:
        around = np.stack([at_corner, at_middle, at_middle[previous]], axis=1)
        shape = (len(grown.face), 3, *around.shape[1:])
        inner = at_middle.reshape(len(grown.face), 1, 3, *at_middle.shape[1:])
        return np.concatenate([around.reshape(shape), inner], axis=1).reshape(
            -1, *at_corner.shape[1:]
        )

    nothing = np.full(len(own), -1, dtype=np.int32)
    count = 12 * len(grown.face)
    return Grown(
        spots=np.concatenate([grown.spots, middle]),
        place=cut(grown.place, own).astype(np.int32),
        point=_numbered(cut(_lone_keys(grown.point), middle_point)),
        uv=cut(grown.uv, ahead),
        start=np.arange(0, count + 1, 3, dtype=np.int32),
        face=np.repeat(grown.face, 4),
        corner=cut(grown.corner, nothing).astype(np.int32),
    )


def _halfway(uv: FloatArray, follow: IndexArray) -> FloatArray:
    return np.asarray(0.5 * (uv + uv[follow]))


def _face_means(grown: Grown) -> FloatArray:
    sizes = np.maximum(np.diff(grown.start), 1)
    return np.asarray(sum_per_face(grown.uv, grown.start) / sizes[:, None])


def with_kept(done: Grown, grown: Grown, kept: IndexArray) -> Grown:
    """The faces of a step and, as they are, faces that it left alone and that touch none of it."""
    corners = corners_of(grown.start, kept)
    sizes = np.concatenate([np.diff(done.start), np.diff(grown.start)[kept]])
    points = int(done.point.max(initial=-1)) + 1
    return Grown(
        spots=np.concatenate([done.spots, grown.spots]),
        place=np.concatenate([done.place, grown.place[corners] + len(done.spots)]).astype(np.int32),
        point=np.concatenate([done.point, grown.point[corners] + points]).astype(np.int32),
        uv=np.concatenate([done.uv, grown.uv[corners]]),
        start=np.concatenate([[0], np.cumsum(sizes)]).astype(np.int32),
        face=np.concatenate([done.face, grown.face[kept]]),
        corner=np.concatenate([done.corner, grown.corner[corners]]),
    )


_Keys = np.ndarray[tuple[int], np.dtype[np.int64]]


def _lone_keys(point: IndexArray) -> _Keys:
    return np.asarray(point.astype(np.int64) << 32 | 0xFFFFFFFF)


def _pair_keys(one: IndexArray, other: IndexArray) -> _Keys:
    low, high = np.minimum(one, other), np.maximum(one, other)
    return np.asarray(low.astype(np.int64) << 32 | high)


def _face_keys(face: IndexArray) -> _Keys:
    return -1 - face.astype(np.int64)


def _numbered(keys: _Keys) -> IndexArray:
    return np.unique(keys, return_inverse=True)[1].reshape(-1).astype(np.int32)


def body_from(grown: Grown, body: Body) -> Body:
    """The faces as a body, with the materials, smoothing and pieces of the part they came from.

    It carries no normals: those of new faces are new.
    """
    count = int(grown.point.max(initial=-1)) + 1
    points = np.full((count, 3), np.nan)
    points[grown.point] = grown.spots[grown.place]
    mapped = rows_where(rows_finite(grown.uv))
    entry = np.full(len(grown.point), -1, dtype=np.int32)
    entry[mapped] = np.arange(len(mapped))
    old = body.part
    part = Part(
        name=old.name,
        points=points,
        corner_point=grown.point,
        face_start=grown.start,
        uvs=grown.uv[mapped],
        corner_uv=entry,
        materials=old.materials,
        face_material=old.face_material[grown.face],
        face_smoothing=None if old.face_smoothing is None else old.face_smoothing[grown.face],
    )
    return replace(body_of(part, find_shells(part)), piece=body.piece[grown.face])
