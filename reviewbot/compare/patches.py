"""What happened to faces that are neither cut nor merged nor subdivided, in patches that touch."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reviewbot.compare.body import Body
from reviewbot.compare.face_edits import MOVED, FaceEdit, LeftFaces
from reviewbot.compare.polygons import Rounds
from reviewbot.geometry.groups import joined_labels, renumbered
from reviewbot.geometry.polygons import face_areas, face_centres
from reviewbot.geometry.surface_distance import distance_to_surface
from reviewbot.geometry.triangles import triangulate
from reviewbot.mesh import FloatArray, IndexArray

SURFACE_KEPT = 1e-3  # of the part's size: a patch nearer than this follows the old surface
AREA_KEPT = 0.01
LOCAL = 0.25  # of the part's faces: a redone patch smaller than this is an edit, not a new topology


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


def take_patches(left: LeftFaces) -> None:
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


def _patches_of(left: LeftFaces) -> _Patches:
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
        distance=surface_distances(left, of_before, of_after, count),
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


def surface_distances(
    left: LeftFaces, of_before: IndexArray, of_after: IndexArray, count: int
) -> FloatArray:
    """(count,) for each patch, how far the farthest middle of a leftover face lies from the other
    version's leftover faces."""
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
