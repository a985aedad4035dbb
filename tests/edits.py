"""Small edits to parts, for the tests."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import numpy.typing as npt
from shapes import polygons

from reviewbot.mesh import Part


def moved(part: Part, by: Sequence[float], *, name: str = "") -> Part:
    return replace(part, points=part.points + np.asarray(by, dtype=float), name=name or part.name)


def uvs_placed(
    part: Part, *, by: Sequence[float] = (0, 0), scale: npt.ArrayLike = 1.0, name: str = ""
) -> Part:
    """UVs scaled about the tile's corner, then shifted."""
    uvs = part.uvs * np.asarray(scale, dtype=float) + np.asarray(by, dtype=float)
    return replace(part, uvs=uvs, name=name or part.name)


def without_uvs(part: Part) -> Part:
    return replace(part, uvs=np.empty((0, 2)), corner_uv=np.full(len(part.corner_point), -1))


def face_lists(part: Part) -> tuple[list[list[int]], list[list[int]]]:
    """Points and UV entries of each face."""
    cuts = part.face_start[1:-1]
    return (
        [corners.tolist() for corners in np.split(part.corner_point, cuts)],
        [corners.tolist() for corners in np.split(part.corner_uv, cuts)],
    )


def rebuilt(part: Part, faces: Sequence[int], *, turned: Sequence[int] = ()) -> Part:
    """The part with the given faces, in that order and perhaps repeated, some wound backwards.

    turned  positions in `faces`
    """
    points, uvs = face_lists(part)
    step = [-1 if k in turned else 1 for k in range(len(faces))]
    return polygons(
        part.points,
        [points[f][::s] for f, s in zip(faces, step, strict=True)],
        uvs=part.uvs,
        face_uvs=[uvs[f][::s] for f, s in zip(faces, step, strict=True)] if len(part.uvs) else None,
        name=part.name,
    )


def without_faces(part: Part, faces: Sequence[int]) -> Part:
    return rebuilt(part, [f for f in range(part.face_count) if f not in faces])


def with_turned_faces(part: Part, faces: Sequence[int]) -> Part:
    return rebuilt(part, range(part.face_count), turned=faces)


def with_repeated_faces(part: Part, faces: Sequence[int], *, turned: bool = False) -> Part:
    count = part.face_count
    again = range(count, count + len(faces)) if turned else ()
    return rebuilt(part, [*range(count), *faces], turned=again)


def unshared(part: Part) -> Part:
    """Every corner with a point and a UV entry of its own."""
    every = np.arange(len(part.corner_point))
    return replace(
        part,
        points=part.points[part.corner_point],
        corner_point=every,
        uvs=part.uvs[part.corner_uv] if len(part.uvs) else part.uvs,
        corner_uv=every if len(part.uvs) else part.corner_uv,
    )


def shuffled(part: Part, seed: int) -> Part:
    """The same polygons with points, UV entries, faces and start corners in another order."""
    random = np.random.default_rng(seed)
    point_to = random.permutation(len(part.points))
    uv_to = random.permutation(len(part.uvs))
    points, uvs = np.empty_like(part.points), np.empty_like(part.uvs)
    points[point_to], uvs[uv_to] = part.points, part.uvs
    faces, face_uvs = face_lists(part)
    order = random.permutation(len(faces)).tolist()
    turns = random.integers(0, 8, len(faces)).tolist()
    return polygons(
        points,
        [np.roll(point_to[faces[f]], turns[f]).tolist() for f in order],
        uvs=uvs,
        face_uvs=[np.roll(uv_to[face_uvs[f]], turns[f]).tolist() for f in order]
        if len(part.uvs)
        else None,
        name=part.name,
    )


def rotation(seed: int) -> npt.NDArray[np.float64]:
    """(3, 3) some rotation."""
    q, r = np.linalg.qr(np.random.default_rng(seed).normal(size=(3, 3)))
    q = q * np.sign(np.diag(r))
    return q if np.linalg.det(q) > 0 else q[:, ::-1]
