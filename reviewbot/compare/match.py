"""Which places, faces and corners of a part are which in the version before.

First by value; where points moved, by the order in which the file draws them if that order is
the same, then by walking over the polygons from known faces, then by the UVs the faces carry.
"""

from __future__ import annotations

import zlib
from dataclasses import dataclass, replace

import numpy as np

from reviewbot.compare.body import Body
from reviewbot.compare.moved_faces import find_moved
from reviewbot.compare.polygons import (
    Rounds,
    SameFaces,
    chosen,
    no_faces,
    same_faces,
    unclear,
)
from reviewbot.compare.uv_places import uv_rounds
from reviewbot.compare.walk import Known
from reviewbot.geometry.polygons import corners_of, next_corners, sum_per_face
from reviewbot.geometry.rows import rows_where
from reviewbot.geometry.twins import shared_places
from reviewbot.mesh import BoolArray, FloatArray, IndexArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Match:
    """What of `after` is what of `before`; both in one numbering of places.

    before_place  (Pb,) int32 number of each place before
    after_place   (Pa,) int32 number of each place after
    twin          (N,) int32 for a place after, its place before; itself for one that lies where
                  it lay, -1 for a new one or one that only the version before has
    face          (Fa,) int32 the same polygon before, -1 for none
    corner        (Ca,) int32 its corner before, -1 for none
    reversed      (Fa,) bool: wound the other way now
    taken         (Fb,) bool: faces before that are there after
    distinct      (Fa,) bool: the face comes back to no place and is alone on its places: of two
                  faces back to back nobody can tell which was turned over
    """

    before_place: IndexArray
    after_place: IndexArray
    twin: IndexArray
    face: IndexArray
    corner: IndexArray
    reversed: BoolArray
    taken: BoolArray
    distinct: BoolArray


@dataclass(frozen=True, slots=True, kw_only=True)
class ValueMatch:
    """What lies where it lay, before moved points are looked for.

    old, new   the polygons of either version in one numbering of places
    known      places and faces that are the same by value
    unclear_faces  rows of faces before and after that places alone do not tell apart
    """

    before_place: IndexArray
    after_place: IndexArray
    old: Rounds
    new: Rounds
    known: Known
    unclear_faces: tuple[IndexArray, IndexArray]

    @property
    def place_share(self) -> float:
        """Of the places after, those that lie where one lay before."""
        twin = self.known.twin_before[self.new.places]
        return float((twin >= 0).mean()) if len(twin) else 0.0


def match_by_value(before: Body, after: Body, tolerance: float) -> ValueMatch:
    """Match two versions of a part that lie in one space.

    tolerance  in units: nearer is the same place
    """
    before_place, after_place, count = shared_places(
        before.spots, after.spots, tolerance, likely=same_index_places(before, after)
    )
    corners_before = before_place[before.shells.corner_place]
    corners_after = after_place[after.shells.corner_place]
    old = Rounds(places=corners_before, face_start=before.part.face_start, order=_looks(before))
    new = Rounds(places=corners_after, face_start=after.part.face_start, order=_looks(after))
    unclear_faces = unclear(old, new)
    found = same_faces(old, new, _settled_by_uvs(before, after, old, new, unclear_faces))
    return ValueMatch(
        before_place=before_place,
        after_place=after_place,
        old=old,
        new=new,
        known=_known_by_value(old, new, found, count),
        unclear_faces=unclear_faces,
    )


def match_moved(before: Body, after: Body, by_value: ValueMatch) -> Match:
    """The whole match: what is known by value, and what moved."""
    known, old, new = by_value.known, by_value.old, by_value.new
    if not known.is_complete:
        find_moved(before, after, old, new, known)
    return Match(
        before_place=by_value.before_place,
        after_place=by_value.after_place,
        twin=known.twin_before,
        face=known.face,
        corner=known.corner,
        reversed=_reversed(old, new, known),
        taken=known.taken,
        distinct=~np.isin(np.arange(after.faces), by_value.unclear_faces[1]),
    )


def forgotten(match: Match) -> Match:
    """A match in which no polygon is the same, though places may lie where others lay."""
    nothing = np.zeros(len(match.face), dtype=bool)
    stays = match.twin == np.arange(len(match.twin))
    return replace(
        match,
        twin=np.where(stays, match.twin, -1).astype(np.int32),
        face=np.full(len(match.face), -1, dtype=np.int32),
        corner=np.full(len(match.corner), -1, dtype=np.int32),
        reversed=nothing,
        taken=np.zeros(len(match.taken), dtype=bool),
    )


