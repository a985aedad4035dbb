"""USD (usda, usdc, usdz) through the optional library usd-core: polygons, UVs, subsets, transforms.

Source: OpenUSD's schema documentation of UsdGeomMesh, UsdGeomPrimvar, UsdGeomSubset and
UsdPreviewSurface. Only ever called in a process of its own, as `usd_layers` and the library's
trust in indices ask for; indices are checked here.
"""

from __future__ import annotations

import importlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from pathlib import PurePosixPath
from types import ModuleType
from typing import Any

import numpy as np
import numpy.typing as npt

from reviewbot.errors import MeshReadError
from reviewbot.mesh import FloatArray, IndexArray, Material, Model, Note, Part, UvSet
from reviewbot.readers.names import printable_text
from reviewbot.readers.references import Siblings
from reviewbot.readers.unsound import UnsoundFileError
from reviewbot.readers.usd_layers import (
    LIBRARY,
    Layers,
    parse_error,
    path_from,
    root_layer,
)

Corners = npt.NDArray[np.int64]
_LARGEST_INDEX = 2**31 - 1
_FIRST_UV_NAMES = ("st", "UVMap", "map1", "uv", "st0")
_WARM_UP = """#usda 1.0
def Xform "a"
{
    def Mesh "b" (prepend apiSchemas = ["MaterialBindingAPI"])
    {
        point3f[] points = [(0, 0, 0), (1, 0, 0), (0, 1, 0)]
        int[] faceVertexCounts = [3]
        int[] faceVertexIndices = [0, 1, 2]
        texCoord2f[] primvars:st = [(0, 0), (1, 0), (0, 1)] (interpolation = "vertex")
        rel material:binding = </m>
        def GeomSubset "c" { int[] indices = [0]
        }
    }
}
def Material "m"
{
    token outputs:surface.connect = </m/s.outputs:surface>
    def Shader "s"
    {
        uniform token info:id = "UsdPreviewSurface"
        color3f inputs:diffuseColor.connect = </m/t.outputs:rgb>
        token outputs:surface
    }
    def Shader "t"
    {
        uniform token info:id = "UsdUVTexture"
        asset inputs:file = @a.png@
        float3 outputs:rgb
    }
}
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Library:
    sdf: ModuleType
    usd: ModuleType
    geom: ModuleType
    shade: ModuleType


@dataclass(slots=True, kw_only=True)
class _Reading:
    """A stage being read, and what has been noted so far."""

    library: _Library
    layers: Layers
    time: Any
    notes: dict[str, None] = field(default_factory=dict)
    materials: dict[str, Material] = field(default_factory=dict)

    def note(self, reason: str) -> None:
        self.notes.setdefault(reason)


def prepare() -> None:
    """Load the library and the schemas it loads late, while files may still be opened."""
    layers = Layers(siblings=lambda _: None)
    _model(root_layer(_WARM_UP.encode(), "warm.usda", layers), layers)


def read_usd(data: bytes, *, path: str, siblings: Siblings, seal: Callable[[], None]) -> Model:
    """A USD file as a Model; each mesh shown is a part, in its place.

    Raises MeshReadError where a layer is malformed or a mesh's numbers contradict each other.
    """
    layers, tf = Layers(siblings=siblings), importlib.import_module(f"{LIBRARY}.Tf")
    try:
        root = root_layer(data, PurePosixPath(path).name, layers)
        seal()
        model = _model(root, layers)
    except UnsoundFileError as error:
        raise MeshReadError(path=path, line=error.line, reason=error.reason) from error
    except UnicodeDecodeError as error:
        reason = "holds names that are no UTF-8 text"
        raise MeshReadError(path=path, line=None, reason=reason) from error
    except tf.ErrorException as error:  # the binary form is looked into only when it is asked
        reason = parse_error(str(error)).reason
        raise MeshReadError(path=path, line=None, reason=reason) from error
    return model


def _library() -> _Library:
    sdf, usd, geom, shade = (
        importlib.import_module(f"pxr.{name}") for name in ("Sdf", "Usd", "UsdGeom", "UsdShade")
    )
    return _Library(sdf=sdf, usd=usd, geom=geom, shade=shade)


def _model(root: Any, layers: Layers) -> Model:
    library = _library()
    stage = library.usd.Stage.Open(root, library.usd.Stage.LoadAll)
    reading = _Reading(library=library, layers=layers, time=library.usd.TimeCode.EarliestTime())
    parts = tuple(_parts(stage, reading))
    if not parts:
        raise UnsoundFileError("; ".join(["shows no mesh", *list(reading.notes)[:3]]))
    reasons = [*layers.notes, *reading.notes]
    return Model(
        parts=parts,
        format="usd",
        notes=tuple(Note(line=None, reason=reason) for reason in reasons),
        materials=tuple(reading.materials.values()),
        up_axis=str(library.geom.GetStageUpAxis(stage)).lower(),
        metres_per_unit=float(library.geom.GetStageMetersPerUnit(stage)),
    )


def _parts(stage: Any, reading: _Reading) -> Iterator[Part]:
    geom = reading.library.geom
    places = geom.XformCache(reading.time)
    for prim in stage.Traverse(reading.library.usd.TraverseInstanceProxies()):
        if not prim.IsA(geom.Gprim):
            if prim.IsA(geom.PointInstancer):
                reading.note("point instancers are passed over")
            continue
        if not prim.IsA(geom.Mesh):
            reading.note(f"shapes of type {prim.GetTypeName()} are passed over")
            continue
        shown = geom.Imageable(prim)
        if shown.ComputePurpose() in (geom.Tokens.guide, geom.Tokens.proxy):
            reading.note("meshes for guides and proxies are passed over")
            continue
        if shown.ComputeVisibility(reading.time) == geom.Tokens.invisible:
            reading.note("hidden meshes are read as parts")
        transform = np.array(places.GetLocalToWorldTransform(prim)).T  # USD multiplies rows
        yield _part(geom.Mesh(prim), transform, reading)


def _part(mesh: Any, transform: FloatArray, reading: _Reading) -> Part:
    prim = mesh.GetPrim()
    points = _values(mesh.GetPointsAttr(), reading, 3)
    counts = _whole_values(mesh.GetFaceVertexCountsAttr(), reading)
    indices = _whole_values(mesh.GetFaceVertexIndicesAttr(), reading)
    _require_sound(prim.GetName(), len(points), counts, indices)
    corners = _Corners.of(counts, indices, _is_left_handed(mesh, reading))
    if np.any(counts < 3):
        reading.note("faces of fewer than three corners are passed over")
    uv_sets = _uv_sets(prim, corners, reading)
    first = uv_sets[0] if uv_sets else None
    normals, corner_normal = _normals(mesh, corners, reading)
    materials, face_material = _face_materials(prim, len(counts), reading)
    return Part(
        name=printable_text(prim.GetName()),
        points=points,
        corner_point=corners.point.astype(np.int32),
        face_start=np.concatenate([[0], np.cumsum(counts[corners.faces])]).astype(np.int32),
        uvs=first.uvs if first else np.empty((0, 2)),
        corner_uv=first.corner_uv if first else np.full(len(corners.point), -1, dtype=np.int32),
        further_uvs=tuple(uv_sets[1:]),
        materials=materials,
        face_material=face_material[corners.faces],
        normals=normals,
        corner_normal=corner_normal,
        transform=transform,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Corners:
    """Corners of the faces kept, in drawing order.

    corner  which of the file's corners each is; point, face  of each
    faces   the file's faces that are kept; total  corners in the file
    """

    corner: Corners
    point: Corners
    face: Corners
    faces: Corners
    face_count: int
    total: int

    @classmethod
    def of(cls, counts: Corners, indices: Corners, left_handed: bool) -> _Corners:
        """Left-handed faces are drawn backwards, so that all wind the same way round."""
        faces = np.flatnonzero(counts >= 3)
        sizes = counts[faces]
        start = (np.cumsum(counts) - counts)[faces]
        step = np.arange(int(sizes.sum())) - np.repeat(np.cumsum(sizes) - sizes, sizes)
        if left_handed:
            step = np.repeat(sizes, sizes) - 1 - step
        corner = np.repeat(start, sizes) + step
        return cls(
            corner=corner,
            point=indices[corner],
            face=np.repeat(faces, sizes),
            faces=faces,
            face_count=len(counts),
            total=len(indices),
        )


def _values(attribute: Any, reading: _Reading, width: int) -> FloatArray:
    """(N, width) of an attribute, empty where it is not set."""
    value = attribute.Get(reading.time)
    try:
        array = np.array([] if value is None else value, dtype=np.float64)
    except (TypeError, ValueError) as error:
        raise _wrong_type(attribute) from error
    if not array.size:
        return np.empty((0, width))
    if array.shape[1:] != ((width,) if width > 1 else ()):
        raise _wrong_type(attribute)
    return array.reshape(-1, width)


def _whole_values(attribute: Any, reading: _Reading) -> Corners:
    """(N,) whole numbers of an attribute."""
    values = _values(attribute, reading, 1)[:, 0]
    if not np.all(np.abs(values) <= _LARGEST_INDEX):
        raise _wrong_type(attribute)
    return values.astype(np.int64)


def _wrong_type(attribute: Any) -> UnsoundFileError:
    return UnsoundFileError(f"{printable_text(attribute.GetName())} is not of its schema's type")


def _require_sound(name: str, points: int, counts: Corners, indices: Corners) -> None:
    shown = printable_text(name)
    if np.any(counts < 0) or int(counts.sum()) != len(indices):
        raise UnsoundFileError(
            f"mesh '{shown}' counts {int(counts.sum())} corners, but names {len(indices)}"
        )
    wrong = (indices < 0) | (indices >= points)
    if wrong.any():
        named = int(indices[np.argmax(wrong)])
        raise UnsoundFileError(f"mesh '{shown}' names point {named}, but there are {points}")


def _is_left_handed(mesh: Any, reading: _Reading) -> bool:
    return bool(
        mesh.GetOrientationAttr().Get(reading.time) == reading.library.geom.Tokens.leftHanded
    )


# Values of corners.


def _uv_sets(prim: Any, corners: _Corners, reading: _Reading) -> list[UvSet]:
    found = []
    for primvar in reading.library.geom.PrimvarsAPI(prim).GetPrimvars():
        name, kind = str(primvar.GetPrimvarName()), primvar.GetTypeName()
        is_uv = kind.role == "TextureCoordinate" or name in _FIRST_UV_NAMES
        if not is_uv or str(kind.scalarType).rstrip("dfh")[-1:] != "2" or not primvar.HasValue():
            continue
        uvs = _values(primvar.GetAttr(), reading, 2)
        entry = _entries(primvar.GetInterpolation(), corners)
        if primvar.IsIndexed():
            entry = _through(_whole_values(primvar.GetIndicesAttr(), reading), entry)
        found.append(_uv_set(name, uvs, entry, reading))
    return sorted(found, key=lambda uv_set: uv_set.name not in _FIRST_UV_NAMES)


def _uv_set(name: str, uvs: FloatArray, entry: Corners, reading: _Reading) -> UvSet:
    there = (entry >= 0) & (entry < len(uvs))
    if not there.all():
        reading.note(f"UVs '{printable_text(name)}' are missing for some corners")
    corner_uv = np.where(there, entry, -1).astype(np.int32)
    return UvSet(name=printable_text(name), uvs=uvs, corner_uv=corner_uv)


def _entries(interpolation: str, corners: _Corners) -> Corners:
    """Which value each corner has, by how values are spread over the mesh."""
    spread = {
        "faceVarying": corners.corner,
        "vertex": corners.point,
        "varying": corners.point,
        "uniform": corners.face,
    }
    return spread.get(str(interpolation), np.zeros(len(corners.point), dtype=np.int64))


def _through(indices: Corners, entry: Corners) -> Corners:
    there = (entry >= 0) & (entry < len(indices))
    if not len(indices):
        return np.full(len(entry), -1, dtype=np.int64)
    return np.where(there, indices[np.where(there, entry, 0)], -1)


def _normals(mesh: Any, corners: _Corners, reading: _Reading) -> tuple[FloatArray, IndexArray]:
    """primvars:normals wins over normals, as UsdGeomPointBased says."""
    primvar = reading.library.geom.PrimvarsAPI(mesh.GetPrim()).GetPrimvar("normals")
    if primvar and primvar.HasValue():
        normals = _values(primvar.GetAttr(), reading, 3)
        entry = _entries(primvar.GetInterpolation(), corners)
        if primvar.IsIndexed():
            entry = _through(_whole_values(primvar.GetIndicesAttr(), reading), entry)
    else:
        normals = _values(mesh.GetNormalsAttr(), reading, 3)
        entry = _entries(mesh.GetNormalsInterpolation(), corners)
    there = (entry >= 0) & (entry < len(normals))
    return normals, np.where(there, entry, -1).astype(np.int32)


# Materials.


def _face_materials(prim: Any, faces: int, reading: _Reading) -> tuple[tuple[str, ...], IndexArray]:
    """Names, and the name of each of the file's faces: its subset's material, else the mesh's."""
    names: list[str] = []
    chosen = np.full(faces, _material(prim, names, reading), dtype=np.int32)
    for child in prim.GetFilteredChildren(reading.library.usd.TraverseInstanceProxies()):
        if child.IsA(reading.library.geom.Subset):
            subset = reading.library.geom.Subset(child)
            members = _whole_values(subset.GetIndicesAttr(), reading)
            material = _material(child, names, reading)
            if material >= 0 and str(subset.GetElementTypeAttr().Get()) == "face":
                chosen[members[(members >= 0) & (members < faces)]] = material
    return tuple(names), chosen


