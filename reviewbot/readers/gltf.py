"""glTF 2.0 and GLB: triangles with two and more UV sets, nodes, materials by name.

Source: glTF 2.0 Specification, Khronos Group: 3.5 (scenes and nodes), 3.7 (meshes; primitive
modes), 3.9 (materials). A node with a mesh is a part; its primitives are the part's materials.
The format holds triangles and repeats a point for every use of it: points, UVs and normals of
equal value are one entry here. Its V axis runs downwards and is turned. Units are metres, Y is up.
"""

from __future__ import annotations

import re
import urllib.parse
from collections.abc import Iterator
from dataclasses import dataclass, field, replace

import numpy as np
import numpy.typing as npt

from reviewbot.errors import MeshReadError
from reviewbot.mesh import FloatArray, IndexArray, Material, Model, Note, Part, UvSet
from reviewbot.readers.gltf_data import GltfData, embedded_bytes, split_container
from reviewbot.readers.gltf_nodes import placed_nodes
from reviewbot.readers.json_records import JsonRecord
from reviewbot.readers.names import printable_text
from reviewbot.readers.references import Siblings, no_siblings
from reviewbot.readers.unsound import UnsoundFileError
from reviewbot.readers.welding import distinct_rows

Triangles = npt.NDArray[np.int64]
_TRIANGLES, _STRIP, _FAN = 4, 5, 6
_OTHER_MODES = {0: "points", 1: "lines", 2: "lines", 3: "lines"}
_COMPRESSED = {
    "KHR_draco_mesh_compression",
    "EXT_meshopt_compression",
    "KHR_meshopt_compression",
}
_UV_SET = re.compile(r"TEXCOORD_([0-9]{1,3})")
# Required extensions that change nothing of what is read here, or that the reader covers.
_HARMLESS = {
    "KHR_mesh_quantization",
    "KHR_texture_transform",
    "KHR_texture_basisu",
    "EXT_texture_webp",
    "KHR_lights_punctual",
}
_HARMLESS_START = "KHR_materials_"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Primitive:
    """Triangles of one material; attributes have one row a vertex.

    triangles (M, 3); points, normals (N, 3); uvs by number of their set, each (N, 2)
    """

    triangles: Triangles
    points: FloatArray
    normals: FloatArray | None
    uvs: dict[int, FloatArray]
    material: int


@dataclass(slots=True, kw_only=True)
class _Reading:
    """A file being read: its records, and what has been noted so far."""

    data: GltfData
    nodes: list[JsonRecord]
    meshes: list[JsonRecord]
    materials: list[str]
    no_materials: bool
    notes: dict[str, None] = field(default_factory=dict)
    parts: dict[int, Part] = field(default_factory=dict)

    def note(self, reason: str) -> None:
        self.notes.setdefault(reason)


def read_gltf(data: bytes, *, path: str, siblings: Siblings = no_siblings) -> Model:
    """A .gltf or .glb file as a Model; buffers outside it come from `siblings`.

    Raises MeshReadError for what breaks the specification, needs an extension that is not read,
    or refers to a buffer that is not beside it.
    """
    try:
        return _read(data, siblings)
    except UnsoundFileError as error:
        raise MeshReadError(path=path, line=error.line, reason=error.reason) from error


def _read(data: bytes, siblings: Siblings) -> Model:
    document, binary = split_container(data)
    _require_version(document)
    given = document.records("materials")
    names = [m.name(f"material {k}") for k, m in enumerate(given)]
    reading = _Reading(
        data=GltfData(document, binary, siblings),
        nodes=document.records("nodes"),
        meshes=document.records("meshes"),
        materials=names,
        no_materials=_tell_nothing_apart(given),
    )
    _note_what_is_left_out(document, reading)
    parts = tuple(_parts(document, reading))
    if not parts:
        raise UnsoundFileError("shows no mesh")
    materials = () if reading.no_materials else _materials(document, reading)
    reading.note("glTF holds triangles: points in one place are taken as one, quads are not known")
    return Model(
        parts=parts,
        format="gltf",
        notes=tuple(Note(line=None, reason=reason) for reason in reading.notes),
        materials=materials,
        up_axis="y",
        metres_per_unit=1.0,
    )


