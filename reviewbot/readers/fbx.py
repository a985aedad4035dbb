"""FBX through the optional library ufbx: polygons, UV sets by name, nodes, units, axes, materials.

Only ever called in a process of its own that ends without tidying up: the library's Python
layer frees elements it still hands out. Everything taken from it is therefore held for good.
"""

from __future__ import annotations

import importlib
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any

import numpy as np
import numpy.typing as npt

from reviewbot.errors import MeshReadError
from reviewbot.mesh import FloatArray, IndexArray, Material, Model, Note, Part, UvSet
from reviewbot.readers.names import printable_text
from reviewbot.readers.references import Siblings
from reviewbot.readers.unsound import UnsoundFileError

LIBRARY = "ufbx"
_HELD: list[Any] = []
_LARGEST_INDEX = 2**31 - 1
_LEFT_OUT = (
    ("skin_deformers", "skins are passed over; meshes stand as modelled"),
    ("blend_deformers", "blend shapes are passed over"),
    ("nurbs_surfaces", "NURBS surfaces are passed over"),
    ("line_curves", "curves are passed over"),
    ("lod_groups", "all levels of detail are read as parts"),
)


def prepare() -> None:
    """Load the library, while files may still be opened."""
    importlib.import_module(LIBRARY)


def read_fbx(data: bytes, *, path: str, siblings: Siblings, seal: Callable[[], None]) -> Model:
    """An FBX file as a Model; each node that shows a mesh is a part.

    Raises MeshReadError where the library cannot read the file, or a face names a point that is
    not there.
    """
    del siblings  # pictures are named, or inside; none is opened here
    ufbx = importlib.import_module(LIBRARY)
    seal()
    try:
        scene = ufbx.load_memory(
            data,
            file_format=ufbx.FileFormat.FBX,
            index_error_handling=ufbx.IndexErrorHandling.NO_INDEX,
            load_external_files=False,
            ignore_animation=True,
            allow_empty_faces=True,
            force_single_thread_ascii_parsing=True,
        )
        return _model(_held(scene))
    except ufbx.UfbxError as error:
        reason = f"is no FBX file that can be read ({printable_text(str(error))[:200]})"
        raise MeshReadError(path=path, line=None, reason=reason) from error
    except UnsoundFileError as error:
        raise MeshReadError(path=path, line=error.line, reason=error.reason) from error


def _held(element: Any) -> Any:
    _HELD.append(element)
    return element


def _all(elements: Any) -> list[Any]:
    return [_held(element) for element in elements]


def _model(scene: Any) -> Model:
    notes: dict[str, None] = {}
    parts = tuple(_parts(scene, notes))
    if not parts:
        raise UnsoundFileError("shows no mesh")
    for name, reason in _LEFT_OUT:
        if len(getattr(scene, name)):
            notes.setdefault(reason)
    settings = _held(scene.settings)
    up = settings.axes.up.name
    return Model(
        parts=parts,
        format="fbx",
        notes=tuple(Note(line=None, reason=reason) for reason in notes),
        materials=tuple(_materials(scene)),
        up_axis=up[-1].lower() if up in ("POSITIVE_Y", "POSITIVE_Z") else None,
        metres_per_unit=float(settings.unit_meters),
    )


def _parts(scene: Any, notes: dict[str, None]) -> Iterator[Part]:
    for node in _all(scene.nodes):
        mesh = _held(node.mesh)
        if mesh is None:
            continue
        if not node.visible:
            notes.setdefault("hidden nodes are read as parts")
        yield _part(node, mesh, notes)


