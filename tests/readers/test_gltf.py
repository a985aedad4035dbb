"""The glTF reader against the glTF 2.0 Specification (Khronos Group); sections are named beside
the checks."""

from __future__ import annotations

import json
import struct
from collections.abc import Callable

import numpy as np
import pytest
import real_meshes
import shapes
import trimesh
from readers.fans import fan_corners
from readers.gltf_files import (
    BYTE,
    FLOAT,
    SHORT,
    UBYTE,
    UINT,
    USHORT,
    GltfFile,
    one_triangle,
)
from scipy.spatial.transform import Rotation

from reviewbot.errors import MeshReadError
from reviewbot.mesh import Model, Part, world_points
from reviewbot.readers.gltf import read_gltf

PLACES = [(0, 0, 0), (1, 0, 0), (0, 1, 0), (1, 1, 0), (0, 2, 0), (1, 2, 0)]


def read(file: GltfFile | bytes, **options) -> Model:
    data = file if isinstance(file, bytes) else file.packed()
    return read_gltf(data, path="lamp.gltf", **options)


def reason(file: GltfFile | bytes, **options) -> str:
    with pytest.raises(MeshReadError) as caught:
        read(file, **options)
    return caught.value.reason


def corners(part: Part) -> list[list[list[float]]]:
    return part.points[part.corner_point].reshape(-1, 3, 3).tolist()


def triangles_of(mode: int, indices: list[int] | None = None) -> list[list[int]]:
    """Which places the triangles of a primitive of this mode use, by number."""
    file = GltfFile()
    primitive = {"attributes": {"POSITION": file.add_accessor(PLACES)}, "mode": mode}
    if indices is not None:
        primitive["indices"] = file.add_accessor(indices, USHORT)
    file.add_mesh([primitive])
    file.add_node(mesh=0)
    (part,) = read(file).parts
    number = {tuple(map(float, place)): k for k, place in enumerate(PLACES)}
    return [[number[tuple(corner)] for corner in triangle] for triangle in corners(part)]


# 3.7.2.1: topology types.


def test_triangles() -> None:
    assert triangles_of(4) == [[0, 1, 2], [3, 4, 5]]
    assert triangles_of(4, [2, 1, 0, 5]) == [[2, 1, 0]]


def test_strips_turn_every_other_triangle() -> None:
    assert triangles_of(5) == [[0, 1, 2], [1, 3, 2], [2, 3, 4], [3, 5, 4]]
    assert triangles_of(5, [5, 4]) == []


def test_fans_end_at_their_first_vertex() -> None:
    assert triangles_of(6) == [[1, 2, 0], [2, 3, 0], [3, 4, 0], [4, 5, 0]]


@pytest.mark.parametrize("component", [UBYTE, USHORT, UINT])
def test_indices_of_all_sizes(component: int) -> None:
    file = one_triangle()
    primitive = file.document["meshes"][0]["primitives"][0]
    primitive["indices"] = file.add_accessor([2, 0, 1], component)
    assert corners(read(file).parts[0]) == [[[0, 1, 0], [0, 0, 0], [1, 0, 0]]]


# 3.6.2: accessors.


def test_the_same_file_as_text_with_and_without_its_buffer_and_as_glb() -> None:
    file = one_triangle()
    inside, glb = read(file), read(file.glb())
    outside = read(
        file.packed(uri="bin/lamp%20a.bin"), siblings={"bin/lamp a.bin": file.binary}.get
    )
    assert corners(inside.parts[0]) == corners(glb.parts[0]) == corners(outside.parts[0])
    assert (inside.format, inside.up_axis, inside.metres_per_unit) == ("gltf", "y", 1.0)


