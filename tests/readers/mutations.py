"""Small sound files of every format, and ways to spoil them."""

from __future__ import annotations

import random
import re
from collections.abc import Iterator
from functools import cache

import numpy as np
import shapes
from readers.fbx_binary import binary_fbx
from readers.fbx_files import fbx_file, mesh_text
from readers.gltf_files import USHORT, GltfFile, one_triangle
from readers.inner_faults import Fault, flipped, in_glb, in_package, in_tree
from readers.spellings import Spelling, spelled
from readers.usd_files import crate, packaged

_NUMBER = re.compile(rb"-?\d+(\.\d+)?")
_WORDS = (
    b"0 -1 1 2 3 -2147483648 2147483647 4294967295 4294967296 1e308 1e999 -1e-400 nan inf -0 1e5"
    b' 99999999999999999999 0.1 00 1/2 / // \\ # f v vt usemtl o g {} [] " null true NaN ../x'
    b" /etc/passwd http://x/y data:;base64,AAAA \xff\xfe \x00 \r\n \n\n"
).split(b" ")
_USD = b"""#usda 1.0
(
    subLayers = [@a.usda@]
)
def Mesh "m"
{
    point3f[] points = [(0, 0, 0), (1, 0, 0), (0, 1, 0)]
    int[] faceVertexCounts = [3]
    int[] faceVertexIndices = [0, 1, 2]
    texCoord2f[] primvars:st = [(0, 0), (1, 0), (0, 1)] (interpolation = "faceVarying")
}
"""
_BYTES = (b"\x00", b"\xff", b"\x7f", b"\x80", b"\xff\xff\xff\xff", b"\x00\x00\x00\x80", bytes(16))


def seeds(suffix: str) -> list[bytes]:
    """Sound files of a format; the binary forms of USD take its library to write."""
    if suffix == ".usdc":
        return [crate(_USD)]
    if suffix == ".usdz":
        return [packaged({"a.usda": _USD}), packaged({"a.usdc": crate(_USD), "b.usda": _USD})]
    return _own_seeds()[suffix]


@cache
def _own_seeds() -> dict[str, list[bytes]]:
    cube, sheet = shapes.cube(), shapes.grid(2, 2)
    text = "ply\nformat {} 1.0\nelement vertex 4\nproperty float x\nproperty float y\n"
    text += "property float z\nelement face 2\nproperty list uchar int vertex_indices\nend_header\n"
    points = np.array([(0, 0, 0), (1, 0, 0), (1, 1, 0), (0, 1, 0)], dtype="<f4")
    faces = b"".join(b"\x03" + np.array(f, dtype="<i4").tobytes() for f in ((0, 1, 2), (0, 2, 3)))
    facet = "facet normal 0 0 1\nouter loop\n" + "vertex 0 1 2\n" * 3 + "endloop\nendfacet\n"
    materials = b"mtllib a.mtl\n" + spelled([cube, sheet], Spelling(relative=True, comments=True))
    uvs = {"m": (points[:, :2], np.array([0, 1, 2, 3]))}
    polygons = mesh_text(
        points=points.tolist(), faces=[[0, 1, 2, 3]], uvs={"m": ([(0, 0)], [0] * 4)}
    )
    return {
        ".obj": [spelled([cube], Spelling()), materials + b"usemtl a\ns 1\nf 1 2 3\nl 1 2\n"],
        ".gltf": [one_triangle().packed(), _sparse().packed(), one_triangle().packed(uri="a.bin")],
        ".glb": [one_triangle().glb(), _sparse().glb()],
        ".ply": [
            text.format("ascii").encode() + b"0 0 0\n1 0 0\n1 1 0\n0 1 0\n3 0 1 2\n3 0 2 3\n",
            text.format("binary_little_endian").encode() + points.tobytes() + faces,
        ],
        ".stl": [
            f"solid a\n{facet * 2}endsolid a\n".encode(),
            bytes(80) + b"\x02\0\0\0" + bytes(100),
        ],
        ".fbx": [
            fbx_file(polygons, materials=["brass"]),
            *(binary_fbx(points, [[0, 1, 2, 3]], uvs=uvs, packed=p) for p in (False, True)),
        ],
        ".usda": [_USD],
    }