def _material(prim: Any, names: list[str], reading: _Reading) -> int:
    """The number of the prim's material among the names, added where new; -1 for none."""
    material, _ = reading.library.shade.MaterialBindingAPI(prim).ComputeBoundMaterial()
    if not material:
        return -1
    name = printable_text(material.GetPrim().GetName())
    if name not in reading.materials:
        reading.materials[name] = _with_picture(Material(name=name), material, reading)
    if name not in names:
        names.append(name)
    return names.index(name)


def _with_picture(found: Material, material: Any, reading: _Reading) -> Material:
    """The file behind the preview surface's diffuse colour."""
    surface, _, _ = material.ComputeSurfaceSource()
    colour = surface.GetInput("diffuseColor") if surface else None
    sources, _ = colour.GetConnectedSources() if colour else ((), ())
    if not sources:
        return found
    texture = reading.library.shade.Shader(sources[0].source.GetPrim())
    file = texture.GetInput("file")
    asset = file.Get(reading.time) if file else None
    if not asset or not asset.path:
        return found
    saying = file.GetAttr().GetPropertyStack(reading.time)
    path = path_from(saying[0].layer, asset.path, reading.layers) if saying else asset.path
    return replace(
        found,
        base_colour_file=printable_text(path),
        base_colour_data=reading.layers.package.get(path),
        is_laid_plainly=_reads_first_uvs(texture, reading),
    )


def _reads_first_uvs(texture: Any, reading: _Reading) -> bool:
    """Whether a picture's UVs come straight from a reader of a usual first set."""
    place = texture.GetInput("st")
    sources, _ = place.GetConnectedSources() if place else ((), ())
    if not sources:
        return True
    reader = reading.library.shade.Shader(sources[0].source.GetPrim())
    name = reader.GetInput("varname")
    value = name.Get(reading.time) if name else None
    is_reader = str(reader.GetIdAttr().Get() or "").startswith("UsdPrimvarReader")
    return is_reader and (value is None or str(value) in _FIRST_UV_NAMES)
