"""Which faces have UVs in both versions, which lost theirs, which got some."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reviewbot.compare.body import Body
from reviewbot.compare.faces import FaceStory
from reviewbot.geometry.rows import rows_where
from reviewbot.mesh import BoolArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Mapping:
    """Faces after, (Fa,) bool each. A face whose UVs all fell onto one point has lost them.

    both      has UVs, and had
    lost      had UVs
    added     has UVs, and had none
    all_lost  the part has no UVs any more
    """

    both: BoolArray
    lost: BoolArray
    added: BoolArray
    all_lost: bool


def compare_mapping(before: Body, after: Body, faces: FaceStory) -> Mapping:
    known = faces.parent >= 0
    row = np.where(known, faces.parent, 0)
    if not before.faces:
        nothing = np.zeros(after.faces, dtype=bool)
        return Mapping(both=nothing, lost=nothing, added=nothing, all_lost=False)
    had = known & before.mapped[row]
    flat_before, flat_after = _collapsed(before), _collapsed(after)
    same_size = np.diff(after.part.face_start) == np.diff(before.part.face_start)[row]
    fell = flat_after & ~flat_before[row] & same_size
    all_fell = flat_after[after.mapped].all() and not flat_before[before.mapped].all()
    return Mapping(
        both=had & after.mapped & ~fell,
        lost=had & (~after.mapped | fell),
        added=known & ~had & after.mapped,
        all_lost=bool(before.mapped.any() and (not after.mapped.any() or all_fell)),
    )


def _collapsed(body: Body) -> BoolArray:
    """(F,) mapped faces whose UVs all lie on one point."""
    sizes = np.diff(body.part.face_start)
    rows = rows_where(body.mapped & (sizes > 2))
    collapsed = np.zeros(body.faces, dtype=bool)
    if len(rows):
        start = body.part.face_start[:-1]
        filled = sizes > 0
        apart = np.zeros(body.faces)
        for column in body.part.uvs.T:
            value = np.ascontiguousarray(column)[body.part.corner_uv]
            away = np.abs(value - np.repeat(value[np.minimum(start, len(value) - 1)], sizes))
            apart[filled] = np.maximum(apart[filled], np.maximum.reduceat(away, start[filled]))
        collapsed[rows] = apart[rows] <= 1e-9
    return collapsed