def _require_version(document: JsonRecord) -> None:
    asset = document.record("asset")
    if asset.fields.get("version") == 1:  # as the first exporters wrote it
        raise UnsoundFileError("is glTF of version 1; version 2 is read")
    version = asset.text("minVersion") or asset.text("version")
    if version.split(".")[0] != "2":
        shown = printable_text(version[:20]) or "unknown"
        raise UnsoundFileError(f"is glTF of version {shown}; version 2 is read")
    unread = [
        name
        for name in document.texts("extensionsRequired")
        if name not in _HARMLESS and not name.startswith(_HARMLESS_START)
    ]
    if unread:
        names = ", ".join(printable_text(name[:60]) for name in unread[:5])
        raise UnsoundFileError(f"needs extensions that are not read: {names}")


def _note_what_is_left_out(document: JsonRecord, reading: _Reading) -> None:
    for key in ("animations", "skins", "cameras"):
        if document.records(key):
            reading.note(f"{key} are passed over")
    if "KHR_texture_transform" in document.texts("extensionsUsed"):
        reading.note("texture transforms (KHR_texture_transform) are not applied to UVs")


# Nodes.


def _parts(document: JsonRecord, reading: _Reading) -> Iterator[Part]:
    shown = set()
    for index, transform in placed_nodes(document, reading.nodes):
        node = reading.nodes[index]
        if not node.has("mesh"):
            continue
        mesh = node.whole("mesh")
        shown.add(mesh)
        if mesh not in reading.parts:
            reading.parts[mesh] = _mesh_part(reading, mesh)
        part = reading.parts[mesh]
        posed = node.has("skin")  # section 3.7.3.3: the node's own transform does not count then
        if posed:
            reading.note("meshes on skins stand as modelled, not as posed")
        placed = np.eye(4) if posed else transform
        yield replace(part, name=node.name(part.name), transform=placed)
    if len(shown) < len(reading.meshes):
        hidden = len(reading.meshes) - len(shown)
        reading.note(f"meshes that the scene does not show are passed over: {hidden}")


# Meshes.


def _mesh_part(reading: _Reading, index: int) -> Part:
    if index >= len(reading.meshes):
        raise UnsoundFileError(f"mesh {index} is asked for, but there are {len(reading.meshes)}")
    mesh = reading.meshes[index]
    primitives = [
        primitive
        for record in mesh.records("primitives")
        if (primitive := _primitive(reading, record)) is not None
    ]
    sets = sorted({number for primitive in primitives for number in primitive.uvs})
    vertex = _concatenated([p.triangles for p in primitives], [len(p.points) for p in primitives])
    points, place = distinct_rows(_stacked([p.points for p in primitives], 3))
    uvs, corner_uv = _uv_table(primitives, 0, vertex)
    normals, corner_normal = _normal_table(primitives, vertex)
    used = sorted({p.material for p in primitives} - {-1})
    local = {material: k for k, material in enumerate(used)} | {-1: -1}
    counts = [len(p.triangles) for p in primitives]
    return Part(
        name=mesh.name(f"mesh {index}"),
        points=points,
        corner_point=place[vertex],
        face_start=np.arange(0, len(vertex) + 1, 3, dtype=np.int32),
        uvs=uvs,
        corner_uv=corner_uv,
        further_uvs=tuple(
            UvSet(name=f"TEXCOORD_{number}", uvs=further, corner_uv=corner)
            for number in sets
            if number
            for further, corner in [_uv_table(primitives, number, vertex)]
        ),
        materials=tuple(reading.materials[material] for material in used),
        face_material=np.repeat([local[p.material] for p in primitives], counts),
        normals=normals,
        corner_normal=corner_normal,
    )


