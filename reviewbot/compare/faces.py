"""What happened to polygons that are not the same: cut, merged, subdivided, added, removed, redone.

Faces left over by the match are taken off in turn: pieces of a larger face, faces merged from
smaller ones, faces of a subdivision step; what remains is judged in patches of faces that touch.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from reviewbot.compare.body import Body
from reviewbot.compare.face_edits import MOVED, FaceEdit, LeftFaces, summed_up
from reviewbot.compare.match import Match
from reviewbot.compare.patches import surface_distances, take_patches
from reviewbot.compare.pieces import pieces_of
from reviewbot.compare.polygons import Rounds, chosen, come_back, triangles_in
from reviewbot.compare.refined import find_refined
from reviewbot.compare.regrouped import Regrouped, corners_known, first_pieces, regrouped
from reviewbot.geometry.polygons import corners_of
from reviewbot.geometry.rows import rows_where
from reviewbot.mesh import BoolArray, IndexArray

NOISE = 2e-3  # of the part's size
MANY = 2.5  # times as many faces as before: subdivided, most likely


@dataclass(frozen=True, slots=True, kw_only=True)
class FaceStory:
    """All that happened to the polygons of one part.

    edits   in the order of the codes
    moved   faces whose polygons are the same but for points that moved too far to be followed
    parent  (Fa,) int32 the face before that each face after is, or is a piece of; -1 for none
    corner  (Ca,) int32 the corner before under each corner after, -1 for none
    turned  (Fa,) bool: pieces and mergers wound the other way than the old face
    solid   (Fa,) bool: the same polygon, or a piece or a merger of old ones, on old points alone
    """

    edits: tuple[FaceEdit, ...]
    moved: FaceEdit | None
    parent: IndexArray
    corner: IndexArray
    turned: BoolArray
    solid: BoolArray


def tell_faces(before: Body, after: Body, match: Match, tolerance: float) -> FaceStory:
    """What happened to the polygons of one part, given which are the same."""
    left = LeftFaces(before, after, match)
    if int(left.after.sum()) > MANY * int(left.before.sum()) > 0:
        _take_refined(left, tolerance)
    for take in (_take_cut, _take_merged, _take_regrouped):
        if left.before.any() and left.after.any():
            take(left)
    if left.before.any() and left.after.any():
        _take_refined(left, tolerance)
    if left.before.any() or left.after.any():
        take_patches(left)
    told = summed_up(left.edits)
    return FaceStory(
        edits=tuple(edit for edit in told if edit.code != MOVED),
        moved=next((edit for edit in told if edit.code == MOVED), None),
        parent=left.parent,
        corner=left.corner,
        turned=left.turned,
        solid=left.solid,
    )


def _take_cut(left: LeftFaces) -> None:
    rows_before, rows_after = left.rows
    old, new = left.rounds()
    pieces = pieces_of(new, old)
    whole = _complete(new, old, pieces.parent)
    cut = rows_where((pieces.parent >= 0) & whole[pieces.parent])
    if not (triangles_in(old)[pieces.parent[cut]] > 0).any():
        return
    sound = cut[triangles_in(new)[cut] > 0]  # whose piece a collapsed face is nobody can tell
    own = corners_of(left.after_bodies.part.face_start, rows_after[sound])
    origin = corners_of(left.before_bodies.part.face_start, rows_before)
    inner = pieces.corner[corners_of(new.face_start, sound)]
    left.corner[own] = np.where(inner >= 0, origin[inner], -1)
    left.parent[rows_after[sound]] = rows_before[pieces.parent[sound]]
    left.turned[rows_after[sound]] = pieces.turned[sound]
    left.solid[rows_after[sound]] = True
    sizes = np.diff(new.face_start)
    only_triangles = np.ones(len(rows_before), dtype=bool)
    only_triangles[pieces.parent[cut[sizes[cut] > 3]]] = False
    collapsed = rows_where(triangles_in(old) == 0)
    for code, parents in (("triangulated", only_triangles), ("subdivided", ~only_triangles)):
        faces = cut[parents[pieces.parent[cut]]]
        if len(faces):
            wholes = np.unique(np.concatenate([pieces.parent[faces], collapsed]))
            left.note(
                FaceEdit(code=code, faces_before=rows_before[wholes], faces_after=rows_after[faces])
            )
            collapsed = collapsed[:0]


def _take_merged(left: LeftFaces) -> None:
    rows_before, rows_after = left.rows
    old, new = left.rounds()
    pieces = pieces_of(old, new)
    whole = _complete(old, new, pieces.parent)
    merged = rows_where((pieces.parent >= 0) & whole[pieces.parent])
    if not (triangles_in(new)[pieces.parent[merged]] > 0).any():
        return
    own = corners_of(left.after_bodies.part.face_start, rows_after)
    origin = corners_of(left.before_bodies.part.face_start, rows_before[merged])
    outer = pieces.corner[corners_of(old.face_start, merged)]
    left.corner[own[outer[outer >= 0]]] = origin[outer >= 0]
    left.parent[rows_after[pieces.parent[merged]]] = rows_before[merged]
    left.turned[rows_after[pieces.parent[merged]]] = pieces.turned[merged]
    left.solid[rows_after[pieces.parent[merged]]] = True
    collapsed = rows_where(triangles_in(new) == 0)
    wholes = np.unique(np.concatenate([pieces.parent[merged], collapsed]))
    left.note(
        FaceEdit(
            code="faces-merged", faces_before=rows_before[merged], faces_after=rows_after[wholes]
        )
    )


def _take_regrouped(left: LeftFaces) -> None:
    """Faces that were cut and merged at once."""
    rows_before, rows_after = (
        rows[~come_back(rounds)] for rows, rounds in zip(left.rows, left.rounds(), strict=True)
    )
    old, new = chosen(left.all_before, rows_before), chosen(left.all_after, rows_after)
    found = regrouped(old, new, left.all_before)
    if found is None:
        return
    own = corners_of(left.after_bodies.part.face_start, rows_after)
    origin = corners_of(left.before_bodies.part.face_start, rows_before)
    corners, old_corners = corners_known(found)
    left.corner[own[corners]] = origin[old_corners]
    first = first_pieces(found, len(rows_after))
    made = rows_where(first >= 0)
    left.parent[rows_after[made]] = rows_before[found.parent[first[made]]]
    left.turned[rows_after[made]] = found.turned[first[made]]
    left.solid[rows_after[made]] = True
    left.edits += _regrouping(found, rows_before, rows_after)
    left.before[rows_before[found.parent[found.owner >= 0]]] = False
    left.after[rows_after[made]] = False


def _regrouping(
    found: Regrouped, rows_before: IndexArray, rows_after: IndexArray
) -> Iterator[FaceEdit]:
    """What was cut and what was merged of faces that were both."""
    known = rows_where(found.owner >= 0)
    several = np.bincount(found.owner[known], minlength=len(rows_after)) > 1
    cut, merged = known[~found.whole[known]], known[several[found.owner[known]]]
    triangles = bool((np.diff(found.small.face_start)[cut] == 3).all())
    for code, pieces, made in (
        ("triangulated" if triangles else "subdivided", cut, len(cut)),
        ("faces-merged", merged, int(several.sum())),
    ):
        if len(pieces):
            yield FaceEdit(
                code=code,
                faces_before=rows_before[np.unique(found.parent[pieces])],
                faces_after=rows_after[np.unique(found.owner[pieces])],
                made=made,
            )


def _complete(small: Rounds, large: Rounds, parent: IndexArray) -> BoolArray:
    """(F,) whether the pieces of each larger face cover it.

    One entry more, False, stands for no parent.
    """
    inside = parent >= 0
    covered = np.bincount(
        parent[inside], weights=triangles_in(small)[inside], minlength=len(large.order)
    )
    return np.append(covered == triangles_in(large), False)


def _take_refined(left: LeftFaces, tolerance: float) -> None:
    rows_before, rows_after = left.rows
    found = find_refined(left.before_bodies, rows_before, left.after_bodies, rows_after, tolerance)
    if found is None:
        return
    own = corners_of(left.after_bodies.part.face_start, rows_after)
    left.parent[rows_after] = found.parent
    left.corner[own] = found.corner
    left.turned[rows_after] = found.turned
    unknown = found.parent < 0
    gone, fresh = found.torn, rows_after[unknown]
    if unknown.all():
        gone = fresh = gone[:0]  # a step known by its numbers alone
    if found.moved_by:
        _note_moved(left, rows_before, rows_after, found.moved_by)
    elif found.missing and len(fresh):
        _note_moved(left, gone, fresh, 0.0)
        gone = fresh = gone[:0]
    left.note(
        FaceEdit(
            code="subdivided",
            faces_before=rows_before[~np.isin(rows_before, gone)],
            faces_after=rows_after[~np.isin(rows_after, fresh)],
            smooth=found.smooth,
        )
    )
    nothing = gone[:0]
    if len(gone):
        left.note(FaceEdit(code="faces-removed", faces_before=gone, faces_after=nothing))
    if len(fresh):
        left.note(FaceEdit(code="faces-added", faces_before=nothing, faces_after=fresh))


def _note_moved(left: LeftFaces, before: IndexArray, after: IndexArray, moved_by: float) -> None:
    """Faces moved as well as cut; without a distance, by as far as the surfaces lie apart, which
    must be more than points so near each other that they were taken for one another."""
    rows_before, rows_after = left.rows
    apart = surface_distances(left, np.zeros_like(rows_before), np.zeros_like(rows_after), 1)
    distance = moved_by or float(apart[0])
    if distance > NOISE * float(np.linalg.norm(np.ptp(left.before_bodies.used_spots, axis=0))):
        left.edits.append(
            FaceEdit(code=MOVED, faces_before=before, faces_after=after, distance=distance)
        )
