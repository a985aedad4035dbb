"""What happened to polygons that are not the same: cut, merged, subdivided, added, removed, redone.

Faces left over by the match are taken off in turn: pieces of a larger face, faces merged from
smaller ones, faces of a subdivision step; what remains is judged in patches of faces that touch.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reviewbot.compare.body import Body
from reviewbot.compare.match import Match
from reviewbot.compare.pieces import pieces_of
from reviewbot.compare.polygons import Rounds, chosen, triangles_in
from reviewbot.compare.refined import find_refined
from reviewbot.compare.regrouped import corners_known, first_pieces, regrouped
from reviewbot.geometry.groups import joined_labels, renumbered
from reviewbot.geometry.polygons import corners_of, face_areas, face_centres
from reviewbot.geometry.rows import rows_where
from reviewbot.geometry.surface_distance import distance_to_surface
from reviewbot.geometry.triangles import triangulate
from reviewbot.mesh import BoolArray, FloatArray, IndexArray

MOVED = "reshaped"  # as many faces and new places as were lost: the same polygons, moved
NOISE = 2e-3  # of the part's size
SURFACE_KEPT = 1e-3  # of the part's size: a patch nearer than this follows the old surface
AREA_KEPT = 0.01
MANY = 2.5  # times as many faces as before: subdivided, most likely
LOCAL = 0.25  # of the part's faces: a redone patch smaller than this is an edit, not a new topology


@dataclass(frozen=True, slots=True, kw_only=True)
class FaceEdit:
    """Faces to which one thing happened.

    code          as published
    before        faces concerned before
    after         faces concerned after
    faces_before  rows of them; faces_after likewise
    distance      how far the new surface lies off the old one, in units; None where not measured
    smooth        a subdivision that also smoothed the points
    made          how many faces it gave, where a later edit made others of them; else None
    of            of how many faces before, where they are not those it was compared with; else None
    """

    code: str
    faces_before: IndexArray
    faces_after: IndexArray
    distance: float | None = None
    smooth: bool = False
    made: int | None = None
    of: int | None = None

    @property
    def keeps_surface(self) -> bool:
        """Only the lines on the surface changed."""
        return self.code in ("triangulated", "subdivided", "faces-merged") and not self.smooth


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


class _Left:
    """Faces that nothing explains yet."""

    def __init__(self, before: Body, after: Body, match: Match) -> None:
        self.before_bodies, self.after_bodies = before, after
        self.before, self.after = ~match.taken, match.face < 0
        own = match.after_place[after.shells.corner_place]
        self.all_before = rounds_of(match.before_place[before.shells.corner_place], before)
        self.all_after = rounds_of(np.where(match.twin[own] >= 0, match.twin[own], own), after)
        stays = np.arange(len(match.twin))
        self.moved_places = int(((match.twin >= 0) & (match.twin != stays)).sum())
        self.parent, self.corner = match.face.copy(), match.corner.copy()
        self.turned = np.zeros(after.faces, dtype=bool)
        self.edits: list[FaceEdit] = []

    @property
    def moving(self) -> bool:
        """More points moved than faces are left: what is left moved too."""
        return self.moved_places > int(self.after.sum())

    @property
    def rows(self) -> tuple[IndexArray, IndexArray]:
        return rows_where(self.before), rows_where(self.after)

    def rounds(self) -> tuple[Rounds, Rounds]:
        rows_before, rows_after = self.rows
        return chosen(self.all_before, rows_before), chosen(self.all_after, rows_after)

    def note(self, edit: FaceEdit) -> None:
        self.edits.append(edit)
        self.before[edit.faces_before] = False
        self.after[edit.faces_after] = False


def rounds_of(places: IndexArray, body: Body) -> Rounds:
    return Rounds(
        places=places.astype(np.int32), face_start=body.part.face_start, order=np.zeros(body.faces)
    )


def tell_faces(before: Body, after: Body, match: Match, tolerance: float) -> FaceStory:
    """What happened to the polygons of one part, given which are the same."""
    left = _Left(before, after, match)
    if int(left.after.sum()) > MANY * int(left.before.sum()) > 0:
        _take_refined(left, tolerance)
    solid = match.face >= 0
    for take in (_take_cut, _take_merged):
        if left.before.any() and left.after.any():
            take(left, solid)
    if left.before.any() and left.after.any():
        _take_regrouped(left, solid)
    if left.before.any() and left.after.any():
        _take_refined(left, tolerance)
    if left.before.any() or left.after.any():
        _take_patches(left)
    told = _summed_up(left.edits)
    return FaceStory(
        edits=tuple(edit for edit in told if edit.code != MOVED),
        moved=next((edit for edit in told if edit.code == MOVED), None),
        parent=left.parent,
        corner=left.corner,
        turned=left.turned,
        solid=solid,
    )


def _take_cut(left: _Left, solid: BoolArray) -> None:
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
    solid[rows_after[sound]] = True
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


def _take_merged(left: _Left, solid: BoolArray) -> None:
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
    solid[rows_after[pieces.parent[merged]]] = True
    collapsed = rows_where(triangles_in(new) == 0)
    wholes = np.unique(np.concatenate([pieces.parent[merged], collapsed]))
    left.note(
        FaceEdit(
            code="faces-merged", faces_before=rows_before[merged], faces_after=rows_after[wholes]
        )
    )


def _take_regrouped(left: _Left, solid: BoolArray) -> None:
    """Faces that were cut and merged at once."""
    rows_before, rows_after = left.rows
    found = regrouped(*left.rounds(), left.all_before)
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
    solid[rows_after[made]] = True
    known = rows_where(found.owner >= 0)
    several = np.bincount(found.owner[known], minlength=len(rows_after)) > 1
    cut = known[~found.whole[known]]
    triangles = bool((np.diff(found.small.face_start)[cut] == 3).all())
    in_larger = several[found.owner]
    for code, pieces, into in (
        ("triangulated" if triangles else "subdivided", cut, len(cut)),
        ("faces-merged", known[in_larger[known]], int(several.sum())),
    ):
        faces = np.unique(found.owner[pieces])
        if len(faces):
            left.edits.append(
                FaceEdit(
                    code=code,
                    faces_before=rows_before[np.unique(found.parent[pieces])],
                    faces_after=rows_after[faces],
                    made=into,
                )
            )
    left.before[rows_before[found.parent[known]]] = False
    left.after[rows_after[made]] = False


def _complete(small: Rounds, large: Rounds, parent: IndexArray) -> BoolArray:
    """(F,) whether the pieces of each larger face cover it.

    One entry more, False, stands for no parent.
    """
    inside = parent >= 0
    covered = np.bincount(
        parent[inside], weights=triangles_in(small)[inside], minlength=len(large.order)
    )
    return np.append(covered == triangles_in(large), False)


def _take_refined(left: _Left, tolerance: float) -> None:
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


def _note_moved(left: _Left, before: IndexArray, after: IndexArray, moved_by: float) -> None:
    """Faces moved as well as cut; without a distance, by as far as the surfaces lie apart, which
    must be more than points so near each other that they were taken for one another."""
    rows_before, rows_after = left.rows
    apart = _distances(left, np.zeros_like(rows_before), np.zeros_like(rows_after), 1)
    distance = moved_by or float(apart[0])
    if distance > NOISE * float(np.linalg.norm(np.ptp(left.before_bodies.used_spots, axis=0))):
        left.edits.append(
            FaceEdit(code=MOVED, faces_before=before, faces_after=after, distance=distance)
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Patches:
    """Leftover faces that touch, by number.

    of_before, of_after   (N,), (M,) patch of each leftover face
    lost, fresh           (P,) places that only the version before or after has
    distance              (P,) how far the surfaces lie apart; inf where one side has no face
    area_before, area_after (P,)
    """

    of_before: IndexArray
    of_after: IndexArray
    lost: IndexArray
    fresh: IndexArray
    distance: FloatArray
    area_before: FloatArray
    area_after: FloatArray
    count_before: IndexArray
    count_after: IndexArray


def _take_patches(left: _Left) -> None:
    rows_before, rows_after = left.rows
    before, after = left.before_bodies, left.after_bodies
    patches = _patches_of(left)
    if 2 * len(rows_before) > before.faces and 2 * len(rows_after) > after.faces:
        patches = _as_one(patches)  # patches of a part laid anew need not touch each other
    size = float(np.linalg.norm(np.ptp(before.used_spots, axis=0))) or 1.0
    share = patches.count_before / max(before.faces, 1)
    codes = _patch_codes(patches, SURFACE_KEPT * size, share, moving=left.moving)
    for code in dict.fromkeys(codes):
        own = np.array([one == code for one in codes])
        distance = patches.distance[own]
        finite = distance[np.isfinite(distance)]
        left.note(
            FaceEdit(
                code=code,
                faces_before=rows_before[own[patches.of_before]],
                faces_after=rows_after[own[patches.of_after]],
                distance=float(finite.max()) if len(finite) else None,
            )
        )


def _as_one(patches: _Patches) -> _Patches:
    def total(values: FloatArray) -> FloatArray:
        return np.array([values.sum()])

    return _Patches(
        of_before=np.zeros_like(patches.of_before),
        of_after=np.zeros_like(patches.of_after),
        lost=patches.lost.sum(keepdims=True).astype(np.int32),
        fresh=patches.fresh.sum(keepdims=True).astype(np.int32),
        distance=np.array([patches.distance.max()]),
        area_before=total(patches.area_before),
        area_after=total(patches.area_after),
        count_before=patches.count_before.sum(keepdims=True).astype(np.int32),
        count_after=patches.count_after.sum(keepdims=True).astype(np.int32),
    )


def _patch_codes(patches: _Patches, kept: float, share: FloatArray, *, moving: bool) -> list[str]:
    return [
        _patch_code(
            int(before),
            int(after),
            int(lost),
            int(fresh),
            surface_kept=bool(same),
            local=bool(part),
            moving=moving,
        )
        for before, after, lost, fresh, same, part in zip(
            patches.count_before,
            patches.count_after,
            patches.lost,
            patches.fresh,
            (patches.distance <= kept)
            & (np.abs(patches.area_after / patches.area_before - 1) <= AREA_KEPT),
            share < LOCAL,
            strict=True,
        )
    ]


def _patch_code(
    before: int,
    after: int,
    lost: int,
    fresh: int,
    *,
    surface_kept: bool,
    local: bool,
    moving: bool,
) -> str:
    """What happened to one patch of `before` faces that are `after` faces now.

    lost, fresh   places that only one version has
    surface_kept  the new faces follow the old surface
    local         the patch is a small share of the part
    moving        many points round about moved
    """
    if before == after and (moving or (lost == fresh > 0 and not surface_kept)):
        return MOVED
    if not before or (after > before and not surface_kept and (not lost or local)):
        return "faces-added"
    thinned = not fresh and after <= before / 20
    if not after or (after < before and not surface_kept and (thinned or local)):
        return "faces-removed"
    if surface_kept and after > before and not lost:
        return "subdivided"
    if surface_kept and after < before and not fresh:
        return "faces-merged"
    return "retopologised"


def _patches_of(left: _Left) -> _Patches:
    rows_before, rows_after = left.rows
    old, new = left.rounds()
    of_before, of_after, count = _touching(old, new)
    lost, fresh = _only_on_one_side(old, new, of_before, of_after, count)
    before, after = left.before_bodies, left.after_bodies
    area_before = _areas(before, rows_before)
    area_after = _areas(after, rows_after)
    return _Patches(
        of_before=of_before,
        of_after=of_after,
        lost=lost,
        fresh=fresh,
        distance=_distances(left, of_before, of_after, count),
        area_before=_sums(area_before, of_before, count),
        area_after=_sums(area_after, of_after, count),
        count_before=np.bincount(of_before, minlength=count).astype(np.int32),
        count_after=np.bincount(of_after, minlength=count).astype(np.int32),
    )


def _sums(values: FloatArray, patch: IndexArray, count: int) -> FloatArray:
    return np.asarray(np.bincount(patch, weights=values, minlength=count), dtype=np.float64)


def _areas(body: Body, rows: IndexArray) -> FloatArray:
    areas = face_areas(body.points, body.part.corner_point, body.part.face_start)[rows]
    return np.nan_to_num(areas)


def _touching(old: Rounds, new: Rounds) -> tuple[IndexArray, IndexArray, int]:
    """Patch of each face of either version: faces that share a place belong together."""
    before, after = len(old.order), len(new.order)
    faces = np.concatenate(
        [
            np.repeat(np.arange(before), np.diff(old.face_start)),
            before + np.repeat(np.arange(after), np.diff(new.face_start)),
        ]
    ).astype(np.int32)
    _, place = np.unique(np.concatenate([old.places, new.places]), return_inverse=True)
    node = (before + after + place).astype(np.int32)
    label = joined_labels(int(node.max(initial=before + after - 1)) + 1, faces, node)
    patch = renumbered(label[: before + after])
    return patch[:before], patch[before:], int(patch.max(initial=-1)) + 1


def _only_on_one_side(
    old: Rounds, new: Rounds, of_before: IndexArray, of_after: IndexArray, count: int
) -> tuple[IndexArray, IndexArray]:
    numbers = []
    for own, other, patch in ((old, new, of_before), (new, old, of_after)):
        alone = ~np.isin(own.places, other.places)
        where = np.repeat(patch, np.diff(own.face_start))[alone]
        pairs = np.unique(np.stack([own.places[alone], where], axis=1), axis=0)
        numbers.append(np.bincount(pairs[:, 1], minlength=count).astype(np.int32))
    return numbers[0], numbers[1]


def _distances(left: _Left, of_before: IndexArray, of_after: IndexArray, count: int) -> FloatArray:
    """(P,) the farthest middle of a leftover face from the other version's leftover faces."""
    farthest = np.zeros(count)
    rows_before, rows_after = left.rows
    sides = (
        (left.before_bodies, rows_before, of_before, left.after_bodies, rows_after),
        (left.after_bodies, rows_after, of_after, left.before_bodies, rows_before),
    )
    for body, rows, patch, other, other_rows in sides:
        centres = face_centres(body.points, body.part.corner_point, body.part.face_start)[rows]
        off = distance_to_surface(centres, _triangles(other, other_rows))
        np.maximum.at(farthest, patch, off)
    return farthest


