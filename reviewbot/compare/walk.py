"""Follow the polygons from what is known: a neighbour of a known face, across a known edge.

Where points were moved, their places say nothing; but a face beside a face that is known on both
sides is known too, as long as its polygon is the same, and so are its points.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reviewbot.compare.polygons import Rounds, place_keys
from reviewbot.geometry.polygons import corner_faces, corners_of, next_corners
from reviewbot.geometry.rows import rows_where
from reviewbot.measure.shells import Shells
from reviewbot.mesh import BoolArray, IndexArray

WORK_LIMIT = 60_000_000  # corners looked at: a walk over a whole large part from one face stops


@dataclass(frozen=True, slots=True, kw_only=True)
class Web:
    """The polygons of one version as a walk needs them.

    places      (C,) int32 number of the place under each corner
    face_start  (F + 1,)
    across      (C,) int32 the one other side on the edge under each side, -1 where there is
                none or it is not clear
    """

    places: IndexArray
    face_start: IndexArray
    across: IndexArray


def web_of(places: IndexArray, face_start: IndexArray, shells: Shells) -> Web:
    """Where more than two sides lie on an edge, those over which alone the UVs go on are joined;
    faces back to back are not joined with each other."""
    across = np.full(len(places), -1, dtype=np.int32)
    edges = shells.edges
    crowded = shells.joins[edges.side_count[edges.corner_edge[shells.joins[:, 0]]] > 2]
    if len(crowded):
        key = place_keys(Rounds(places=places, face_start=face_start, order=np.empty(0)))
        owner = corner_faces(face_start)
        crowded = crowded[key[owner[crowded[:, 0]]] != key[owner[crowded[:, 1]]]]
    once = np.bincount(crowded.reshape(-1), minlength=len(places)) == 1
    crowded = crowded[once[crowded].all(axis=1)]
    across[crowded[:, 0]], across[crowded[:, 1]] = crowded[:, 1], crowded[:, 0]
    start = edges.side_start[:-1][edges.side_count == 2]
    first, second = edges.sides[start], edges.sides[start + 1]
    across[first], across[second] = second, first
    return Web(places=places, face_start=face_start, across=across)


@dataclass(slots=True, kw_only=True)
class Known:
    """What is known so far; grown in place by `walk`.

    twin_after   (N,) int32 for each place before, its place after, -1 unknown
    twin_before  (N,) int32 for each place after, its place before, -1 unknown
    face         (F,) int32 for each face after, the same face before, -1 unknown
    taken        (F,) bool faces before that are known
    corner       (C,) int32 for each corner after, the corner before, -1 unknown
    """

    twin_after: IndexArray
    twin_before: IndexArray
    face: IndexArray
    taken: BoolArray
    corner: IndexArray

    @property
    def is_complete(self) -> bool:
        """No face is left on one of the sides."""
        return bool(self.taken.all() or (self.face >= 0).all())

    def copy(self) -> Known:
        return Known(
            twin_after=self.twin_after.copy(),
            twin_before=self.twin_before.copy(),
            face=self.face.copy(),
            taken=self.taken.copy(),
            corner=self.corner.copy(),
        )

    def become(self, other: Known) -> None:
        self.twin_after, self.twin_before = other.twin_after, other.twin_before
        self.face, self.taken, self.corner = other.face, other.taken, other.corner


def walk(before: Web, after: Web, known: Known) -> None:
    """Grow what is known until no neighbour of a known face fits any more."""
    face_before, face_after = corner_faces(before.face_start), corner_faces(after.face_start)
    frontier = rows_where(known.face >= 0)
    work = 0
    while len(frontier) and work < WORK_LIMIT:
        sides_before, sides_after = _beside(before, after, known, frontier)
        fresh = (~known.taken[face_before[sides_before]]) & (
            known.face[face_after[sides_after]] < 0
        )
        work += len(sides_before)
        frontier = _accept(before, after, known, sides_before[fresh], sides_after[fresh])


def seed(before: Web, after: Web, known: Known) -> None:
    """Accept unknown faces on a side whose two places are both known, then walk on from there."""
    sides_before, sides_after = _sides_between_known(before, after, known)
    _accept(before, after, known, sides_before, sides_after)
    walk(before, after, known)


def _sides_between_known(before: Web, after: Web, known: Known) -> tuple[IndexArray, IndexArray]:
    """Sides of unknown faces that run between the same two known places, once on either side."""
    head_before = before.places[next_corners(before.face_start)]
    head_after = after.places[next_corners(after.face_start)]
    rows_before = rows_where(
        ~known.taken[corner_faces(before.face_start)]
        & (known.twin_after[before.places] >= 0)
        & (known.twin_after[head_before] >= 0)
    )
    rows_after = rows_where(
        (known.face[corner_faces(after.face_start)] < 0)
        & (known.twin_before[after.places] >= 0)
        & (known.twin_before[head_after] >= 0)
    )
    tail = known.twin_before[after.places[rows_after]].astype(np.int64)
    key_after = (tail << 32) | known.twin_before[head_after[rows_after]]
    key_before = (before.places[rows_before].astype(np.int64) << 32) | head_before[rows_before]
    unique_before, first_before, count_before = np.unique(
        key_before, return_index=True, return_counts=True
    )
    unique_after, first_after, count_after = np.unique(
        key_after, return_index=True, return_counts=True
    )
    _, in_before, in_after = np.intersect1d(
        unique_before[count_before == 1],
        unique_after[count_after == 1],
        assume_unique=True,
        return_indices=True,
    )
    return (
        rows_before[first_before[count_before == 1][in_before]].astype(np.int32),
        rows_after[first_after[count_after == 1][in_after]].astype(np.int32),
    )


def _beside(
    before: Web, after: Web, known: Known, faces: IndexArray
) -> tuple[IndexArray, IndexArray]:
    """Sides across the edges of known faces: in the version before, and the same one after."""
    corners = corners_of(after.face_start, faces)
    follow = next_corners(after.face_start)
    mate, mate_of_next = known.corner[corners], known.corner[follow[corners]]
    runs_on = next_corners(before.face_start)[mate] == mate_of_next
    side_before = before.across[np.where(runs_on, mate, mate_of_next)]
    side_after = after.across[corners]
    both = (side_before >= 0) & (side_after >= 0)
    return side_before[both], side_after[both]


def _accept(
    before: Web, after: Web, known: Known, sides_before: IndexArray, sides_after: IndexArray
) -> IndexArray:
    """Take the faces on these pairs of sides as the same where nothing known speaks against it.

    returns  the faces after that are known now and were not
    """
    face_before, face_after = corner_faces(before.face_start), corner_faces(after.face_start)
    owner_before, owner_after = face_before[sides_before], face_after[sides_after]
    same_size = np.diff(before.face_start)[owner_before] == np.diff(after.face_start)[owner_after]
    rows = rows_where(same_size)
    # One pair a face; of several the first, the others say the same or are contradicted below.
    rows = rows[np.unique(owner_after[rows], return_index=True)[1]]
    rows = rows[np.unique(owner_before[rows], return_index=True)[1]]
    if not len(rows):
        return np.empty(0, dtype=np.int32)
    faces, mates = owner_after[rows], owner_before[rows]
    sizes = np.diff(after.face_start)[faces]
    corners = corners_of(after.face_start, faces)
    turn = np.repeat(sides_after[rows] - after.face_start[faces], sizes)
    local = corners - np.repeat(after.face_start[faces], sizes)
    backwards = np.repeat(
        _runs_back(before, after, known, sides_before[rows], sides_after[rows]), sizes
    )
    start = np.repeat(sides_before[rows] - before.face_start[mates], sizes)
    step = np.where(backwards, 1 + turn - local, local - turn)
    wrapped = (start + step) % np.repeat(sizes, sizes)
    mate = np.repeat(before.face_start[mates], sizes) + wrapped
    return take_faces(before, after, known, faces=faces, mates=mates, mate=mate)


def take_faces(
    before: Web,
    after: Web,
    known: Known,
    *,
    faces: IndexArray,
    mates: IndexArray,
    mate: IndexArray,
) -> IndexArray:
    """Note pairs of faces as the same, save those that pair a place otherwise than known or than
    each other.

    faces    (K,) faces after, each once; mates (K,) their faces before, each once
    mate     corners before, for all corners of the faces after in their order
    returns  those of the faces after that were noted
    """
    sizes = np.diff(after.face_start)[faces]
    corners = corners_of(after.face_start, faces)
    group = np.repeat(np.arange(len(faces), dtype=np.int32), sizes)
    good = _agreeing(before.places[mate], after.places[corners], group, len(faces), known)
    keep = good[group]
    old, new = before.places[mate[keep]], after.places[corners[keep]]
    known.twin_after[old], known.twin_before[new] = new, old
    known.corner[corners[keep]] = mate[keep]
    known.face[faces[good]] = mates[good]
    known.taken[mates[good]] = True
    return faces[good]


def _runs_back(
    before: Web, after: Web, known: Known, sides_before: IndexArray, sides_after: IndexArray
) -> BoolArray:
    """Whether the side after runs against the side before, by the places known at its start."""
    tail = known.twin_before[after.places[sides_after]]
    return np.asarray(tail == before.places[next_corners(before.face_start)[sides_before]])


def _agreeing(
    old: IndexArray, new: IndexArray, group: IndexArray, count: int, known: Known
) -> BoolArray:
    """(count,) bool: no corner of the group pairs a place that is, or becomes, paired otherwise."""
    twin_new, twin_old = known.twin_after[old], known.twin_before[new]
    clash = ((twin_new >= 0) & (twin_new != new)) | ((twin_old >= 0) & (twin_old != old))
    for own, other in ((old, new), (new, old)):
        order = np.lexsort((other, own))
        first, second = order[:-1], order[1:]
        differs = (own[first] == own[second]) & (other[first] != other[second])
        clash[first[differs]] = clash[second[differs]] = True
    good = np.ones(count, dtype=bool)
    good[group[clash]] = False
    return good
