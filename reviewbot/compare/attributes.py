"""What happened to welding, winding, normals, smoothing and materials, on corresponding faces."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from reviewbot.compare.body import Body, world_normals
from reviewbot.compare.face_edits import rounds_of
from reviewbot.compare.faces import FaceStory
from reviewbot.compare.match import Match
from reviewbot.compare.polygons import come_back
from reviewbot.geometry.rows import rows_where
from reviewbot.measure.surface import mirrors
from reviewbot.mesh import BoolArray, FloatArray, IndexArray

NORMAL_NOISE = 0.02  # about one degree: normals are often written with two or three decimals


@dataclass(frozen=True, slots=True, kw_only=True)
class Welding:
    """(K,) rows of places after whose faces share fewer points now (unwelded), or more (welded)."""

    unwelded: IndexArray
    welded: IndexArray


def tell_welding(before: Body, after: Body, match: Match, faces: FaceStory) -> Welding:
    """Compare how many points each place has, counted over corresponding corners only.

    Points of different parts are never one point, so parts are counted by themselves where
    several are compared as one.
    """
    if not has_split_places(before) and not has_split_places(after):
        nothing = np.empty(0, dtype=np.int32)
        return Welding(unwelded=nothing, welded=nothing)
    if 2 * int(faces.solid.sum()) < after.faces:
        return _welding_at_large(before, after)
    clear = faces.solid & ~come_back(rounds_of(after.shells.corner_place, after))
    rows = rows_where((faces.corner >= 0) & clear[after.corner_face])
    old = faces.corner[rows]
    number = match.after_place[after.shells.corner_place[rows]]
    number = np.where(match.twin[number] >= 0, match.twin[number], number).astype(np.int64)
    pieces_after, pieces_before = (
        int(after.piece.max(initial=0)) + 1,
        int(before.piece.max(initial=0)) + 1,
    )
    cell = number * pieces_after + after.piece[after.corner_face[rows]]
    cell = cell * pieces_before + before.piece[before.corner_face[old]]
    used_before = _points_in(cell, before.part.corner_point[old])
    used_after = _points_in(cell, after.part.corner_point[rows])
    more = _cells_with_more(used_after, used_before)
    fewer = _cells_with_more(used_before, used_after)
    spread = pieces_after * pieces_before
    place = np.zeros(int(number.max(initial=-1)) + 1, dtype=np.int32)
    place[number] = after.shells.corner_place[rows]
    return Welding(
        unwelded=place[np.unique(more // spread)], welded=place[np.unique(fewer // spread)]
    )


def _welding_at_large(before: Body, after: Body) -> Welding:
    """Where the polygons are others: whether most places that several faces share are split now
    and hardly any was, or the other way round."""
    was, _ = _split_share(before)
    now, places = _split_share(after)
    nothing = np.empty(0, dtype=np.int32)
    if was < 0.05 and now > 0.5:
        return Welding(unwelded=places, welded=nothing)
    if was > 0.5 and now < 0.05:
        return Welding(unwelded=nothing, welded=rows_where(_shared_places(after)))
    return Welding(unwelded=nothing, welded=nothing)


def _shared_places(body: Body) -> BoolArray:
    """(P,) places with more than one corner."""
    return np.asarray(np.bincount(body.shells.corner_place, minlength=len(body.spots)) > 1)


def _split_share(body: Body) -> tuple[float, IndexArray]:
    """Share of the shared places that carry several points, and which those are."""
    used = np.unique(np.stack([body.shells.corner_place, body.part.corner_point], axis=1), axis=0)
    split = np.bincount(used[:, 0], minlength=len(body.spots)) > 1
    shared = int(_shared_places(body).sum())
    return float(split.sum() / max(shared, 1)), rows_where(split)


def has_split_places(body: Body) -> bool:
    """Whether somewhere several points lie on one place."""
    points = np.count_nonzero(np.bincount(body.part.corner_point))
    return bool(points > np.count_nonzero(np.bincount(body.shells.corner_place)))


_Counts = tuple[npt.NDArray[np.int64], npt.NDArray[np.intp]]


def _points_in(cell: npt.NDArray[np.int64], point: IndexArray) -> _Counts:
    """Cells that hold more than one point, and how many; rising."""
    order = np.lexsort((point, cell))
    cell, point = cell[order], point[order]
    step = (cell[1:] == cell[:-1]) & (point[1:] != point[:-1])
    return np.unique(cell[1:][step], return_counts=True)


def _cells_with_more(one: _Counts, other: _Counts) -> npt.NDArray[np.int64]:
    if not len(one[0]):
        return one[0]
    if not len(other[0]):
        return one[0]
    row = np.minimum(np.searchsorted(other[0], one[0]), len(other[0]) - 1)
    had = np.where(other[0][row] == one[0], other[1][row], 0)
    return one[0][one[1] > had]


def flipped_faces(before: Body, after: Body, match: Match, faces: FaceStory) -> BoolArray:
    """(Fa,) faces wound the other way now; a mirroring transform turns the winding with it."""
    wound = match.reversed | faces.turned
    if mirrors(before.part.transform) != mirrors(after.part.transform):
        wound = ~wound & faces.solid
    return wound


@dataclass(frozen=True, slots=True, kw_only=True)
class NormalStory:
    """Corners whose normal is another one, where nothing round them changed.

    lost, added  the file has no normals any more, or has some now
    corners      (K,) rows after; dropped (L,) of those that have none any more
    compared     how many could be compared
    """

    lost: bool
    added: bool
    corners: IndexArray
    compared: int
    dropped: IndexArray = field(default_factory=lambda: np.empty(0, dtype=np.int32))


NO_NORMALS = NormalStory(lost=False, added=False, corners=np.empty(0, dtype=np.int32), compared=0)


def tell_normals(
    before: Body,
    after: Body,
    match: Match,
    faces: FaceStory,
    *,
    turns: Sequence[FloatArray],
    quiet: BoolArray,
) -> NormalStory:
    """Compare normals at corners of equal polygons, and of pieces of old ones.

    turns  (4, 4) each, carried the version after, or a piece of it, onto the version before;
           exports turn normals with the points, or forget to: either is no change of the normals
    quiet  (Pa,) places after round which nothing moved and no face changed
    """
    had, has = len(before.part.normals) > 0, len(after.part.normals) > 0
    nothing = np.empty(0, dtype=np.int32)
    if not faces.solid.any():
        had = has = False  # new polygons carry normals of their own
    if not had or not has:
        return NormalStory(lost=had and not has, added=has and not had, corners=nothing, compared=0)
    plain = match.distinct[after.corner_face] & faces.solid[after.corner_face]
    rows = rows_where((faces.corner >= 0) & plain)
    entry, old_entry = after.part.corner_normal[rows], before.part.corner_normal[faces.corner[rows]]
    both = (entry >= 0) & (old_entry >= 0)
    dropped = rows[(entry < 0) & (old_entry >= 0)]
    was = before.part.normals[before.part.corner_normal[faces.corner[dropped]]]
    dropped = dropped[np.any(was != 0, axis=1)]  # one that points nowhere was none
    rows = rows[both]
    new = world_normals(after.part)[entry[both]]
    old = world_normals(before.part)[old_entry[both]]
    differs = rows_where(np.abs(new - old).sum(axis=1) > NORMAL_NOISE / 4)
    compared = len(rows)
    rows, new, old = rows[differs], new[differs], old[differs]
    off = _apart_under(new, old, turns)
    flipped = (match.reversed | faces.turned)[after.corner_face[rows]]
    off[flipped] = np.minimum(off[flipped], _apart_under(-new[flipped], old[flipped], turns))
    strange = (off > NORMAL_NOISE) & quiet[after.shells.corner_place[rows]]
    return NormalStory(
        lost=False, added=False, corners=rows[strange], compared=compared, dropped=dropped
    )


def _apart_under(new: FloatArray, old: FloatArray, turns: Sequence[FloatArray]) -> FloatArray:
    """How far normals lie apart, as they are or under the turn that fits them best."""
    off = _apart(new, old)
    for turn in turns:
        linear = turn[:3, :3] / np.cbrt(np.abs(np.linalg.det(turn[:3, :3])))
        off = np.minimum(off, _apart(new @ linear.T, old))
    return off


def _apart(one: FloatArray, other: FloatArray) -> FloatArray:
    """Length of the difference of unit vectors; 0 where either has no direction."""
    with np.errstate(invalid="ignore", divide="ignore"):
        first = one / np.linalg.norm(one, axis=1)[:, None]
        second = other / np.linalg.norm(other, axis=1)[:, None]
        return np.asarray(np.nan_to_num(np.linalg.norm(first - second, axis=1)))


def smoothing_changed(before: Body, after: Body, faces: FaceStory) -> IndexArray:
    """(K,) faces after whose smoothing group holds other faces now; the numbers mean nothing.

    Off is one state, whatever it is called; a file that says nothing is off throughout.
    """
    rows = rows_where(faces.parent >= 0)
    old = _groups(before)[faces.parent[rows]]
    new = _groups(after)[rows]
    if np.array_equal(old, new):
        return np.empty(0, dtype=np.int32)
    fine = np.zeros(len(rows), dtype=bool)
    pairs, member, count = np.unique(
        np.stack([old, new], axis=1), axis=0, return_inverse=True, return_counts=True
    )
    kept = _one_to_one(pairs, count.astype(np.int32))
    fine = kept[member.reshape(-1)]
    return rows[~fine]


def _groups(body: Body) -> IndexArray:
    if body.part.face_smoothing is None:
        return np.zeros(body.faces, dtype=np.int32)
    return body.part.face_smoothing


def _one_to_one(pairs: IndexArray, count: IndexArray) -> BoolArray:
    """Which (old, new) pairs of labels keep a group as it was: each label's largest share, taken
    once; 0 goes only with 0."""
    kept = np.zeros(len(pairs), dtype=bool)
    used_old: set[int] = set()
    used_new: set[int] = set()
    for row in np.argsort(-count, kind="stable").tolist():
        old, new = pairs[row].tolist()
        if (old == 0) != (new == 0) or old in used_old or new in used_new:
            continue
        kept[row] = True
        used_old.add(old)
        used_new.add(new)
    return kept


@dataclass(frozen=True, slots=True, kw_only=True)
class MaterialChange:
    """Faces that went from one material to another; "" for none.

    faces  (K,) rows after
    whole  all faces of the old material went, and the new one has no others
    """

    before: str
    after: str
    faces: IndexArray
    whole: bool


def material_changes(before: Body, after: Body, faces: FaceStory) -> tuple[MaterialChange, ...]:
    """What faces changed their material, by name, the most faces first."""
    rows = rows_where(faces.parent >= 0)
    names = tuple(dict.fromkeys(["", *before.part.materials, *after.part.materials]))
    old = _numbered(before.part.materials, names)[before.part.face_material[faces.parent[rows]]]
    new = _numbered(after.part.materials, names)[after.part.face_material[rows]]
    differs = old != new
    if not differs.any():
        return ()
    pairs, member = np.unique(
        np.stack([old[differs], new[differs]], axis=1), axis=0, return_inverse=True
    )
    changed = rows[differs]
    told = [
        MaterialChange(
            before=names[one],
            after=names[other],
            faces=changed[member.reshape(-1) == number],
            whole=bool(((old == one) == (new == other)).all()),
        )
        for number, (one, other) in enumerate(pairs.tolist())
    ]
    return tuple(sorted(told, key=lambda change: -len(change.faces)))


def _numbered(own: Sequence[str], names: tuple[str, ...]) -> IndexArray:
    """Number among `names` of each own material, and last of none (row -1)."""
    return np.array([*(names.index(name) for name in own), 0], dtype=np.int32)