def _triangles(body: Body, rows: IndexArray) -> FloatArray:
    corners, face = triangulate(body.points, body.part.corner_point, body.part.face_start)
    wanted = np.zeros(body.faces, dtype=bool)
    wanted[rows] = True
    return np.asarray(body.points[body.part.corner_point[corners[wanted[face]]]])


CODE_ORDER = (
    MOVED,
    "retopologised",
    "triangulated",
    "subdivided",
    "faces-merged",
    "faces-removed",
    "faces-added",
)


def _summed_up(edits: list[FaceEdit]) -> tuple[FaceEdit, ...]:
    """One edit a code."""
    told = []
    for code in CODE_ORDER:
        own = [edit for edit in edits if edit.code == code]
        if own:
            distances = [edit.distance for edit in own if edit.distance is not None]
            told.append(
                FaceEdit(
                    code=code,
                    faces_before=np.concatenate([edit.faces_before for edit in own]),
                    faces_after=np.concatenate([edit.faces_after for edit in own]),
                    distance=max(distances, default=None),
                    smooth=any(edit.smooth for edit in own),
                    made=sum(
                        len(edit.faces_after) if edit.made is None else edit.made for edit in own
                    )
                    if any(edit.made is not None for edit in own)
                    else None,
                )
            )
    return tuple(told)