def same_index_places(before: Body, after: Body) -> IndexArray:
    """(K, 2) places under the points that both versions count alike, unused points left out."""
    place_before, place_after = point_places(before), point_places(after)
    if len(place_before) != len(place_after):
        place_before = place_before[place_before >= 0]
        place_after = place_after[place_after >= 0]
    if len(place_before) != len(place_after):
        return np.empty((0, 2), dtype=np.int32)
    pairs = np.stack([place_before, place_after], axis=1)
    return pairs[(pairs >= 0).all(axis=1)]


def point_places(body: Body) -> IndexArray:
    """(V,) int32 place of each point, -1 for one without a face."""
    place = np.full(len(body.part.points), -1, dtype=np.int32)
    place[body.part.corner_point] = body.shells.corner_place
    return place


def _looks(body: Body) -> FloatArray:
    """(F,) a figure for the UVs and the material of each face, the same from any start corner."""
    names = [
        zlib.crc32(name.encode("utf-8", "surrogatepass")) / 2**22 for name in body.part.materials
    ]
    look = np.array([*names, 0.0])[body.part.face_material]
    if len(body.part.uvs):
        along = body.part.uvs @ np.array([0.7548, 0.5698])
        values = np.where(body.part.corner_uv >= 0, along[body.part.corner_uv], 0.0)
        look = look + sum_per_face(values, body.part.face_start)
    return look


def _settled_by_uvs(
    before: Body,
    after: Body,
    old: Rounds,
    new: Rounds,
    unclear_faces: tuple[IndexArray, IndexArray],
) -> SameFaces | None:
    """Of faces that places do not tell apart, those that carry the same UVs, however wound."""
    rows_before, rows_after = unclear_faces
    rows_before = rows_before[before.mapped[rows_before]]
    rows_after = rows_after[after.mapped[rows_after]]
    if not len(rows_before) or not len(rows_after):
        return None
    uv_before, uv_after = uv_rounds(before, rows_before, after, rows_after)
    part_before, part_after = chosen(old, rows_before), chosen(new, rows_after)
    both = [
        (part.places.astype(np.int64) << 32) | uv.places
        for part, uv in ((part_before, uv_before), (part_after, uv_after))
    ]
    number = np.unique(np.concatenate(both), return_inverse=True)[1].astype(np.int32)
    found = same_faces(
        replace(part_before, places=number[: len(both[0])]),
        replace(part_after, places=number[len(both[0]) :]),
    )
    settled = no_faces(new)
    hit = rows_where(found.face >= 0)
    if 2 * int(found.reversed[hit].sum()) < len(hit):
        hit = hit[~found.reversed[hit]]  # a few that fit the other way round fit by chance
    if 2 * len(hit) < len(rows_after):
        return None  # the UVs are others now: where they still agree, they do by chance
    settled.face[rows_after[hit]] = rows_before[found.face[hit]]
    settled.reversed[rows_after[hit]] = found.reversed[hit]
    own = corners_of(new.face_start, rows_after[hit])
    mate = found.corner[corners_of(part_after.face_start, hit)]
    settled.corner[own] = corners_of(old.face_start, rows_before)[mate]
    return settled


def _known_by_value(old: Rounds, new: Rounds, found: SameFaces, count: int) -> Known:
    taken = np.zeros(len(old.order), dtype=bool)
    taken[found.face[found.face >= 0]] = True
    here = np.zeros((2, count), dtype=bool)
    here[0, old.places] = True
    here[1, new.places] = True
    twin = np.where(here.all(axis=0), np.arange(count), -1).astype(np.int32)
    return Known(
        twin_after=twin.copy(),
        twin_before=twin,
        face=found.face.copy(),
        taken=taken,
        corner=found.corner.copy(),
    )


def _reversed(old: Rounds, new: Rounds, known: Known) -> BoolArray:
    """(F,) whether the corner before of a face's second corner comes before that of its first.

    A face of fewer than three places runs neither way.
    """
    start, size = new.face_start[:-1], np.diff(new.face_start)
    wound = np.zeros(len(size), dtype=bool)
    rows = rows_where((known.face >= 0) & (size > 2))
    first, second = known.corner[start[rows]], known.corner[start[rows] + 1]
    rows = rows[next_corners(old.face_start)[first] != second]
    corners = corners_of(new.face_start, rows)
    owner = np.repeat(np.arange(len(rows)), size[rows])
    pairs = np.unique(np.stack([owner, new.places[corners]], axis=1), axis=0)
    wound[rows] = np.bincount(pairs[:, 0], minlength=len(rows)) > 2
    return wound
