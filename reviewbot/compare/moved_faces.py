"""Find the points that moved: what lies where it lay is known, and the polygons lead on from there.

In turn: by the order in which both files draw the same faces, by walking from known faces to
their neighbours, by the UVs that faces carry, by how the places round about moved, and by how
places stand among their polygons. Whatever is supposed, only faces that fit prove it, or, where
polygons were cut or merged, their edges.
"""

from __future__ import annotations

import numpy as np

from reviewbot.compare.body import Body
from reviewbot.compare.drift import drifted_places
from reviewbot.compare.likeness import alike_places
from reviewbot.compare.moved_edges import twins_by_edges
from reviewbot.compare.polygons import Keys, Rounds, place_keys, same_faces, wound_keys
from reviewbot.compare.uv_places import uv_rounds
from reviewbot.compare.walk import Known, Web, seed, take_faces, walk, web_of
from reviewbot.geometry.polygons import corners_of, next_corners
from reviewbot.geometry.rows import rows_finite, rows_where
from reviewbot.mesh import BoolArray, IndexArray

ORDER_SHARE = 0.9  # of faces that must be drawn on the same indices for the order to count
LIKENESS_SHARE = 0.9  # of the faces left that must fit for places to be the same by likeness
DRIFT_STEPS = 5
DRIFT_SHARE = 0.2  # the same for places supposed to have moved as those beside them


def find_moved(before: Body, after: Body, old: Rounds, new: Rounds, known: Known) -> None:
    """Grow what is known by value to places that moved, as far as the polygons bear it out."""
    if not _have_a_size_in_common(old, new, known):
        twins_by_edges(before, after, old, new, known)
        return
    _take_order(before, after, known, old, new)
    webs = (
        web_of(old.places, old.face_start, before.shells),
        web_of(new.places, new.face_start, after.shells),
    )
    walk(*webs, known)
    for step in (_take_seeds, _take_uvs, _take_drift, _take_likeness):
        if known.is_complete:
            return
        step(before, after, webs, known)
    if not known.is_complete and twins_by_edges(before, after, old, new, known):
        seed(*webs, known)


def _have_a_size_in_common(old: Rounds, new: Rounds, known: Known) -> bool:
    """Whether some face left before has as many corners as one left after."""
    sizes_before = np.bincount(np.diff(old.face_start)[~known.taken])
    sizes_after = np.bincount(np.diff(new.face_start)[known.face < 0])
    common = min(len(sizes_before), len(sizes_after))
    return bool(((sizes_before[:common] > 0) & (sizes_after[:common] > 0)).any())


def _take_seeds(_: Body, __: Body, webs: tuple[Web, Web], known: Known) -> None:
    """Faces on a side between two known places."""
    seed(*webs, known)


def _take_likeness(before: Body, after: Body, webs: tuple[Web, Web], known: Known) -> None:
    """Start from places that stand alike among their polygons."""
    _try_places(before, after, webs, known, pairs=alike_places(before, after), share=LIKENESS_SHARE)


def _take_drift(before: Body, after: Body, webs: tuple[Web, Web], known: Known) -> None:
    """Suppose that places moved much as the known ones nearest to them did, step by step."""
    for _ in range(DRIFT_STEPS):
        had = int(known.taken.sum())
        pairs = _drifted_pairs(before, after, webs, known)
        _try_places(before, after, webs, known, pairs=pairs, share=DRIFT_SHARE)
        if known.is_complete or int(known.taken.sum()) == had:
            return


def _drifted_pairs(before: Body, after: Body, webs: tuple[Web, Web], known: Known) -> IndexArray:
    old, new = _numbers(before, webs[0]), _numbers(after, webs[1])
    stands_before, stands_after = rows_finite(before.spots), rows_finite(after.spots)
    row_of = np.full(len(known.twin_before), -1, dtype=np.int32)
    row_of[old[stands_before]] = rows_where(stands_before)
    twin = known.twin_before[new]
    partner = np.where(twin >= 0, row_of[twin], -1)
    paired = rows_where((partner >= 0) & stands_after)
    return drifted_places(
        before.spots,
        after.spots,
        known=np.stack([partner[paired], paired], axis=1).astype(np.int32),
        open_before=rows_where((known.twin_after[old] < 0) & stands_before),
        open_after=rows_where((twin < 0) & stands_after),
    )