def _primitive(reading: _Reading, record: JsonRecord) -> _Primitive | None:
    """One primitive, or None for what holds no triangles."""
    mode = record.whole("mode", _TRIANGLES)
    if mode not in (_TRIANGLES, _STRIP, _FAN):
        reading.note(f"primitives of {_OTHER_MODES.get(mode, 'unknown mode')} are passed over")
        return None
    if record.has("targets"):
        reading.note("morph targets are passed over")
    attributes = record.record("attributes")
    if not attributes.has("POSITION"):
        reading.note("primitives without positions are passed over")
        return None
    _refuse_compressed(reading, record, attributes)
    points = reading.data.accessor(attributes.whole("POSITION"), widths=(3,))
    material = record.whole("material") if record.has("material") else -1
    if material >= len(reading.materials):
        raise UnsoundFileError(f"{record.where} names material {material}, which is not there")
    if reading.no_materials:
        material = -1
    indices = _vertex_order(reading, record, len(points))
    return _Primitive(
        triangles=_triangles(reading, indices, mode),
        points=points.astype(np.float64),
        normals=_attribute(reading, attributes, "NORMAL", len(points), 3),
        uvs=_uv_sets(reading, attributes, len(points)),
        material=material,
    )


def _refuse_compressed(reading: _Reading, record: JsonRecord, attributes: JsonRecord) -> None:
    """Compressed primitives may come with a plain copy; one that does not cannot be read."""
    if record.record("extensions").fields.keys() & _COMPRESSED:
        accessors = reading.data.document.records("accessors")
        position = attributes.whole("POSITION")
        if position >= len(accessors) or not accessors[position].has("bufferView"):
            raise UnsoundFileError("is compressed by an extension that is not read")


def _vertex_order(reading: _Reading, record: JsonRecord, count: int) -> Triangles:
    if not record.has("indices"):
        return np.arange(count)
    indices = reading.data.accessor(record.whole("indices"), widths=(1,))[:, 0]
    if indices.dtype.kind != "u":
        raise UnsoundFileError(f"{record.where}.indices are not unsigned whole numbers")
    if len(indices) and int(indices.max()) >= count:
        named = int(indices.max())
        raise UnsoundFileError(f"{record.where} names vertex {named}, but there are {count}")
    return indices.astype(np.int64)


def _triangles(reading: _Reading, order: Triangles, mode: int) -> Triangles:
    """(M, 3) by section 3.7.2.1; what is left over at the end makes no triangle."""
    if mode == _TRIANGLES:
        whole = len(order) // 3 * 3
        if whole < len(order):
            reading.note("vertices left over behind the last triangle are passed over")
        return order[:whole].reshape(-1, 3)
    k = np.arange(max(len(order) - 2, 0))
    if mode == _STRIP:
        return order[np.stack([k, k + 1 + k % 2, k + 2 - k % 2], axis=1)]
    return order[np.stack([k + 1, k + 2, np.zeros_like(k)], axis=1)]


def _uv_sets(reading: _Reading, attributes: JsonRecord, count: int) -> dict[int, FloatArray]:
    sets = {}
    for key in attributes.fields:
        if named := _UV_SET.fullmatch(key):
            uvs = _attribute(reading, attributes, key, count, 2)
            if uvs is not None:
                sets[int(named[1])] = np.stack([uvs[:, 0], 1 - uvs[:, 1]], axis=1)
    if any(key.startswith("COLOR_") for key in attributes.fields):
        reading.note("colours of points are passed over")
    return sets


def _attribute(
    reading: _Reading, attributes: JsonRecord, key: str, count: int, width: int
) -> FloatArray | None:
    if not attributes.has(key):
        return None
    values = reading.data.accessor(attributes.whole(key), widths=(width,))
    if len(values) != count:
        raise UnsoundFileError(f"{attributes.where}.{key} has {len(values)} entries, not {count}")
    return values.astype(np.float64)


# Primitives put together: one row a vertex, then one entry a value.


def _stacked(tables: list[FloatArray], width: int) -> FloatArray:
    return np.concatenate([np.empty((0, width)), *tables])