def test_interleaved_attributes_and_offsets() -> None:
    file = GltfFile()
    rows = np.arange(20, dtype="<f4").reshape(4, 5)
    view = file.add_view(b"skip" + rows.tobytes(), byteStride=20)
    common = {"bufferView": view, "componentType": FLOAT, "count": 3}
    file.document["accessors"] += [
        {**common, "byteOffset": 4 + 20, "type": "VEC3"},
        {**common, "byteOffset": 4 + 20 + 12, "type": "VEC2"},
    ]
    file.add_mesh([{"attributes": {"POSITION": 0, "TEXCOORD_0": 1}}])
    file.add_node(mesh=0)
    (part,) = read(file).parts
    assert corners(part) == [rows[1:, :3].tolist()]
    assert part.uvs[part.corner_uv].tolist() == [[8, -8], [13, -13], [18, -18]]


def test_sparse_entries_replace_those_of_the_view() -> None:
    """3.6.2.3; the shape of the specification's own example, numbers from memory: 14 vertices of
    which 8, 10 and 12 are moved."""
    file = GltfFile()
    flat = [(k % 7, k // 7, 0) for k in range(14)]
    moved = [(1, 2, 0), (3, 3, 0), (5, 4, 0)]
    sparse = {
        "count": 3,
        "indices": {
            "bufferView": file.add_view(np.array([8, 10, 12], "<u2").tobytes()),
            "componentType": USHORT,
        },
        "values": {"bufferView": file.add_view(np.array(moved, "<f4").tobytes())},
    }
    position = file.add_accessor(flat, sparse=sparse)
    indices = file.add_accessor([7, 8, 9, 10, 11, 12], USHORT)
    file.add_mesh([{"attributes": {"POSITION": position}, "indices": indices}])
    file.add_node(mesh=0)
    assert corners(read(file).parts[0]) == [
        [[0, 1, 0], [1, 2, 0], [2, 1, 0]],
        [[3, 3, 0], [4, 1, 0], [5, 4, 0]],
    ]


def test_sparse_entries_over_no_view_stand_in_zeros() -> None:
    file = one_triangle()
    values = file.document["accessors"][0]
    del values["bufferView"]
    values["sparse"] = {
        "count": 1,
        "indices": {"bufferView": file.add_view(b"\x02"), "componentType": UBYTE},
        "values": {"bufferView": file.add_view(np.array([7, 8, 9], "<f4").tobytes())},
    }
    assert corners(read(file).parts[0]) == [[[0, 0, 0], [0, 0, 0], [7, 8, 9]]]


@pytest.mark.parametrize(
    ("component", "raw", "value"),
    [(UBYTE, 255, 1), (UBYTE, 51, 0.2), (USHORT, 65535, 1), (BYTE, -128, -1), (SHORT, 32767, 1)],
)
def test_normalised_integers(component: int, raw: int, value: float) -> None:
    """3.6.2.2: c / 255, c / 65535, max(c / 127, -1), max(c / 32767, -1)."""
    file = one_triangle()
    uv = file.add_accessor([(raw, 0)] * 3, component, normalized=True)
    file.document["meshes"][0]["primitives"][0]["attributes"]["TEXCOORD_0"] = uv
    assert np.isclose(read(file).parts[0].uvs[0, 0], value)


def test_integers_not_normalised_stay_whole() -> None:
    file = one_triangle()
    position = file.add_accessor([(0, 0, 0), (300, 0, 0), (0, 200, 0)], USHORT)
    file.document["meshes"][0]["primitives"][0]["attributes"]["POSITION"] = position
    assert corners(read(file).parts[0])[0][1] == [300, 0, 0]


def test_not_a_number_and_infinity_in_buffers_are_kept() -> None:
    file = GltfFile()
    position = file.add_accessor([(np.nan, 0, 0), (np.inf, 0, 0), (0, 1, 0)])
    file.add_mesh([{"attributes": {"POSITION": position}}])
    file.add_node(mesh=0)
    (part,) = read(file).parts
    assert np.isnan(part.points[0, 0])
    assert np.isinf(part.points[1, 0])


# 3.7.2: texture coordinates.


def test_v_runs_upwards_here_and_downwards_there() -> None:
    """3.9.1: (0, 0) is the upper left corner of the picture."""
    (part,) = read(one_triangle()).parts
    assert part.uvs[part.corner_uv].tolist() == [[0, 1], [1, 1], [0, 0.25]]


def test_further_uv_sets_are_kept_apart() -> None:
    file = one_triangle()
    attributes = file.document["meshes"][0]["primitives"][0]["attributes"]
    attributes["TEXCOORD_1"] = file.add_accessor([(0.5, 0.5), (0.5, 0.5), (0.25, 0.5)])
    (part,) = read(file).parts
    (second,) = part.further_uvs
    assert second.name == "TEXCOORD_1"
    assert second.uvs[second.corner_uv].tolist() == [[0.5, 0.5], [0.5, 0.5], [0.25, 0.5]]
    assert len(second.uvs) == 2


def test_attributes_of_odd_names_are_no_uv_sets() -> None:
    file = one_triangle()
    attributes = file.document["meshes"][0]["primitives"][0]["attributes"]
    for name in ("TEXCOORD_", "TEXCOORD_x", "TEXCOORD_" + "9" * 5000, "_TEXCOORD_1"):
        attributes[name] = 1
    assert not read(file).parts[0].further_uvs


@pytest.mark.parametrize(
    ("materials", "names"),
    [
        ([{}], ()),
        ([{"doubleSided": True}, {"doubleSided": True}], ()),
        ([{"name": "brass"}], ("brass",)),
        ([{"doubleSided": True}, {}], ("material 0",)),
        ([{"pbrMetallicRoughness": {"baseColorTexture": {"index": 0}}}], ("material 0",)),
    ],
)
def test_nameless_materials_that_tell_nothing_apart_are_none(
    materials: list[dict], names: tuple[str, ...]
) -> None:
    """Common practice of writers, no source: a file must not gain a material by its format."""
    file = one_triangle()
    file.document["materials"] = materials
    file.document["meshes"][0]["primitives"][0]["material"] = 0
    model = read(file)
    assert model.parts[0].materials == names
    assert bool(model.materials) == bool(names)


def test_primitives_are_materials_of_one_part() -> None:
    file = GltfFile()
    file.document["materials"] = [{"name": "brass"}, {}, {"name": "glass"}]
    position = file.add_accessor(PLACES)
    uv = file.add_accessor([(k / 8, 0) for k in range(6)])
    first, second = file.add_accessor([0, 1, 2], UBYTE), file.add_accessor([1, 3, 2], UBYTE)
    file.add_mesh(
        [
            {
                "attributes": {"POSITION": position, "TEXCOORD_0": uv},
                "indices": first,
                "material": 2,
            },
            {"attributes": {"POSITION": position}, "indices": second, "material": 1},
            {"attributes": {"POSITION": position}, "mode": 1},
            {"attributes": {"POSITION": position}, "indices": first},
        ]
    )
    file.add_node(mesh=0)
    model = read(file)
    (part,) = model.parts
    assert part.materials == ("material 1", "glass")
    assert part.face_material.tolist() == [1, 0, -1]
    assert part.corner_uv.tolist() == [0, 1, 2, -1, -1, -1, -1, -1, -1]
    assert len(part.points) == 6
    assert "lines" in " ".join(note.reason for note in model.notes)


# 3.5: nodes and transforms.


def test_transforms_multiply_from_the_root() -> None:
    turn = Rotation.from_euler("y", 90, degrees=True)
    file = one_triangle()
    file.document["nodes"][0] |= {"scale": [2, 3, 4], "rotation": turn.as_quat().tolist()}
    file.add_node(name="stand", children=[0], translation=[10, 0, 0])
    (part,) = read(file).parts
    expected = turn.apply(np.array(PLACES[:3]) * [2, 3, 4]) + np.array([10, 0, 0])
    assert np.allclose(world_points(part), expected)


def test_matrices_are_given_by_columns() -> None:
    file = one_triangle()
    file.document["nodes"][0]["matrix"] = [1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0, 5, 6, 7, 1]
    assert world_points(read(file).parts[0])[0].tolist() == [5, 6, 7]


def test_a_mesh_on_two_nodes_is_two_parts() -> None:
    file = one_triangle()
    file.add_node(mesh=0, name="copy\x07", translation=[1, 0, 0])
    assert [part.name for part in read(file).parts] == ["lamp", "copy\N{REPLACEMENT CHARACTER}"]


def test_only_the_chosen_scene_is_shown() -> None:
    file = one_triangle()
    other = file.add_mesh([file.document["meshes"][0]["primitives"][0]], name="spare")
    file.document["nodes"].append({"mesh": other})
    file.document["scenes"].append({"nodes": [1]})
    file.document["scene"] = 1
    model = read(file)
    assert [part.name for part in model.parts] == ["spare"]
    assert "does not show" in " ".join(note.reason for note in model.notes)
    del file.document["scenes"]
    assert [part.name for part in read(file).parts] == ["lamp", "spare"]


# 3.9: materials and pictures.


def test_base_colour_pictures() -> None:
    file = one_triangle()
    file.document["images"] = [{"uri": "maps/a.png"}, {"uri": "data:image/png;base64,"}]
    file.document["textures"] = [{"source": 0}, {"source": 1}, {}]
    paint = lambda index: {"pbrMetallicRoughness": {"baseColorTexture": {"index": index}}}  # noqa: E731
    file.document["materials"] = [paint(0) | {"name": "brass"}, paint(1), paint(2), {}]
    pictures = {m.name: m.base_colour_file for m in read(file).materials}
    assert pictures == {
        "brass": "maps/a.png",
        "material 1": None,
        "material 2": None,
        "material 3": None,
    }


def test_base_colour_pictures_inside_the_file() -> None:
    file = one_triangle()
    view = file.add_view(b"a picture")
    file.document["images"] = [
        {"bufferView": view, "mimeType": "image/png"},
        {"uri": "data:image/png;base64,YWJj"},
        {"uri": "maps/old%20brass.png"},
        {"bufferView": 99, "mimeType": "image/png"},
    ]
    file.document["textures"] = [{"source": k} for k in range(4)]
    paint = lambda index, **more: {  # noqa: E731
        "pbrMetallicRoughness": {"baseColorTexture": {"index": index, **more}}
    }
    moved = {"extensions": {"KHR_texture_transform": {"scale": [2, 2]}}}
    file.document["materials"] = [
        paint(0),
        paint(1, texCoord=1),
        paint(2, **moved),
        paint(3),
        paint(7),
    ]
    model = read(file)
    assert [m.base_colour_data for m in model.materials] == [b"a picture", b"abc", None, None, None]
    assert [m.base_colour_file for m in model.materials] == [
        None,
        None,
        "maps/old brass.png",
        None,
        None,
    ]
    assert [m.is_laid_plainly for m in model.materials] == [True, False, False, True, True]
    assert any("a picture inside the file" in note.reason for note in model.notes)


# Broken and hostile files.


def broken(change: Callable[[GltfFile], object]) -> GltfFile:
    file = one_triangle()
    change(file)
    return file


def set_at(*steps: object) -> Callable[[GltfFile], object]:
    """Sets the value at a path of keys in the document: set_at(key, key, value)."""

    def change(file: GltfFile) -> None:
        place = file.document
        for step in steps[:-2]:
            place = place[step]
        place[steps[-2]] = steps[-1]

    return change


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (set_at("asset", {}), "version unknown"),
        (set_at("asset", {"version": "1.0"}), "version 1.0"),
        (set_at("asset", {"version": 2}), "no text"),
        (set_at("asset", {"version": 1}), "version 1;"),
        (set_at("asset", {"version": "2.0", "minVersion": "3.1"}), "version 3.1"),
        (set_at("extensionsRequired", ["KHR_draco_mesh_compression"]), "draco"),
        (set_at("scene", 3), "scene 3"),
        (set_at("scenes", [{}]), "shows no mesh"),
        (set_at("nodes", 0, "mesh", 7), "mesh 7"),
        (set_at("nodes", 0, "mesh", -1), "no whole number"),
        (set_at("nodes", 0, "mesh", True), "no whole number"),
        (set_at("nodes", 0, "children", [0]), "below itself"),
        (set_at("nodes", 0, "children", [9]), "node 9"),
        (set_at("nodes", 0, "scale", [1, 2]), "no list of 3 numbers"),
        (set_at("nodes", 0, "matrix", ["x"] * 16), "no list of 16 numbers"),
        (set_at("nodes", {}), "no list"),
        (set_at("nodes", 0, "scale", [10**400, 1, 1]), "out of all range"),
        (set_at("meshes", 0, "primitives", 0, "indices", 1), "what its use asks for"),
        (set_at("meshes", 0, "primitives", 0, "material", 0), "material 0"),
        (set_at("meshes", 0, "primitives", 0, "attributes", "POSITION", 9), "accessor 9"),
        (set_at("meshes", 0, "primitives", 0, "attributes", "POSITION", 1), "its use"),
        (set_at("accessors", 0, "count", 4), "ends behind its bufferView"),
        (set_at("accessors", 0, "count", 10**30), "too large"),
        (set_at("accessors", 0, "byteOffset", 10**30), "ends behind"),
        (set_at("accessors", 0, "componentType", 5124), "5124 is unknown"),
        (set_at("accessors", 0, "bufferView", 9), "bufferView 9"),
        (set_at("accessors", 1, "count", 2), "2 entries, not 3"),
        (set_at("bufferViews", 0, "byteStride", 8), "stride"),
        (set_at("bufferViews", 0, "byteLength", 10**9), "ends behind its buffer"),
        (set_at("bufferViews", 0, "buffer", 1), "buffer 1"),
    ],
)
def test_what_breaks_the_rules_is_refused_with_its_reason(
    change: Callable[[GltfFile], object], said: str
) -> None:
    assert said in reason(broken(change))


