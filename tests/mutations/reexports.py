"""Exports that change a file and nothing in it: no change and no new finding may be told."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from mutations.faces import faces_of, with_faces

from reviewbot.measure.surface import extent
from reviewbot.mesh import Model, Part

Rng = np.random.Generator
Reexport = Callable[[Model, Rng], Model]


def on_parts(change: Callable[[Part, Rng], Part]) -> Reexport:
    return lambda model, rng: replace(model, parts=tuple(change(part, rng) for part in model.parts))


def points_reordered(part: Part, rng: Rng) -> Part:
    order = rng.permutation(len(part.points))
    return replace(
        part, points=part.points[order], corner_point=np.argsort(order)[part.corner_point]
    )


def faces_reordered(part: Part, rng: Rng) -> Part:
    faces = faces_of(part)
    return with_faces(part, [faces[row] for row in rng.permutation(len(faces))])


def start_corners_changed(part: Part, rng: Rng) -> Part:
    faces = faces_of(part)
    shift = rng.integers(0, 1 + np.array([len(face) for face in faces], dtype=int))
    return with_faces(
        part,
        [
            face.picked(np.roll(np.arange(len(face)), s).tolist())
            for face, s in zip(faces, shift.tolist(), strict=True)
        ],
    )


def uv_entries_reordered(part: Part, rng: Rng) -> Part:
    order = rng.permutation(len(part.uvs))
    back = np.append(np.argsort(order), -1)
    return replace(part, uvs=part.uvs[order], corner_uv=back[part.corner_uv])


def one_uv_entry_a_corner(part: Part, rng: Rng) -> Part:
    if not len(part.uvs):
        return part
    mapped = part.corner_uv >= 0
    return replace(
        part,
        uvs=part.uvs[part.corner_uv[mapped]],
        corner_uv=np.where(mapped, np.cumsum(mapped) - 1, -1),
    )


def shared_uv_entries(part: Part, rng: Rng) -> Part:
    if not len(part.uvs):
        return part
    uvs, back = np.unique(part.uvs, axis=0, return_inverse=True)
    return replace(part, uvs=uvs, corner_uv=np.append(back.reshape(-1), -1)[part.corner_uv])


def stray_points_removed(part: Part, rng: Rng) -> Part:
    used, corner = np.unique(part.corner_point, return_inverse=True)
    return replace(part, points=part.points[used], corner_point=corner)


def smoothing_renumbered(part: Part, rng: Rng) -> Part:
    if part.face_smoothing is None:
        return part
    other = np.concatenate([[0], 1 + rng.permutation(int(part.face_smoothing.max(initial=0)))])
    return replace(part, face_smoothing=other[part.face_smoothing])


def materials_renumbered(part: Part, rng: Rng) -> Part:
    order = rng.permutation(len(part.materials))
    back = np.append(np.argsort(order), -1)
    return replace(
        part,
        materials=tuple(part.materials[row] for row in order),
        face_material=back[part.face_material],
    )


def same(model: Model, rng: Rng) -> Model:
    return model


def parts_reordered(model: Model, rng: Rng) -> Model:
    return replace(model, parts=tuple(model.parts[k] for k in rng.permutation(len(model.parts))))


def _size(model: Model) -> float:
    used = [part.points[part.corner_point] for part in model.parts]
    return extent(np.concatenate([np.empty((0, 3)), *used]))


def rounded(model: Model, rng: Rng) -> Model:
    """Coordinates to a millionth of the asset's size, UVs to a millionth of a tile."""
    step = 1e-6 * _size(model) or 1.0
    return replace(
        model,
        parts=tuple(
            replace(p, points=np.round(p.points / step) * step, uvs=np.round(p.uvs, 6))
            for p in model.parts
        ),
    )


def fewer_digits(model: Model, rng: Rng) -> Model:
    """Seven digits that matter, as single-precision exports write."""
    return replace(
        model,
        parts=tuple(
            replace(p, points=p.points.astype(np.float32), uvs=p.uvs.astype(np.float32))
            for p in model.parts
        ),
    )


def trembling(model: Model, rng: Rng) -> Model:
    """Each place off by up to a millionth of the size; points at one place stay together."""
    step = 1e-6 * _size(model)

    def shaken(part: Part) -> Part:
        places, back = np.unique(part.points, axis=0, return_inverse=True)
        off = rng.uniform(-0.5, 0.5, size=places.shape) * step
        return replace(part, points=(places + off)[back.reshape(-1)])

    return replace(model, parts=tuple(shaken(part) for part in model.parts))


def everything_at_once(model: Model, rng: Rng) -> Model:
    for step in (
        on_parts(points_reordered),
        on_parts(faces_reordered),
        on_parts(start_corners_changed),
        on_parts(one_uv_entry_a_corner),
        on_parts(uv_entries_reordered),
        on_parts(smoothing_renumbered),
        on_parts(materials_renumbered),
        parts_reordered,
        rounded,
    ):
        model = step(model, rng)
    return model


REEXPORTS: dict[str, Reexport] = {
    "same": same,
    "points reordered": on_parts(points_reordered),
    "faces reordered": on_parts(faces_reordered),
    "other start corners": on_parts(start_corners_changed),
    "UV entries reordered": on_parts(uv_entries_reordered),
    "one UV entry a corner": on_parts(one_uv_entry_a_corner),
    "UV entries shared": on_parts(shared_uv_entries),
    "stray points removed": on_parts(stray_points_removed),
    "smoothing renumbered": on_parts(smoothing_renumbered),
    "materials renumbered": on_parts(materials_renumbered),
    "parts reordered": parts_reordered,
    "rounded to a millionth": rounded,
    "single precision": fewer_digits,
    "trembling": trembling,
    "everything at once": everything_at_once,
}