def _part(node: Any, mesh: Any, notes: dict[str, None]) -> Part:
    faces = _table(mesh.faces, 2).astype(np.int64)
    whole = faces[:, 1] >= 3
    if not whole.all():
        notes.setdefault("faces of fewer than three corners are passed over")
    corner = _corners(faces[whole])
    points = _table(mesh.vertices, 3)
    corner_point = _indices(mesh.vertex_indices)[corner]
    if np.any(corner_point < 0) or np.any(corner_point >= len(points)):
        raise UnsoundFileError(f"mesh '{_name(node, mesh)}' names points that are not there")
    uv_sets = [_uv_set(uv_set, corner) for uv_set in _all(mesh.uv_sets)]
    first = uv_sets[0] if uv_sets else None
    normals, corner_normal = _attribute(_held(mesh.vertex_normal), corner, 3)
    materials, face_material = _face_materials(mesh, whole)
    return Part(
        name=_name(node, mesh),
        points=points,
        corner_point=corner_point,
        face_start=np.concatenate([[0], np.cumsum(faces[whole, 1])]).astype(np.int32),
        uvs=first.uvs if first else np.empty((0, 2)),
        corner_uv=first.corner_uv if first else np.full(len(corner), -1, dtype=np.int32),
        further_uvs=tuple(uv_sets[1:]),
        materials=materials,
        face_material=face_material,
        face_smoothing=_smoothing(mesh, whole),
        normals=normals,
        corner_normal=corner_normal,
        transform=_matrix(node.geometry_to_world),
    )


def _name(node: Any, mesh: Any) -> str:
    return printable_text(node.name) or printable_text(mesh.name) or f"mesh {mesh.typed_id}"


def _corners(faces: npt.NDArray[np.int64]) -> npt.NDArray[np.int64]:
    """The corners of faces given as (begin, count), face by face."""
    begin, count = faces[:, 0], faces[:, 1]
    before = np.cumsum(count) - count
    return np.repeat(begin - before, count) + np.arange(int(count.sum()))


def _uv_set(uv_set: Any, corner: npt.NDArray[np.int64]) -> UvSet:
    uvs, corner_uv = _attribute(_held(uv_set.vertex_uv), corner, 2)
    return UvSet(name=printable_text(uv_set.name), uvs=uvs, corner_uv=corner_uv)


def _attribute(
    attribute: Any, corner: npt.NDArray[np.int64], width: int
) -> tuple[FloatArray, IndexArray]:
    """Values, and which each corner has; -1 for none, also where the file names none there is."""
    if not attribute.exists:
        return np.empty((0, width)), np.full(len(corner), -1, dtype=np.int32)
    values = _table(attribute.values, width)
    entry = _indices(attribute.indices)[corner]
    return values, np.where(entry < len(values), entry, np.int32(-1))


def _face_materials(mesh: Any, whole: npt.NDArray[np.bool_]) -> tuple[tuple[str, ...], IndexArray]:
    names = tuple(printable_text(material.name) for material in _all(mesh.materials))
    chosen = _indices(mesh.face_material)
    if len(chosen) != len(whole):
        return names, np.full(np.count_nonzero(whole), -1, dtype=np.int32)
    chosen = chosen[whole]
    return names, np.where(chosen < len(names), chosen, np.int32(-1))


def _smoothing(mesh: Any, whole: npt.NDArray[np.bool_]) -> IndexArray | None:
    """The library tells smooth from flat faces, not one smoothing group from another."""
    smooth = np.array(memoryview(_held(mesh.face_smoothing)), dtype=np.int32)
    return smooth[whole] if len(smooth) == len(whole) else None


def _materials(scene: Any) -> Iterator[Material]:
    seen = set()
    for material in _all(scene.materials):
        name = printable_text(material.name)
        if name not in seen:
            seen.add(name)
            yield _with_picture(Material(name=name), material)


def _with_picture(found: Material, material: Any) -> Material:
    for maps, colour in ((material.pbr, "base_color"), (material.fbx, "diffuse_color")):
        texture = _held(_held(getattr(_held(maps), colour)).texture)
        if texture is not None:
            file = printable_text(texture.relative_filename or texture.filename)
            return replace(
                found,
                base_colour_file=file or None,
                base_colour_data=bytes(_held(texture.content)) or None,
                is_laid_plainly=not texture.has_uv_transform,
            )
    return found


# From the library's lists to arrays of our own.


def _table(values: Any, width: int) -> npt.NDArray[Any]:
    return np.array(memoryview(_held(values))).reshape(-1, width)


def _indices(values: Any) -> IndexArray:
    """Indices as int32, -1 for what names nothing."""
    wide = np.fromiter(_held(values), dtype=np.int64, count=len(values))
    return np.where(wide > _LARGEST_INDEX, -1, wide).astype(np.int32)


def _matrix(matrix: Any) -> FloatArray:
    """(4, 4) from four columns of three numbers."""
    transform = np.eye(4)
    transform[:3] = np.array([tuple(column) for column in matrix]).T
    return transform