def test_an_index_out_of_range_is_refused() -> None:
    file = one_triangle()
    file.document["meshes"][0]["primitives"][0]["indices"] = file.add_accessor([0, 1, 3], UINT)
    assert "names vertex 3, but there are 3" in reason(file)


def test_sparse_indices_must_rise_and_exist() -> None:
    for indices, said in (([2, 1], "rise strictly"), ([1, 3], "names entry 3 of 3")):
        file = one_triangle()
        file.document["accessors"][0]["sparse"] = {
            "count": 2,
            "indices": {"bufferView": file.add_view(bytes(indices)), "componentType": UBYTE},
            "values": {"bufferView": file.add_view(bytes(24))},
        }
        assert said in reason(file)


@pytest.mark.parametrize(
    "uri",
    ["../lamp.bin", "/etc/passwd", "file:///etc/passwd", "http://x/a", "a/../../b", "%2e%2e/b"],
)
def test_buffers_elsewhere_are_never_asked_for(uri: str) -> None:
    asked: list[str] = []
    assert uri in reason(one_triangle().packed(uri=uri), siblings=asked.append)
    assert not asked


def test_a_missing_or_short_buffer_is_said() -> None:
    file = one_triangle()
    assert "not in the repository" in reason(file.packed(uri="a.bin"))
    assert "are promised" in reason(file.packed(uri="a.bin"), siblings=lambda _: b"")
    assert "base64" in reason(file.packed(uri="data:;base64,@@"))


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "no JSON"),
        (b"[]", "no gltf object"),
        (b'{"asset": NaN}', "no number 'NaN'"),
        (b'{"asset": 1' + b"0" * 5000 + b"}", "no JSON"),
        (b'{"a":' * 200_000, "nested too deeply"),
        (b"\xff{}", "no UTF-8"),
        (b"glTF", "ends in its header"),
        (b"glTF" + struct.pack("<II", 1, 12), "GLB version 1"),
        (b"glTF" + struct.pack("<II", 2, 99), "ends after 12 of 99 bytes"),
        (b"glTF" + struct.pack("<II", 2, 12), "JSON chunk"),
        (b"glTF" + struct.pack("<IIII", 2, 20, 9999, 0x4E4F534A), "behind the file"),
    ],
)
def test_what_is_no_gltf_is_refused(data: bytes, said: str) -> None:
    assert said in reason(data)


