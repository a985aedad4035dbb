"""Small files that promise or unfold to far more than they hold end in a refusal, and soon.

Each is read in its own process with little memory and time; what is refused for want of either is
refused too, but most are seen through before that.
"""

from __future__ import annotations

import importlib.util
import json
import struct
import time
import zipfile
import zlib
from collections.abc import Callable, Iterator

import numpy as np
import pytest
from readers.fbx_binary import binary_fbx
from readers.fbx_files import fbx_file, mesh_text
from readers.gltf_files import UINT, GltfFile, one_triangle
from readers.usd_files import crate, packaged

from reviewbot.errors import MeshReadError
from reviewbot.readers.isolation import IsolatedReader

SECONDS = 8.0
SQUARE = np.array([(0, 0, 0), (1, 0, 0), (1, 1, 0), (0, 1, 0)], dtype=np.float64)
TRIANGLE = """point3f[] points = [(0, 0, 0), (1, 0, 0), (0, 1, 0)]
int[] faceVertexCounts = [3]
int[] faceVertexIndices = [0, 1, 2]
"""
needs_ufbx = pytest.mark.skipif(
    importlib.util.find_spec("ufbx") is None, reason="the optional library ufbx is not installed"
)
needs_usd = pytest.mark.skipif(
    importlib.util.find_spec("pxr") is None, reason="the optional library usd-core is not installed"
)


@pytest.fixture(scope="module")
def reader() -> Iterator[IsolatedReader]:
    with IsolatedReader(memory_mb=256, seconds=SECONDS) as reader:
        yield reader


def reason(reader: IsolatedReader, data: bytes, suffix: str) -> str:
    """Why a file is refused; it must be, and not long after its limit of time."""
    started = time.monotonic()
    with pytest.raises(MeshReadError) as caught:
        reader.read(data, path=f"lamp{suffix}")
    assert time.monotonic() - started < SECONDS + 5
    return caught.value.reason


def ply(*head: str, body: bytes = b"") -> bytes:
    return "\n".join(["ply", *head, "end_header", ""]).encode() + body


XYZ = tuple(f"property float {axis}" for axis in "xyz")
LIST = "property list uint int vertex_indices"
BINARY = "format binary_little_endian 1.0"


@pytest.mark.parametrize("count", [2**31, 2**32 - 1, 2**63, 10**30])
@pytest.mark.parametrize("form", ["format ascii 1.0", BINARY])
def test_ply_counts(reader: IsolatedReader, count: int, form: str) -> None:
    data = ply(form, f"element vertex {count}", *XYZ, body=bytes(120))
    assert "entries" in reason(reader, data, ".ply")


def test_a_ply_face_of_billions_of_corners(reader: IsolatedReader) -> None:
    head = (BINARY, "element vertex 3", *XYZ, "element face 1", LIST)
    body = bytes(36) + struct.pack("<I", 2**32 - 1) + bytes(12)
    assert "entries of 'face'" in reason(reader, ply(*head, body=body), ".ply")


def test_stl_count(reader: IsolatedReader) -> None:
    data = bytes(80) + struct.pack("<I", 2**32 - 1) + bytes(50)
    assert "ends" in reason(reader, data, ".stl")


@pytest.mark.parametrize("index", ["9" * 30, "-" + "9" * 30, str(2**31), str(2**63)])
def test_obj_indices(reader: IsolatedReader, index: str) -> None:
    data = b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 " + index.encode() + b"\n"
    said = reason(reader, data, ".obj")
    assert "names point" in said or "no corner of a face" in said


def gltf(change: Callable[[dict], None]) -> bytes:
    file = one_triangle()
    change(file.document)
    return file.packed()


def test_gltf_accessors_of_zeros(reader: IsolatedReader) -> None:
    """An accessor without a buffer view is all zeros: a count is all it takes (3.6.2.3)."""

    def zeros(document: dict) -> None:
        document["accessors"][0].pop("bufferView")
        document["accessors"][0]["count"] = 2**31

    assert reason(reader, gltf(zeros), ".gltf")


def test_gltf_counts(reader: IsolatedReader) -> None:
    def many(document: dict) -> None:
        document["accessors"][0]["count"] = 2**40

    assert "count is too large" in reason(reader, gltf(many), ".gltf")


def test_gltf_sparse_counts(reader: IsolatedReader) -> None:
    def sparse(document: dict) -> None:
        document["accessors"][0]["sparse"] = {
            "count": 2**40,
            "indices": {"bufferView": 0, "componentType": 5125},
            "values": {"bufferView": 0},
        }

    assert "sparse" in reason(reader, gltf(sparse), ".gltf")


def test_a_mesh_shown_a_million_times(reader: IsolatedReader) -> None:
    file = GltfFile()
    position = file.add_accessor(np.random.default_rng(0).random((3000, 3)))
    indices = file.add_accessor(np.arange(3000), UINT)
    file.add_mesh([{"attributes": {"POSITION": position}, "indices": indices}])
    file.document["nodes"] = [{"mesh": 0}] * 1_000_000
    file.document["scenes"] = [{"nodes": list(range(1_000_000))}]
    said = reason(reader, file.packed(), ".gltf")
    assert "memory" in said or "seconds" in said


