"""What happened on a part besides its polygons being laid anew, by what lies nearest.

No new face is an old one, but it lies where old ones lay: their materials, smoothing, UVs and the
way they face are still there to compare with.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

import numpy as np

from reviewbot.compare.attributes import MaterialChange
from reviewbot.compare.body import Body
from reviewbot.geometry.polygons import face_centres, newell_vectors
from reviewbot.geometry.rows import rows_finite, rows_where
from reviewbot.geometry.twins import nearest_few, tree_of
from reviewbot.mesh import BoolArray, IndexArray

NEAREST = 12  # old faces that lie where a new one lies
PLAINLY = 0.1  # of the new faces: fewer that differ may be where a border runs elsewhere now
TURNED = 0.8  # of the new faces must look the other way than the old ones


@dataclass(frozen=True, slots=True, kw_only=True)
class LaidAnew:
    """Rows of faces after: without UVs where old ones had some, and with other smoothing;
    `flipped` (F,) bool, all or none, or one False for all."""

    lost: IndexArray
    smoothing: IndexArray
    flipped: BoolArray
    materials: tuple[MaterialChange, ...]


NOT_LAID_ANEW = LaidAnew(
    lost=np.empty(0, dtype=np.int32),
    smoothing=np.empty(0, dtype=np.int32),
    flipped=np.zeros(1, dtype=bool),
    materials=(),
)


def tell_laid_anew(before: Body, after: Body) -> LaidAnew:
    """Compare each new face with the old ones nearest to it."""
    old = face_centres(before.points, before.part.corner_point, before.part.face_start)
    new = face_centres(after.points, after.part.corner_point, after.part.face_start)
    known, rows = rows_where(rows_finite(old)), rows_where(rows_finite(new))
    if not len(known) or not len(rows):
        return NOT_LAID_ANEW
    _, nearest = nearest_few(tree_of(old[known]), new[rows], min(NEAREST, len(known)))
    near = known[nearest]
    lost = rows[~after.mapped[rows] & before.mapped[near].all(axis=1) & after.mapped.any()]
    return LaidAnew(
        lost=_plain(lost, after),
        smoothing=_plain(_other_smoothing(before, after, rows, near), after),
        flipped=np.full(after.faces, _is_turned(before, after, rows, near)),
        materials=_other_materials(before, after, rows, near),
    )


def _plain(rows: IndexArray, after: Body) -> IndexArray:
    """The rows where they are many enough to be told, else none."""
    return rows if len(rows) >= PLAINLY * after.faces else rows[:0]


def _other_smoothing(before: Body, after: Body, rows: IndexArray, near: IndexArray) -> IndexArray:
    """Faces that are smoothed where no old one was, or not where all were."""
    was, now = before.part.face_smoothing, after.part.face_smoothing
    had = np.zeros(near.shape, dtype=bool) if was is None else was[near] > 0
    has = np.zeros(len(rows), dtype=bool) if now is None else now[rows] > 0
    return rows[(has & ~had.any(axis=1)) | (~has & had.all(axis=1))]


def _is_turned(before: Body, after: Body, rows: IndexArray, near: IndexArray) -> bool:
    old = newell_vectors(before.points, before.part.corner_point, before.part.face_start)
    new = newell_vectors(after.points, after.part.corner_point, after.part.face_start)
    along = np.einsum("ij,ij->i", new[rows], old[near].sum(axis=1))
    return bool((along < 0).mean() >= TURNED)


def _other_materials(
    before: Body, after: Body, rows: IndexArray, near: IndexArray
) -> tuple[MaterialChange, ...]:
    """Faces whose material none of the old faces there had; it came in place of the nearest's."""
    names = ("", *dict.fromkeys([*before.part.materials, *after.part.materials]))
    old = np.array([*(names.index(name) for name in before.part.materials), 0])
    new = np.array([*(names.index(name) for name in after.part.materials), 0])
    was, now = old[before.part.face_material[near]], new[after.part.face_material[rows]]
    differs = rows_where((was != now[:, None]).all(axis=1))
    groups: dict[tuple[int, int], list[int]] = defaultdict(list)
    for row in differs.tolist():
        groups[int(was[row, 0]), int(now[row])].append(int(rows[row]))
    used_before, used_after = old[before.part.face_material], new[after.part.face_material]
    told = [
        MaterialChange(
            before=names[one],
            after=names[other],
            faces=np.array(faces, dtype=np.int32),
            whole=one not in used_after and other not in used_before,
        )
        for (one, other), faces in groups.items()
    ]
    plain = [one for one in told if one.whole or len(_plain(one.faces, after))]
    return tuple(sorted(plain, key=lambda change: -len(change.faces)))