def test_a_json_fault_is_found_with_its_line() -> None:
    with pytest.raises(MeshReadError) as caught:
        read(b'{\n"asset": {"version": "2.0"},\n"nodes": [}\n')
    assert caught.value.line == 3


# Other writers, real files.


def test_a_sphere_written_by_trimesh_keeps_its_measures() -> None:
    part = shapes.sphere(24, 12)
    fans = fan_corners(part).reshape(-1)
    points, uvs = part.points[part.corner_point[fans]], part.uvs[part.corner_uv[fans]]
    mesh = trimesh.Trimesh(
        points,
        np.arange(len(points)).reshape(-1, 3),
        visual=trimesh.visual.TextureVisuals(uv=uvs),
        process=False,
    )
    (back,) = read(mesh.export(file_type="glb")).parts
    assert len(back.points) == len(part.points)
    assert np.allclose(back.points[back.corner_point], points, atol=1e-6)
    assert np.allclose(back.uvs[back.corner_uv], uvs, atol=1e-6)


REFUSED = {
    "/models/glTF/": "version",  # version 1
    "2CylinderEngine.gltf": "KHR_draco_mesh_compression",
    "BoxTextured-glTF-techniqueWebGL": "KHR_technique_webgl",
    "SceneWithoutNodes.gltf": "shows no mesh",
    "NoScene.gltf": "shows no mesh",
    "sceneWrongType.gltf": "gltf.scene is no whole number",
    "/IndexOutOfRange.gltf": "names vertex 255, but there are 24",
    "AllIndicesOutOfRange.gltf": "names vertex 65535, but there are 24",
    "badObject.gltf": "pbrMetallicRoughness is no object",
    "badUint.gltf": "baseColorTexture.index is no whole number",
    "badArray.gltf": "primitives is no list",
    "RecursiveNodes.gltf": "below itself",
    "MissingBin": "is not in the repository",
}