@pytest.mark.parametrize("opening", [b"[", b'{"a":'])
def test_json_nested_without_end(reader: IsolatedReader, opening: bytes) -> None:
    assert "too deeply" in reason(reader, opening * 200_000, ".gltf")


def test_a_chain_of_nodes_is_followed_to_its_end(reader: IsolatedReader) -> None:
    """Depth alone is no fault: no reader may run out of its stack over it."""
    file = one_triangle()
    depth = 20_000
    file.document["nodes"] = [{"children": [k + 1]} for k in range(depth)] + [{"mesh": 0}]
    file.document["scenes"] = [{"nodes": [0]}]
    assert len(reader.read(file.packed(), path="lamp.gltf").parts) == 1


def test_a_glb_chunk_of_four_gigabytes(reader: IsolatedReader) -> None:
    text = json.dumps({"asset": {"version": "2.0"}}).encode()
    data = b"glTF" + struct.pack("<IIII", 2, 2**32 - 1, 2**32 - 4, 0x4E4F534A) + text
    assert "ends" in reason(reader, data, ".glb")


# Native libraries.


@needs_ufbx
def test_a_packed_fbx_array_that_unfolds_to_much_more(reader: IsolatedReader) -> None:
    """Half a gigabyte of zeros takes two megabytes in zlib."""
    sound = binary_fbx(SQUARE, [[0, 1, 2, 3]])
    stored = zlib.compress(SQUARE.astype("<f8").tobytes(), 1)
    packer = zlib.compressobj(1)
    zeros = bytes(1 << 24)
    bomb = b"".join(packer.compress(zeros) for _ in range(32)) + packer.flush()
    old = struct.pack("<III", 12, 1, len(stored)) + stored
    assert sound.count(old) == 1
    new = struct.pack("<III", 1 << 26, 1, len(bomb)) + bomb
    said = reason(reader, sound.replace(old, new), ".fbx")
    assert "no FBX file" in said or "memory" in said


@needs_ufbx
def test_an_fbx_array_that_promises_billions(reader: IsolatedReader) -> None:
    sound = binary_fbx(SQUARE, [[0, 1, 2, 3]], packed=False)
    old = struct.pack("<III", 12, 0, 96)
    assert sound.count(old) == 1
    said = reason(reader, sound.replace(old, struct.pack("<III", 2**32 - 1, 0, 96)), ".fbx")
    assert "no FBX file" in said


@needs_ufbx
def test_fbx_records_nested_without_end(reader: IsolatedReader) -> None:
    text = fbx_file(mesh_text(points=SQUARE.tolist(), faces=[[0, 1, 2, 3]]))
    said = reason(reader, text + b"a: {\n" * 100_000, ".fbx")
    assert "no FBX file" in said or "crashed" in said


@needs_usd
def test_usd_prims_nested_without_end(reader: IsolatedReader) -> None:
    text = b"#usda 1.0\n" + b'def Xform "a" {\n' * 50_000
    said = reason(reader, text, ".usda")
    assert "USD layer" in said or "crashed" in said or "memory" in said


@needs_usd
@pytest.mark.slow
def test_usd_references_that_double_at_every_level(reader: IsolatedReader) -> None:
    """Thirty prims of two children each, every child a reference to the next: 2^30 meshes."""
    text = "#usda 1.0\n" + f'def Mesh "m30"\n{{\n{TRIANGLE}}}\n'
    for level in range(30):
        children = "".join(
            f'    def "{child}" (references = </m{level + 1}>)\n    {{\n    }}\n' for child in "ab"
        )
        text += f'def "m{level}"\n{{\n{children}}}\n'
    said = reason(reader, text.encode(), ".usda")
    assert "memory" in said or "seconds" in said or "crashed" in said


@needs_usd
@pytest.mark.parametrize("compression", [zipfile.ZIP_DEFLATED, zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA])
def test_zip_bombs_are_never_unfolded(reader: IsolatedReader, compression: int) -> None:
    data = packaged({"a.usda": bytes(1 << 25)}, compression)
    assert len(data) < 1 << 16
    assert "compressed" in reason(reader, data, ".usdz")


@needs_usd
def test_a_package_whose_files_lie_on_each_other(reader: IsolatedReader) -> None:
    """Stored entries that share their bytes: nothing is compressed, yet it grows."""
    data = bytearray(packaged({f"{k:03}.usda": bytes(2000) for k in range(100)}))
    start = data.index(b"PK\x01\x02")
    at = start
    while data[at : at + 4] == b"PK\x01\x02":
        name, extra, comment = struct.unpack_from("<HHH", data, at + 28)
        struct.pack_into("<I", data, at + 42, 0)  # every entry begins where the first one does
        struct.pack_into("<II", data, at + 20, start, start)  # and is as long as all of them
        at += 46 + name + extra + comment
    assert "promises more than it holds" in reason(reader, bytes(data), ".usdz")


@needs_usd
@pytest.mark.slow
def test_a_crate_cut_anywhere_is_refused_or_read(reader: IsolatedReader) -> None:
    whole = crate(f'#usda 1.0\ndef Mesh "lamp"\n{{\n{TRIANGLE}}}\n'.encode())
    for end in range(0, len(whole), len(whole) // 6):
        assert reason(reader, whole[:end], ".usdc")
