"""Cutting a file's shared arrays into parts, each with only the points, UVs and normals it uses."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from reviewbot.mesh import FloatArray, IndexArray, Part

# Marking used entries in a table is faster than sorting until the table is this much longer.
_SPARSE = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class Shared:
    """Arrays that all faces of a file index, as in `Part`; `face_smoothing` may be None."""

    points: FloatArray
    uvs: FloatArray
    normals: FloatArray
    face_start: IndexArray
    corner_point: IndexArray
    corner_uv: IndexArray
    corner_normal: IndexArray
    materials: tuple[str, ...]
    face_material: IndexArray
    face_smoothing: IndexArray | None


def cut_parts(
    shared: Shared, names: Sequence[str], face_part: IndexArray, point_part: IndexArray
) -> tuple[Part, ...]:
    """One part a name, in that order; faces, points, UVs and normals keep the file's order.

    face_part   (F,) the part each face belongs to
    point_part  (V,) the part each point belongs to where no face uses it
    """
    if np.any(face_part[1:] < face_part[:-1]):
        order = np.argsort(face_part, kind="stable").astype(np.int32)
        shared, face_part = _with_faces(shared, order), face_part[order]
    bounds = np.searchsorted(face_part, np.arange(len(names) + 1))
    loose = _by_part(_unused(shared), point_part, len(names))
    return tuple(
        _part(shared, name, int(bounds[k]), int(bounds[k + 1]), loose_points)
        for k, (name, loose_points) in enumerate(zip(names, loose, strict=True))
    )


def used_entries(
    indices: IndexArray, further: IndexArray | None = None
) -> tuple[IndexArray, IndexArray]:
    """Which entries of a table are used, and the same indices into just those.

    indices  -1 for none, which stays; `further` entries are kept too
    returns  (K,) entries in rising order, and the indices renumbered
    """
    used = indices if further is None or not len(further) else np.concatenate([indices, further])
    present = used if not len(used) or used.min() >= 0 else used[used >= 0]
    if not len(present):
        return np.empty(0, dtype=np.int32), indices
    lowest, highest = int(present.min()), int(present.max())
    if highest - lowest > _SPARSE * len(present):
        entries = np.unique(present)
        renumbered = np.searchsorted(entries, indices).astype(np.int32)
    else:
        is_used = np.zeros(highest - lowest + 1, dtype=bool)
        is_used[present - lowest] = True
        entries = np.flatnonzero(is_used).astype(np.int32) + np.int32(lowest)
        renumbered = np.maximum(indices, lowest) - np.int32(lowest)
        if len(entries) < len(is_used):
            renumbered = (np.cumsum(is_used, dtype=np.int32) - np.int32(1))[renumbered]
    if len(present) < len(used):
        renumbered = np.where(indices < 0, np.int32(-1), renumbered)
    return entries, renumbered


def _with_faces(shared: Shared, order: IndexArray) -> Shared:
    """The same with faces in another order."""
    sizes = np.diff(shared.face_start)[order]
    face_start = np.concatenate([[0], np.cumsum(sizes)]).astype(np.int32)
    corner = np.arange(face_start[-1], dtype=np.int32)
    corner += np.repeat(shared.face_start[:-1][order] - face_start[:-1], sizes)
    smoothing = shared.face_smoothing
    return replace(
        shared,
        face_start=face_start,
        corner_point=shared.corner_point[corner],
        corner_uv=shared.corner_uv[corner],
        corner_normal=shared.corner_normal[corner],
        face_material=shared.face_material[order],
        face_smoothing=None if smoothing is None else smoothing[order],
    )


def _unused(shared: Shared) -> IndexArray:
    """Points that no face uses."""
    is_unused = np.ones(len(shared.points), dtype=bool)
    is_unused[shared.corner_point] = False
    return np.flatnonzero(is_unused).astype(np.int32)


def _by_part(loose: IndexArray, point_part: IndexArray, parts: int) -> list[IndexArray]:
    owner = point_part[loose]
    order = np.argsort(owner, kind="stable")
    return np.split(loose[order], np.searchsorted(owner[order], np.arange(1, parts)))


def _part(shared: Shared, name: str, first: int, end: int, loose: IndexArray) -> Part:
    """Faces first..end of the shared arrays as a part of their own."""
    corners = slice(int(shared.face_start[first]), int(shared.face_start[end]))
    points, corner_point = used_entries(shared.corner_point[corners], loose)
    uvs, corner_uv = used_entries(shared.corner_uv[corners])
    normals, corner_normal = used_entries(shared.corner_normal[corners])
    materials, face_material = used_entries(shared.face_material[first:end])
    smoothing = shared.face_smoothing
    return Part(
        name=name,
        points=shared.points[points],
        corner_point=corner_point,
        face_start=shared.face_start[first : end + 1] - shared.face_start[first],
        uvs=shared.uvs[uvs],
        corner_uv=corner_uv,
        materials=tuple(shared.materials[k] for k in materials.tolist()),
        face_material=face_material,
        face_smoothing=None if smoothing is None else smoothing[first:end],
        normals=shared.normals[normals],
        corner_normal=corner_normal,
    )