def _sparse() -> GltfFile:
    file = one_triangle()
    primitive = file.document["meshes"][0]["primitives"][0]
    primitive["indices"] = file.add_accessor([0, 1, 2], USHORT)
    file.document["accessors"][0]["sparse"] = {
        "count": 1,
        "indices": {"bufferView": file.add_view(b"\x02"), "componentType": 5121},
        "values": {"bufferView": file.add_view(bytes(12))},
    }
    file.document["materials"] = [{"name": "a"}]
    primitive["material"] = 0
    return file


def spoiled(data: bytes, suffix: str, rng: random.Random) -> bytes:
    """The file with one to four faults anywhere, or with one or two that leave its form sound."""
    if rng.random() < 0.5:
        return _times(_inner_fault(data, suffix), data, rng, most=2)
    return _times(lambda data, rng: rng.choice(_FAULTS)(data, rng), data, rng, most=4)


def spoiled_files(count: int, *, suffix: str, seed: int) -> Iterator[bytes]:
    rng = random.Random(f"{suffix} {seed}")
    sound = seeds(suffix)
    for _ in range(count):
        yield spoiled(rng.choice(sound), suffix, rng)


def _times(fault: Fault, data: bytes, rng: random.Random, *, most: int) -> bytes:
    for _ in range(rng.randint(1, most)):
        data = fault(data, rng)
    return data


def _inner_fault(data: bytes, suffix: str) -> Fault:
    if suffix in (".gltf", ".glb"):
        return in_tree if suffix == ".gltf" else in_glb
    if suffix == ".usdz":
        return lambda data, rng: in_package(data, rng, _in_place)
    return _in_place


def _in_place(data: bytes, rng: random.Random) -> bytes:
    return _renumber(data, rng) if data.isascii() else flipped(data, rng)


def _span(data: bytes, rng: random.Random, longest: int = 64) -> tuple[int, int]:
    start = rng.randrange(len(data) + 1)
    return start, min(len(data), start + rng.randint(1, longest))


def _flip(data: bytes, rng: random.Random) -> bytes:
    if not data:
        return data
    at = rng.randrange(len(data))
    return data[:at] + bytes([data[at] ^ 1 << rng.randrange(8)]) + data[at + 1 :]


def _cut(data: bytes, rng: random.Random) -> bytes:
    return data[: rng.randrange(len(data) + 1)]


def _drop(data: bytes, rng: random.Random) -> bytes:
    start, end = _span(data, rng)
    return data[:start] + data[end:]


def _repeat(data: bytes, rng: random.Random) -> bytes:
    start, end = _span(data, rng)
    return data[:end] + data[start:end] * rng.choice((1, 2, 50)) + data[end:]


def _insert(data: bytes, rng: random.Random) -> bytes:
    start, _ = _span(data, rng)
    return data[:start] + rng.choice([*_WORDS, *_BYTES]) + data[start:]


def _overwrite(data: bytes, rng: random.Random) -> bytes:
    start, _ = _span(data, rng)
    new = rng.choice(_BYTES)
    return data[:start] + new + data[start + len(new) :]


def _renumber(data: bytes, rng: random.Random) -> bytes:
    """Another number in place of one, which keeps text well formed."""
    numbers = list(_NUMBER.finditer(data))
    if not numbers:
        return data
    chosen = rng.choice(numbers)
    return data[: chosen.start()] + rng.choice(_WORDS) + data[chosen.end() :]


_FAULTS = (_flip, _cut, _drop, _repeat, _insert, _overwrite, _renumber, _renumber)
