"""Faces of a part with all that their corners carry: welding, UVs, where they came from."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from reviewbot.compare.body import Body, body_of
from reviewbot.compare.uv_places import corner_uvs
from reviewbot.geometry.polygons import corners_of
from reviewbot.geometry.rows import rows_finite, rows_where
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


def some_faces(grown: Grown, faces: IndexArray) -> Grown:
    """Some of the faces."""
    start = np.concatenate([[0], np.cumsum(np.diff(grown.start)[faces])])
    return picked(grown, corners_of(grown.start, faces), start, grown.face[faces])


def place_count(grown: Grown) -> int:
    """How many places the faces stand on."""
    return len(np.unique(grown.place))


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