def _try_places(
    before: Body,
    after: Body,
    webs: tuple[Web, Web],
    known: Known,
    *,
    pairs: IndexArray,
    share: float,
) -> None:
    """Suppose pairs of places, (K, 2) rows; give it up where too few of the faces left fit."""
    if len(pairs) < 3:
        return
    trial = known.copy()
    old, new = _numbers(before, webs[0])[pairs[:, 0]], _numbers(after, webs[1])[pairs[:, 1]]
    free = (trial.twin_after[old] < 0) & (trial.twin_before[new] < 0)
    trial.twin_after[old[free]], trial.twin_before[new[free]] = new[free], old[free]
    _rematch(_plain_rounds(webs[0]), _plain_rounds(webs[1]), trial)
    _forget_turned_over(webs, trial, known)
    _forget_unproven(webs[1], trial, new[free])
    walk(*webs, trial)
    left = int((~known.taken).sum())
    if int(trial.taken.sum()) - int(known.taken.sum()) >= share * left:
        known.become(trial)


def _forget_turned_over(webs: tuple[Web, Web], known: Known, before: Known) -> None:
    """Of newly found faces, a few that are wound the other way are found by mistake."""
    fresh = rows_where((known.face >= 0) & (before.face < 0))
    first = webs[1].face_start[fresh]
    runs_on = next_corners(webs[0].face_start)[known.corner[first]] == known.corner[first + 1]
    if 2 * int(runs_on.sum()) < len(fresh):
        return
    wrong = fresh[~runs_on]
    known.taken[known.face[wrong]] = False
    known.face[wrong] = -1
    known.corner[corners_of(webs[1].face_start, wrong)] = -1


def _forget_unproven(after: Web, known: Known, supposed: IndexArray) -> None:
    """Drop supposed places on which no face fits."""
    proven = np.zeros(len(known.twin_before), dtype=bool)
    proven[after.places[np.repeat(known.face >= 0, np.diff(after.face_start))]] = True
    wrong = supposed[~proven[supposed]]
    known.twin_after[known.twin_before[wrong]] = -1
    known.twin_before[wrong] = -1


def _plain_rounds(web: Web) -> Rounds:
    return Rounds(
        places=web.places, face_start=web.face_start, order=np.zeros(len(web.face_start) - 1)
    )


def _numbers(body: Body, web: Web) -> IndexArray:
    """(P,) joint number of each place of a body."""
    number = np.zeros(len(body.spots), dtype=np.int32)
    number[body.shells.corner_place] = web.places
    return number


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
    old, new = uv_rounds(before, faces_before, after, faces_after)
    lone_before, lone_after = _once(wound_keys(old)), _once(wound_keys(new))
    faces_before, faces_after = faces_before[lone_before], faces_after[lone_after]
    old, new = uv_rounds(before, faces_before, after, faces_after)
    found = same_faces(old, new)
    hit = rows_where(found.face >= 0)
    if 2 * int(found.reversed[hit].sum()) > len(hit):
        return  # the UVs were flipped rather than the faces
    corners_before = corners_of(before.part.face_start, faces_before)
    mate = corners_before[found.corner[corners_of(new.face_start, hit)]]
    take_faces(*webs, known, faces=faces_after[hit], mates=faces_before[found.face[hit]], mate=mate)
    walk(*webs, known)
    seed(*webs, known)


def _once(keys: Keys) -> BoolArray:
    _, inverse, count = np.unique(keys, return_inverse=True, return_counts=True)
    return np.asarray(count[inverse] == 1)
