"""Which places, faces and corners of a part are which in the version before.

First by value; where points moved, by the order in which the file draws them if that order is
the same, then by walking over the polygons from known faces, then by the UVs the faces carry.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reviewbot.compare.body import Body
from reviewbot.compare.polygons import Keys, Rounds, SameFaces, place_keys, same_faces
from reviewbot.compare.walk import Known, Web, corners_of, seed, take_faces, walk, web_of
from reviewbot.geometry.polygons import next_corners, sum_per_face
from reviewbot.geometry.rows import rows_where
from reviewbot.geometry.twins import shared_places
from reviewbot.geometry.weld import exact_places
from reviewbot.mesh import BoolArray, FloatArray, IndexArray

UV_SAME = 2e-5  # of a tile: finer differences are rounding
ORDER_SHARE = 0.9  # of faces that must be drawn on the same indices for the order to count


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
    """

    before_place: IndexArray
    after_place: IndexArray
    twin: IndexArray
    face: IndexArray
    corner: IndexArray
    reversed: BoolArray
    taken: BoolArray


def match_bodies(before: Body, after: Body, tolerance: float) -> Match:
    """Match two versions of a part that lie in one space.

    tolerance  in units: nearer is the same place
    """
    before_place, after_place, count = shared_places(
        before.spots, after.spots, tolerance, likely=same_index_places(before, after)
    )
    corners_before = before_place[before.shells.corner_place]
    corners_after = after_place[after.shells.corner_place]
    old = Rounds(places=corners_before, face_start=before.part.face_start, order=_uv_sums(before))
    new = Rounds(places=corners_after, face_start=after.part.face_start, order=_uv_sums(after))
    found = same_faces(old, new)
    known = _known_by_value(old, new, found, count)
    if not known.taken.all() and (known.face < 0).any():
        _find_moved(before, after, old, new, known)
    return Match(
        before_place=before_place,
        after_place=after_place,
        twin=known.twin_before,
        face=known.face,
        corner=known.corner,
        reversed=_reversed(old, new, known),
        taken=known.taken,
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


def _uv_sums(body: Body) -> FloatArray:
    """(F,) the same from any start corner, 0 for a face without UVs."""
    if not len(body.part.uvs):
        return np.zeros(body.faces)
    along = body.part.uvs @ np.array([0.7548, 0.5698])
    values = np.where(body.part.corner_uv >= 0, along[body.part.corner_uv], 0.0)
    return sum_per_face(values, body.part.face_start)


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


def _find_moved(before: Body, after: Body, old: Rounds, new: Rounds, known: Known) -> None:
    _take_order(before, after, known, old, new)
    webs = (
        web_of(old.places, old.face_start, before.shells.edges),
        web_of(new.places, new.face_start, after.shells.edges),
    )
    walk(*webs, known)
    if (known.face < 0).any() and not known.taken.all():
        seed(*webs, known)
    if (known.face < 0).any() and not known.taken.all():
        _take_uvs(before, after, webs, known)


def _take_order(before: Body, after: Body, known: Known, old: Rounds, new: Rounds) -> None:
    """Where both files draw the same faces on the same indices, equal indices are equal points."""
    pairs = _drawn_alike(before, after)
    old_place, new_place = old.places, new.places
    if not len(pairs):
        return
    first_before, first_after = _corner_of_point(before), _corner_of_point(after)
    a = old_place[first_before[pairs[:, 0]]]
    b = new_place[first_after[pairs[:, 1]]]
    free = (known.twin_after[a] < 0) & (known.twin_before[b] < 0)
    a, b = a[free], b[free]
    clean = _always_together(a, b)
    known.twin_after[a[clean]], known.twin_before[b[clean]] = b[clean], a[clean]
    _rematch(old, new, known)


def _always_together(a: IndexArray, b: IndexArray) -> BoolArray:
    """Rows whose place before goes with one place after only, and the other way round."""
    fine = np.ones(len(a), dtype=bool)
    for own, other in ((a, b), (b, a)):
        order = np.lexsort((other, own))
        own_sorted, other_sorted = own[order], other[order]
        differs = (own_sorted[1:] == own_sorted[:-1]) & (other_sorted[1:] != other_sorted[:-1])
        fine &= ~np.isin(own, own_sorted[1:][differs])
    return fine


def _drawn_alike(before: Body, after: Body) -> IndexArray:
    """(K, 2) points of equal index where most faces stand on the same indices, else none.

    Indices are taken as the file has them, then counted over used points only.
    """
    empty = np.empty((0, 2), dtype=np.int32)
    if not before.faces or not after.faces:
        return empty
    used_before, used_after = _used_points(before), _used_points(after)
    for rank in (False, True):
        index_before = _ranks(used_before) if rank else np.arange(len(used_before), dtype=np.int32)
        index_after = _ranks(used_after) if rank else np.arange(len(used_after), dtype=np.int32)
        keys_before = _index_keys(before, index_before)
        keys_after = _index_keys(after, index_after)
        share = np.isin(keys_after, keys_before).sum() / min(len(keys_after), len(keys_before))
        if share >= ORDER_SHARE:
            rows_before, rows_after = rows_where(used_before), rows_where(used_after)
            _, in_before, in_after = np.intersect1d(
                index_before[rows_before],
                index_after[rows_after],
                assume_unique=True,
                return_indices=True,
            )
            return np.stack([rows_before[in_before], rows_after[in_after]], axis=1).astype(np.int32)
    return empty


def _index_keys(body: Body, index: IndexArray) -> Keys:
    return place_keys(
        Rounds(
            places=index[body.part.corner_point],
            face_start=body.part.face_start,
            order=np.empty(0),
        )
    )


def _used_points(body: Body) -> BoolArray:
    used = np.zeros(len(body.part.points), dtype=bool)
    used[body.part.corner_point] = True
    return used


def _ranks(used: BoolArray) -> IndexArray:
    return np.cumsum(used, dtype=np.int32) - 1


def _corner_of_point(body: Body) -> IndexArray:
    corner = np.full(len(body.part.points), -1, dtype=np.int32)
    corner[body.part.corner_point] = np.arange(len(body.part.corner_point))
    return corner


def _rematch(old: Rounds, new: Rounds, known: Known) -> None:
    """Pair the faces anew under the twins known so far."""
    place = known.twin_before[new.places]
    apart = len(known.twin_before) + new.places  # never equal to a place before
    renamed = np.where(place >= 0, place, apart).astype(np.int32)
    found = same_faces(old, Rounds(places=renamed, face_start=new.face_start, order=new.order))
    known.face[:] = found.face
    known.corner[:] = found.corner
    known.taken[:] = False
    known.taken[found.face[found.face >= 0]] = True


def _take_uvs(before: Body, after: Body, webs: tuple[Web, Web], known: Known) -> None:
    """Faces that alone carry their UVs, in both versions, are the same; walk on from them."""
    faces_before = rows_where(~known.taken & before.mapped)
    faces_after = rows_where((known.face < 0) & after.mapped)
    if not len(faces_before) or not len(faces_after):
        return
    old, new = _uv_rounds(before, faces_before, after, faces_after)
    lone_before, lone_after = _once(place_keys(old)), _once(place_keys(new))
    faces_before, faces_after = faces_before[lone_before], faces_after[lone_after]
    old, new = _uv_rounds(before, faces_before, after, faces_after)
    found = same_faces(old, new)
    hit = rows_where(found.face >= 0)
    corners_before = corners_of(before.part.face_start, faces_before)
    mate = corners_before[found.corner[corners_of(new.face_start, hit)]]
    take_faces(*webs, known, faces=faces_after[hit], mates=faces_before[found.face[hit]], mate=mate)
    walk(*webs, known)
    if (known.face < 0).any() and not known.taken.all():
        seed(*webs, known)


def _uv_rounds(
    before: Body, faces_before: IndexArray, after: Body, faces_after: IndexArray
) -> tuple[Rounds, Rounds]:
    """The given faces as rounds of UV places, in one numbering; every corner has a UV."""
    uvs_before = before.part.uvs[_uvs_of(before, faces_before)]
    uvs_after = after.part.uvs[_uvs_of(after, faces_after)]
    own_before, first_before = exact_places(uvs_before)
    own_after, first_after = exact_places(uvs_after)
    nothing = np.empty((0, 2), dtype=np.int32)
    place_before, place_after, _ = shared_places(
        uvs_before[first_before], uvs_after[first_after], UV_SAME, likely=nothing
    )
    return (
        _rounds_of(before, faces_before, place_before[own_before]),
        _rounds_of(after, faces_after, place_after[own_after]),
    )


def _uvs_of(body: Body, faces: IndexArray) -> IndexArray:
    return body.part.corner_uv[corners_of(body.part.face_start, faces)]


def _rounds_of(body: Body, faces: IndexArray, places: IndexArray) -> Rounds:
    sizes = np.diff(body.part.face_start)[faces]
    start = np.concatenate([[0], np.cumsum(sizes)]).astype(np.int32)
    return Rounds(places=places, face_start=start, order=np.zeros(len(faces)))


def _once(keys: Keys) -> BoolArray:
    _, inverse, count = np.unique(keys, return_inverse=True, return_counts=True)
    return np.asarray(count[inverse] == 1)


def _reversed(old: Rounds, new: Rounds, known: Known) -> BoolArray:
    """(F,) whether the corner before of a face's second corner comes before that of its first."""
    start, size = new.face_start[:-1], np.diff(new.face_start)
    wound = np.zeros(len(size), dtype=bool)
    rows = rows_where((known.face >= 0) & (size > 2))
    first, second = known.corner[start[rows]], known.corner[start[rows] + 1]
    wound[rows] = next_corners(old.face_start)[first] != second
    return wound