def _concatenated(triangles: list[Triangles], counts: list[int]) -> Triangles:
    """(C,) vertices of all corners, counted through all primitives."""
    offsets = np.cumsum([0, *counts])
    shifted = [t.reshape(-1) + offset for t, offset in zip(triangles, offsets, strict=False)]
    return np.concatenate([np.empty(0, dtype=np.int64), *shifted])


def _uv_table(
    primitives: list[_Primitive], number: int, vertex: Triangles
) -> tuple[FloatArray, IndexArray]:
    return _table([(p.uvs.get(number), len(p.points)) for p in primitives], 2, vertex)


def _normal_table(primitives: list[_Primitive], vertex: Triangles) -> tuple[FloatArray, IndexArray]:
    return _table([(p.normals, len(p.points)) for p in primitives], 3, vertex)


def _table(
    columns: list[tuple[FloatArray | None, int]], width: int, vertex: Triangles
) -> tuple[FloatArray, IndexArray]:
    """The distinct values, and which each corner has, -1 where its primitive has none."""
    values = _stacked([column for column, _ in columns if column is not None], width)
    rows, entry = distinct_rows(values)
    per_vertex, at = [np.empty(0, dtype=np.int32)], 0
    for column, count in columns:
        if column is None:
            per_vertex.append(np.full(count, -1, dtype=np.int32))
        else:
            per_vertex.append(entry[at : at + count])
            at += count
    return rows, np.concatenate(per_vertex)[vertex]


# Materials.


def _materials(document: JsonRecord, reading: _Reading) -> tuple[Material, ...]:
    textures, images = document.records("textures"), document.records("images")
    found: dict[str, Material] = {}
    for name, record in zip(reading.materials, document.records("materials"), strict=True):
        texture = _base_colour(record)
        image = _image_of(texture, textures, images)
        file, data = (None, None) if image is None else _picture(image, reading)
        plainly = not texture.whole("texCoord", 0) and not _is_transformed(texture)
        if not plainly:
            reading.note("a base colour picture lies on a UV set other than the first, or moved")
        material = Material(
            name=name, base_colour_file=file, base_colour_data=data, is_laid_plainly=plainly
        )
        found.setdefault(name, material)
    return tuple(found.values())


def _tell_nothing_apart(materials: list[JsonRecord]) -> bool:
    """Without name or picture and all alike: what some writers put in where none was given."""
    return all(
        not material.has("name")
        and not _base_colour(material).fields
        and material.fields == materials[0].fields
        for material in materials
    )


def _base_colour(material: JsonRecord) -> JsonRecord:
    """What lays a picture on as base colour; empty where nothing does."""
    texture = material.record("pbrMetallicRoughness").record("baseColorTexture")
    if texture.fields:
        return texture
    old = material.record("extensions").record("KHR_materials_pbrSpecularGlossiness")
    return old.record("diffuseTexture")


def _is_transformed(texture: JsonRecord) -> bool:
    return texture.record("extensions").has("KHR_texture_transform")


def _image_of(
    texture: JsonRecord, textures: list[JsonRecord], images: list[JsonRecord]
) -> JsonRecord | None:
    """The picture's record; where it is told in two forms, the plain one before WebP."""
    if not texture.fields or texture.whole("index") >= len(textures):
        return None
    source = textures[texture.whole("index")]
    if not source.has("source"):
        source = source.record("extensions").record("EXT_texture_webp")
    if not source.has("source") or source.whole("source") >= len(images):
        return None
    return images[source.whole("source")]


def _picture(image: JsonRecord, reading: _Reading) -> tuple[str | None, bytes | None]:
    """The file a picture lies in, or what it holds, where the mesh's file has it inside."""
    uri = image.text("uri")
    if uri and not uri.startswith("data:"):
        return printable_text(urllib.parse.unquote(uri)), None
    try:
        if uri:
            return None, embedded_bytes(image.where, uri)
        buffer, start, end, _ = reading.data.view_bytes(image.whole("bufferView"))
    except UnsoundFileError as error:  # the mesh can be read without it
        reading.note(f"a picture inside the file cannot be had: {error.reason}")
        return None, None
    return None, buffer[start:end]
