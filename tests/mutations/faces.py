"""Parts as lists of faces, to edit by hand, and back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from reviewbot.mesh import Part


@dataclass(frozen=True, slots=True, kw_only=True)
class Face:
    """Corners of one face: rows of points, UVs and normals (-1 for none)."""

    points: tuple[int, ...]
    uvs: tuple[int, ...]
    normals: tuple[int, ...]
    material: int = -1
    smoothing: int = 0

    def __len__(self) -> int:
        return len(self.points)

    def picked(self, corners: Sequence[int]) -> Face:
        return replace(
            self,
            points=tuple(self.points[k] for k in corners),
            uvs=tuple(self.uvs[k] for k in corners),
            normals=tuple(self.normals[k] for k in corners),
        )


def faces_of(part: Part) -> list[Face]:
    start = part.face_start.tolist()
    smoothing = part.face_smoothing if part.face_smoothing is not None else [0] * part.face_count
    return [
        Face(
            points=tuple(part.corner_point[a:b].tolist()),
            uvs=tuple(part.corner_uv[a:b].tolist()),
            normals=tuple(part.corner_normal[a:b].tolist()),
            material=int(part.face_material[row]),
            smoothing=int(smoothing[row]),
        )
        for row, (a, b) in enumerate(pairwise(start))
    ]


def with_faces(part: Part, faces: Sequence[Face], **arrays: np.ndarray) -> Part:
    """The part with these faces; `arrays` replaces points, uvs or normals."""
    empty = np.empty(0, dtype=np.int32)
    return replace(
        part,
        corner_point=np.concatenate([empty, *(face.points for face in faces)]).astype(np.int32),
        corner_uv=np.concatenate([empty, *(face.uvs for face in faces)]).astype(np.int32),
        corner_normal=np.concatenate([empty, *(face.normals for face in faces)]).astype(np.int32),
        face_start=np.cumsum([0, *(len(face) for face in faces)]),
        face_material=np.array([face.material for face in faces], dtype=np.int32),
        face_smoothing=None
        if part.face_smoothing is None
        else np.array([face.smoothing for face in faces], dtype=np.int32),
        **arrays,
    )


def used_points_only(part: Part) -> Part:
    """Without points that no face stands on."""
    used, corner = np.unique(part.corner_point, return_inverse=True)
    return replace(part, points=part.points[used], corner_point=corner)


def neighbours(part: Part, first: int, wanted: int) -> list[int]:
    """A connected patch of about `wanted` faces round a face, by shared points."""
    faces = faces_of(part)
    at: dict[int, list[int]] = {}
    for row, face in enumerate(faces):
        for point in face.points:
            at.setdefault(point, []).append(row)
    found, edge = {first: None}, [first]
    while edge and len(found) < wanted:
        row = edge.pop(0)
        for point in faces[row].points:
            for other in at[point]:
                if other not in found and len(found) < wanted:
                    found[other] = None
                    edge.append(other)
    return list(found)