def test_real_files_are_read_or_refused_with_a_true_reason() -> None:
    for path in real_meshes.assimp_models(".gltf", ".glb"):
        expected = [said for part, said in REFUSED.items() if part in str(path)]

        def beside(name: str, folder=path.parent) -> bytes | None:
            return (folder / name).read_bytes() if (folder / name).is_file() else None

        if expected:
            assert expected[0] in reason(path.read_bytes(), siblings=beside), path
            continue
        model = read(path.read_bytes(), siblings=beside)
        assert sum(part.face_count for part in model.parts) == _triangles_told(path, model), path


def _triangles_told(path, model: Model) -> int:
    """From the document's own counts, over the nodes that were read."""
    if path.suffix.lower() == ".glb":
        data = path.read_bytes()
        document = json.loads(data[20 : 20 + struct.unpack_from("<I", data, 12)[0]])
    else:
        document = json.loads(path.read_bytes())
    told = 0
    for node in document["nodes"]:
        if "mesh" not in node:
            continue
        for primitive in document["meshes"][node["mesh"]]["primitives"]:
            mode = primitive.get("mode", 4)
            vertices = primitive.get("indices", primitive["attributes"]["POSITION"])
            count = document["accessors"][vertices]["count"]
            told += {4: count // 3, 5: count - 2, 6: count - 2}.get(mode, 0)
    return told
