"""Everything that happened to one part, as found: figures and rows, no words yet."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from reviewbot.compare.attributes import (
    NO_NORMALS,
    MaterialChange,
    NormalStory,
    Welding,
    flipped_faces,
    material_changes,
    smoothing_changed,
    tell_normals,
    tell_welding,
)
from reviewbot.compare.body import Body, carried
from reviewbot.compare.faces import FaceStory, tell_faces
from reviewbot.compare.laid_anew import NOT_LAID_ANEW, tell_laid_anew
from reviewbot.compare.match import (
    Match,
    ValueMatch,
    forgotten,
    match_by_value,
    match_moved,
)
from reviewbot.compare.pose import Versions, find_pose
from reviewbot.compare.seams import SeamStory, tell_seams
from reviewbot.compare.stepped import SMOOTHED_NOISE, Stepped, find_step
from reviewbot.compare.stepped_faces import explains, with_step
from reviewbot.compare.unwrap import UnwrapStory, tell_unwrap
from reviewbot.compare.uv_faces import compare_mapping
from reviewbot.compare.uv_places import UV_SAME, corner_uvs
from reviewbot.compare.uv_sense import UvFit, uv_fit
from reviewbot.geometry.rows import rows_where
from reviewbot.mesh import BoolArray, FloatArray, IndexArray
from reviewbot.settings import LimitSettings

IN_PLACE = 0.6  # of a part's corners stand on old places: the part did not move
ROUGH, FINE = 1e-5, 2e-6  # of the asset's size: what may count as the same place, and what must
REMADE = 0.5  # of a part's faces
SMOOTHED_ASIDE = 4.0  # times as far as smoothing took any old point


@dataclass(frozen=True, slots=True, kw_only=True)
class Reshape:
    """Points of equal polygons that were moved.

    places    (K,) rows of places after
    distance  (K,) float64 units of the version before
    compared  places that correspond at all
    lost      faces whose points moved too far to be followed one by one
    lost_by   how far those faces lie from where they lay, in units of the version before
    """

    places: IndexArray
    distance: FloatArray
    compared: int
    lost: IndexArray
    lost_by: float

    @property
    def happened(self) -> bool:
        return len(self.places) > 0 or len(self.lost) > 0


@dataclass(frozen=True, slots=True, kw_only=True)
class PartStory:
    """What happened to one part between two versions that lie in one space.

    before, after  the part; `after` is carried by the pose
    base           what `after` was compared with: `before`, or what subdividing it gives
    uvs_fit        whether the UVs can stay; None where the form is as it was, or without UVs
    pose           (4, 4) carries the part after onto the part before: a move of its own
    """

    before: Body
    after: Body
    base: Body
    pose: FloatArray
    match: Match
    reshape: Reshape
    faces: FaceStory
    seams: SeamStory
    unwrap: UnwrapStory
    uvs_fit: UvFit | None
    welding: Welding
    flipped: BoolArray
    normals: NormalStory
    smoothing: IndexArray
    materials: tuple[MaterialChange, ...]


def tell_part(
    before: Body,
    after: Body,
    tolerance: float,
    turns: Sequence[FloatArray],
    limits: LimitSettings,
) -> PartStory:
    """Compare two versions of one part.

    tolerance  in units: nearer is the same place
    turns      (4, 4) each has carried the part or a piece of it already; normals may not have
               followed
    """
    pose, told = _laid_and_told(before, after, tolerance)
    after, base, match, faces = carried(after, pose), told.base, told.match, told.faces
    reshape = _reshape(told, after, tolerance)
    mapping = compare_mapping(base, after, faces)
    seams = tell_seams(base, after, match, faces, mapping)
    unwrap = tell_unwrap(base, after, match, faces, seams, mapping=mapping)
    anew = tell_laid_anew(before, after) if told.remade else NOT_LAID_ANEW
    unwrap = replace(unwrap, lost=np.union1d(unwrap.lost, anew.lost).astype(np.int32))
    other_form = reshape.happened or any(not edit.keeps_surface for edit in faces.edits)
    normals = NO_NORMALS
    if told.step is None:
        quiet = _quiet_places(before, after, match, reshape)
        turned = [pose @ turn for turn in turns]
        normals = tell_normals(before, after, match, faces, turns=turned, quiet=quiet)
    return PartStory(
        before=before,
        after=after,
        base=base,
        pose=pose,
        match=match,
        reshape=reshape,
        faces=faces,
        seams=seams,
        unwrap=unwrap,
        uvs_fit=uv_fit(base, after, faces, unwrap, limits) if other_form else None,
        welding=tell_welding(base, after, match, faces),
        flipped=flipped_faces(before, after, match, faces) | anew.flipped,
        normals=normals,
        smoothing=anew.smoothing if told.remade else smoothing_changed(base, after, faces),
        materials=anew.materials if told.remade else material_changes(base, after, faces),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Polygons:
    """Which polygons are which, and what happened to the others.

    base  the part before, or what `step` gives of it
    """

    base: Body
    match: Match
    faces: FaceStory
    step: Stepped | None = None
    remade: bool = False


def _laid_and_told(before: Body, after: Body, tolerance: float) -> tuple[FloatArray, _Polygons]:
    """The (4, 4) move that carries the part after onto the part before, the identity where it did
    not move, and what happened to its polygons besides."""
    pose = np.eye(4)
    by_value = match_by_value(before, after, tolerance)
    step = _step_to(before, after, by_value, tolerance)
    in_place = step is not None and not step.moved_by
    if not in_place and not _lies_where_it_lay(before, after, by_value):
        versions = Versions(
            before=[before], after=[after], pairs=[(before, after)], reach=tolerance, whole=False
        )
        pose = find_pose(versions).matrix
    if not np.array_equal(pose, np.eye(4)):
        after = carried(after, pose)
        by_value = match_by_value(before, after, tolerance)
        step = _step_to(before, after, by_value, tolerance)
    return pose, _told_polygons(before, after, by_value, step, tolerance)


def _step_to(before: Body, after: Body, by_value: ValueMatch, tolerance: float) -> Stepped | None:
    """The subdivision of the part, None where it was not subdivided."""
    if by_value.known.is_complete:
        return None
    return find_step(before, after, by_value.known.taken, tolerance)


def _told_polygons(
    before: Body, after: Body, by_value: ValueMatch, step: Stepped | None, tolerance: float
) -> _Polygons:
    if step is not None:
        match = match_moved(step.body, after, match_by_value(step.body, after, tolerance))
        faces = tell_faces(step.body, after, match, tolerance)
        if explains(faces, after):
            faces = with_step(faces, step, before, after)
            return _Polygons(base=step.body, match=match, faces=faces, step=step)
    match = match_moved(before, after, by_value)
    faces = tell_faces(before, after, match, tolerance)
    remade = is_remade(faces, before, match)
    if remade:
        match = forgotten(match)
        faces = tell_faces(before, after, match, tolerance)
    return _Polygons(base=before, match=match, faces=faces, remade=remade)


def with_flip(story: PartStory, axis: str) -> PartStory:
    """The story under a flip of the UVs that the rest of the asset shows."""
    base, after, faces = story.base, story.after, story.faces
    mapping = compare_mapping(base, after, faces)
    unwrap = tell_unwrap(base, after, story.match, faces, story.seams, mapping=mapping, axis=axis)
    return replace(story, unwrap=unwrap)


def _lies_where_it_lay(before: Body, after: Body, by_value: ValueMatch) -> bool:
    """Whether most points lie on points, and most faces there carry the same UVs: then the part
    did not move. A round part turned about its axis lies on itself, but its UVs go with it."""
    if by_value.place_share < IN_PLACE:
        return False
    known = by_value.known.corner
    rows = rows_where((known >= 0) & after.mapped[after.corner_face])
    rows = rows[:: max(len(rows) // 4000, 1)]
    was = corner_uvs(before, known[rows])
    with np.errstate(invalid="ignore"):
        same = np.abs(was - corner_uvs(after, rows)).max(axis=1, initial=0.0) <= UV_SAME
    return bool(not len(rows) or same.mean() >= 0.5)


def is_remade(faces: FaceStory, before: Body, match: Match) -> bool:
    """Whether most polygons were laid anew: the few that look the same are so by chance.

    That is also so where most faces are gone and those left all lie elsewhere.
    """
    gone = {"retopologised": 0, "faces-removed": 0}
    for edit in faces.edits:
        if edit.code in gone:
            gone[edit.code] += len(edit.faces_before)
    if gone["retopologised"] > REMADE * before.faces:
        return True
    if sum(gone.values()) <= REMADE * before.faces:
        return False
    place = match.before_place[before.shells.corner_place]
    stays = match.twin[place] == place
    still = match.taken.copy()
    still[before.corner_face[~stays]] = False
    return bool(still.sum() < 0.5 * match.taken.sum())


def _reshape(told: _Polygons, after: Body, tolerance: float) -> Reshape:
    match, lost = told.match, told.faces.moved
    distance = place_distances(told.base, after, match)
    known = np.isfinite(distance)
    elsewhere = match.twin[match.after_place] != match.after_place
    rows = rows_where(known & elsewhere & (distance > _noise(told, after, tolerance)))
    return Reshape(
        places=rows,
        distance=distance[rows],
        compared=int(known.sum()),
        lost=np.empty(0, dtype=np.int32) if lost is None else lost.faces_after,
        lost_by=0.0 if lost is None else lost.distance or 0.0,
    )


def _noise(told: _Polygons, after: Body, tolerance: float) -> FloatArray:
    """(Pa,) from which distance on a place was moved: beside faces that were edited, and on a rim,
    points are smoothed by a rule of their own."""
    noise = np.full(len(after.spots), tolerance)
    if told.step is None or not told.step.smooth:
        return noise
    match, edges = told.match, after.shells.edges
    beside = np.zeros(len(after.spots), dtype=bool)
    beside[edges.ends[edges.side_count != 2]] = True
    beside[after.shells.corner_place[match.face[after.corner_face] < 0]] = True
    gone = np.zeros(len(match.twin) + 1, dtype=bool)
    base = told.base
    gone[match.before_place[base.shells.corner_place[~match.taken[base.corner_face]]]] = True
    beside |= gone[match.twin[match.after_place]]  # the last entry stands for no twin
    return np.where(beside, SMOOTHED_ASIDE * told.step.smoothed_by, SMOOTHED_NOISE * tolerance)


def place_distances(before: Body, after: Body, match: Match) -> FloatArray:
    """(Pa,) how far each place after lies from where it lay before; nan where it is new."""
    twin = match.twin[match.after_place]
    row = np.full(len(match.twin), -1, dtype=np.int32)
    row[match.before_place] = np.arange(len(match.before_place))
    old = row[twin]
    known = (twin >= 0) & (old >= 0)
    distance = np.full(len(after.spots), np.nan)
    distance[known] = np.linalg.norm(after.spots[known] - before.spots[old[known]], axis=1)
    return distance


def _quiet_places(before: Body, after: Body, match: Match, reshape: Reshape) -> BoolArray:
    """(Pa,) places all of whose faces are as before, with none of their points moved."""
    moved = np.zeros(len(after.spots), dtype=bool)
    moved[reshape.places] = True
    place = after.shells.corner_place
    changed = match.face < 0
    changed[after.corner_face[moved[place]]] = True
    noisy = np.zeros(len(after.spots), dtype=bool)
    noisy[place[changed[after.corner_face]]] = True
    gone = ~match.taken[before.corner_face]
    beside_gone = np.zeros(len(match.twin), dtype=bool)
    beside_gone[match.before_place[before.shells.corner_place[gone]]] = True
    twin = match.twin[match.after_place]
    return ~noisy & ~((twin >= 0) & beside_gone[twin])


def tolerance_for(before: Body, asset_size: float) -> float:
    """From which distance on a place of this part is another place, in units.

    A hundred-thousandth of the asset, or less for a part whose own edges are not much longer than
    that; never so little that rounding to a millionth of the asset counts.
    """
    lengths = before.shells.lengths
    lengths = lengths[np.isfinite(lengths) & (lengths > 0)]
    short = float(np.quantile(lengths, 0.02)) if len(lengths) else np.inf
    return max(min(ROUGH * asset_size, 0.05 * short), FINE * asset_size, 1e-12)
