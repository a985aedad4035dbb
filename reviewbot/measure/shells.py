"""UV shells and seams, by value: which index a UV entry has means nothing."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reviewbot.geometry.edges import Edges, paired_sides
from reviewbot.geometry.groups import joined_labels, renumbered
from reviewbot.geometry.polygons import corner_faces, next_corners
from reviewbot.geometry.rows import rows_at, rows_finite
from reviewbot.measure.surface import Surface, surface_of
from reviewbot.mesh import BoolArray, FloatArray, IndexArray, Part

UV_TOLERANCE = 1e-5  # of a tile: about a fiftieth of a pixel on a 2048 map


@dataclass(frozen=True, slots=True, kw_only=True)
class Shells:
    """How a part's faces lie together in the UV plane.

    corner_place  (C,) int32 points by value, within PLACE_TOLERANCE of the part's size
    edges         edges between places
    joins         (J, 2) int32 pairs of sides over which the UVs go on
    face_shell    (F,) int32 shell of each face, -1 for a face with an unmapped corner
    count         number of shells
    is_seam       (E,) bool: mapped faces meet here, and their UVs do not
    is_open       (E,) bool: only one face side lies here
    lengths       (E,) float64 edge lengths in units
    """

    corner_place: IndexArray
    edges: Edges
    joins: IndexArray
    face_shell: IndexArray
    count: int
    is_seam: BoolArray
    is_open: BoolArray
    lengths: FloatArray


def find_shells(part: Part) -> Shells:
    """Shells of a part's first UV set; see `shells_on`."""
    return shells_on(surface_of(part), part.face_start, part.uvs, part.corner_uv)


def shells_on(
    surface: Surface, face_start: IndexArray, uvs: FloatArray, corner_uv: IndexArray
) -> Shells:
    """Shells are faces joined over edges where the UVs of both ends agree within UV_TOLERANCE.

    Where more than two sides lie on an edge, those of equal UVs that run against each other join,
    and the edge is a seam if at least two mapped sides are left over.
    A part without UVs has no shell and no seam; a UV that is nan or infinite counts as none.
    """
    edges = surface.value_edges
    mapped = mapped_faces(face_start, uvs, corner_uv)
    owner = corner_faces(face_start)
    is_seam = np.zeros(len(edges.ends), dtype=bool)
    joins = np.empty((0, 2), dtype=np.int32)
    if mapped.any():
        ends = _SideUvs(edges, next_corners(face_start), uvs, corner_uv)
        edge, first, second = paired_sides(edges)
        both = np.ones(len(first), dtype=bool)
        if not mapped.all():
            both = mapped[owner[first]] & mapped[owner[second]]
        agree = ends.agree(first, second)
        is_seam[edge[both & ~agree]] = True
        joined = both & agree
        joins = np.stack([first[joined], second[joined]], axis=1)
        many, more = _join_many(edges, ends, mapped[owner])
        is_seam[many] = True
        joins = np.concatenate([joins, more])
    face_shell, count = _join_faces(mapped, owner[joins[:, 0]], owner[joins[:, 1]])
    solid = edges.ends[:, 0] != edges.ends[:, 1]
    return Shells(
        corner_place=surface.corner_place,
        edges=edges,
        joins=joins,
        face_shell=face_shell,
        count=count,
        is_seam=is_seam,
        is_open=(edges.side_count == 1) & solid,
        lengths=surface.lengths,
    )


def mapped_faces(face_start: IndexArray, uvs: FloatArray, corner_uv: IndexArray) -> BoolArray:
    """(F,) bool: every corner has a UV, and a finite one."""
    mapped = np.diff(face_start) > 0
    if not len(uvs):
        return np.zeros_like(mapped)
    known = corner_uv >= 0
    finite = rows_finite(uvs)
    if not finite.all():
        known &= finite[corner_uv]
    if not known.all():
        mapped[corner_faces(face_start)[~known]] = False
    return mapped


def faces_mapped(part: Part) -> BoolArray:
    """(F,) bool: every corner has a UV in the first set, and a finite one."""
    return mapped_faces(part.face_start, part.uvs, part.corner_uv)


class _SideUvs:
    """The UVs that each side carries at the two ends of its edge."""

    def __init__(
        self, edges: Edges, follow: IndexArray, uvs: FloatArray, corner_uv: IndexArray
    ) -> None:
        self._forward = edges.forward
        self._follow = follow
        self._u, self._v = (np.ascontiguousarray(column) for column in uvs.T)
        self._corner_uv = corner_uv

    def at_low(self, sides: IndexArray) -> tuple[FloatArray, FloatArray]:
        """u and v at the lower end."""
        runs_up, follow = rows_at(self._forward, sides), rows_at(self._follow, sides)
        return self._at(np.where(runs_up, sides, follow))

    def at_high(self, sides: IndexArray) -> tuple[FloatArray, FloatArray]:
        """u and v at the higher end."""
        runs_up, follow = rows_at(self._forward, sides), rows_at(self._follow, sides)
        return self._at(np.where(runs_up, follow, sides))

    def _at(self, corners: IndexArray) -> tuple[FloatArray, FloatArray]:
        entry = rows_at(self._corner_uv, corners)
        return rows_at(self._u, entry), rows_at(self._v, entry)

    def agree(self, first: IndexArray, second: IndexArray) -> BoolArray:
        """Whether sides on one edge carry the same UVs at both ends, however they run."""
        agree = np.ones(len(first), dtype=bool)
        for ends in (self.at_low, self.at_high):
            for here, there in zip(ends(first), ends(second), strict=True):
                agree &= np.abs(here - there) <= UV_TOLERANCE
        return agree


def _join_many(
    edges: Edges, ends: _SideUvs, side_mapped: BoolArray
) -> tuple[IndexArray, IndexArray]:
    """Where more than two sides meet: edges that are seams, and (J, 2) sides that join."""
    crowded = (edges.side_count > 2) & (edges.ends[:, 0] != edges.ends[:, 1])
    sides = edges.sides[np.repeat(crowded, edges.side_count)]
    sides = sides[side_mapped[sides]]
    edge = edges.corner_edge[sides]
    order = np.lexsort((*ends.at_high(sides), *ends.at_low(sides), edge))
    sides, edge = sides[order], edge[order]
    joined = np.zeros(len(sides), dtype=bool)
    pairs = [np.empty((0, 2), dtype=np.int32)]
    # Equal UVs lie next to each other but for rounding: a few neighbours each way are enough.
    for step in range(1, min(8, len(sides))):
        first, second = np.arange(len(sides) - step), np.arange(step, len(sides))
        fit = (edge[first] == edge[second]) & ends.agree(sides[first], sides[second])
        fit &= edges.forward[sides[first]] != edges.forward[sides[second]]
        joined[first[fit]] = joined[second[fit]] = True
        pairs.append(np.stack([sides[first[fit]], sides[second[fit]]], axis=1))
    left_over = np.bincount(edge[~joined], minlength=len(edges.ends))
    return np.flatnonzero(left_over >= 2).astype(np.int32), np.concatenate(pairs)


def _join_faces(mapped: BoolArray, left: IndexArray, right: IndexArray) -> tuple[IndexArray, int]:
    label = joined_labels(len(mapped), left, right)
    shell = np.full(len(mapped), -1, dtype=np.int32)
    shell[mapped] = renumbered(label[mapped])
    return shell, int(shell.max(initial=-1)) + 1
