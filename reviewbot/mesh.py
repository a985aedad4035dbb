"""Model > Part: plain arrays, checked once, frozen.

A file's polygons stay as the artist drew them: nothing is triangulated, merged or repaired.
Corners are the places where a face touches a point; a face's corners lie next to each other,
in drawing order, from ``face_start[f]`` up to ``face_start[f + 1]``. UVs and normals belong to
corners. Letters in shapes: V points, C corners, F faces, T UV entries, N normals.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
IndexArray = npt.NDArray[np.int32]
BoolArray = npt.NDArray[np.bool_]


def _frozen_floats(values: npt.ArrayLike, shape: tuple[int, ...]) -> FloatArray:
    array = np.ascontiguousarray(values, dtype=np.float64).reshape(shape)
    array.flags.writeable = False
    return array


def _frozen_indices(values: npt.ArrayLike) -> IndexArray:
    array = np.ascontiguousarray(values, dtype=np.int32).reshape(-1)
    array.flags.writeable = False
    return array


def _no_indices() -> IndexArray:
    return np.empty(0, dtype=np.int32)


def _filled_indices(values: npt.ArrayLike, length: int) -> IndexArray:
    """What was given, or -1 everywhere where nothing was."""
    array = _frozen_indices(values)
    return array if array.size or not length else _frozen_indices(np.full(length, -1))


def _require_range(name: str, indices: IndexArray, lowest: int, count: int) -> None:
    if indices.size and (int(indices.min()) < lowest or int(indices.max()) >= count):
        raise ValueError(f"{name} must lie in {lowest}..{count - 1}")


def _require_length(name: str, array: IndexArray, length: int) -> None:
    if len(array) != length:
        raise ValueError(f"{name} has {len(array)} entries, {length} needed")


@dataclass(frozen=True, slots=True, kw_only=True)
class UvSet:
    """One set of UVs beside the first.

    uvs        (T, 2) float64, V upwards
    corner_uv  (C,) int32 into uvs, -1 where the corner has none
    """

    name: str
    uvs: FloatArray
    corner_uv: IndexArray

    def __post_init__(self) -> None:
        object.__setattr__(self, "uvs", _frozen_floats(self.uvs, (-1, 2)))
        object.__setattr__(self, "corner_uv", _frozen_indices(self.corner_uv))
        _require_range("corner_uv", self.corner_uv, -1, len(self.uvs))


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One named piece of a model.

    points          (V, 3) float64, the part's own space; may hold NaN or infinity, as the file does
    corner_point    (C,) int32 into points
    face_start      (F + 1,) int32, first 0, last C, never falling
    uvs             (T, 2) float64, V upwards (a format with V downwards is turned at reading)
    corner_uv       (C,) int32 into uvs, -1 where the corner has none
    further_uvs     UV sets after the first
    materials       names; face_material (F,) int32 into it, -1 for none
    face_smoothing  (F,) int32 smoothing group, 0 for off; None where the file says nothing
    normals         (N, 3) float64; corner_normal (C,) int32 into it, -1 for none
    transform       (4, 4) float64, own space to the asset's space, applied to column vectors

    ``corner_uv``, ``corner_normal`` and ``face_material`` left out are -1 everywhere.
    Raises ValueError where shapes or indices do not fit; readers check first and say the line.
    A part may be empty (no points, no faces).
    """

    name: str
    points: FloatArray
    corner_point: IndexArray
    face_start: IndexArray
    uvs: FloatArray = field(default_factory=lambda: np.empty((0, 2)))
    corner_uv: IndexArray = field(default_factory=_no_indices)
    further_uvs: tuple[UvSet, ...] = ()
    materials: tuple[str, ...] = ()
    face_material: IndexArray = field(default_factory=_no_indices)
    face_smoothing: IndexArray | None = None
    normals: FloatArray = field(default_factory=lambda: np.empty((0, 3)))
    corner_normal: IndexArray = field(default_factory=_no_indices)
    transform: FloatArray = field(default_factory=lambda: np.eye(4))

    def __post_init__(self) -> None:
        put = object.__setattr__
        put(self, "points", _frozen_floats(self.points, (-1, 3)))
        put(self, "corner_point", _frozen_indices(self.corner_point))
        put(self, "face_start", _frozen_indices(self.face_start))
        put(self, "uvs", _frozen_floats(self.uvs, (-1, 2)))
        put(self, "normals", _frozen_floats(self.normals, (-1, 3)))
        put(self, "transform", _frozen_floats(self.transform, (4, 4)))
        corners, faces = len(self.corner_point), len(self.face_start) - 1
        put(self, "corner_uv", _filled_indices(self.corner_uv, corners))
        put(self, "corner_normal", _filled_indices(self.corner_normal, corners))
        put(self, "face_material", _filled_indices(self.face_material, faces))
        if self.face_smoothing is not None:
            put(self, "face_smoothing", _frozen_indices(self.face_smoothing))
            _require_length("face_smoothing", self.face_smoothing, faces)
        self._check(corners, faces)

    def _check(self, corners: int, faces: int) -> None:
        start = self.face_start
        if faces < 0 or start[0] != 0 or start[-1] != corners or np.any(start[1:] < start[:-1]):
            raise ValueError("face_start must run from 0 to the number of corners, never falling")
        _require_range("corner_point", self.corner_point, 0, len(self.points))
        _require_length("corner_uv", self.corner_uv, corners)
        _require_range("corner_uv", self.corner_uv, -1, len(self.uvs))
        _require_length("corner_normal", self.corner_normal, corners)
        _require_range("corner_normal", self.corner_normal, -1, len(self.normals))
        _require_length("face_material", self.face_material, faces)
        _require_range("face_material", self.face_material, -1, len(self.materials))
        for uv_set in self.further_uvs:
            _require_length(f"UV set '{uv_set.name}'", uv_set.corner_uv, corners)

    @property
    def face_count(self) -> int:
        return len(self.face_start) - 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Note:
    """Something in a file that was passed over or read in a particular way.

    line  1-based, or None; reason  one plain sentence
    """

    line: int | None
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Material:
    """A material as far as a reviewer cares.

    base_colour_file  the picture's path as the file wrote it, or None
    base_colour_data  the picture's own file, encoded, where the mesh's file holds it, or None
    named_in          the file that names the picture, where it is not the mesh's own, else ""
    is_laid_plainly   False where the picture is not laid on by the first UV set as it stands
    """

    name: str
    base_colour_file: str | None = None
    base_colour_data: bytes | None = None
    named_in: str = ""
    is_laid_plainly: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Model:
    """What one file holds.

    format           "obj", "gltf", ...
    up_axis          "y" or "z" where the format says it, else None
    metres_per_unit  where the format says it, else None
    """

    parts: tuple[Part, ...]
    format: str
    notes: tuple[Note, ...] = ()
    materials: tuple[Material, ...] = ()
    up_axis: str | None = None
    metres_per_unit: float | None = None


def world_points(part: Part) -> FloatArray:
    """(V, 3) float64: the part's points in the asset's space."""
    if np.array_equal(part.transform, np.eye(4)):
        return part.points
    return np.asarray(part.points @ part.transform[:3, :3].T + part.transform[:3, 3])
