"""glTF files built in code: a document and its buffer, packed as the test likes."""

from __future__ import annotations

import base64
import json
import struct
from typing import Any

import numpy as np

FLOAT, BYTE, UBYTE, SHORT, USHORT, UINT = 5126, 5120, 5121, 5122, 5123, 5125
_TYPES = {FLOAT: "<f4", BYTE: "i1", UBYTE: "u1", SHORT: "<i2", USHORT: "<u2", UINT: "<u4"}
_SHAPES = {1: "SCALAR", 2: "VEC2", 3: "VEC3", 4: "VEC4"}


class GltfFile:
    """Grows a document; `add_mesh` and `add_accessor` return indices."""

    def __init__(self) -> None:
        self.binary = b""
        self.document: dict[str, Any] = {
            "asset": {"version": "2.0"},
            "scene": 0,
            "scenes": [{"nodes": []}],
            "nodes": [],
            "meshes": [],
            "accessors": [],
            "bufferViews": [],
            "buffers": [],
        }

    def add_view(self, data: bytes, **fields: int) -> int:
        self.binary += b"\0" * (-len(self.binary) % 4)
        view = {"buffer": 0, "byteOffset": len(self.binary), "byteLength": len(data), **fields}
        self.binary += data
        self.document["bufferViews"].append(view)
        return len(self.document["bufferViews"]) - 1

    def add_accessor(self, values: object, component: int = FLOAT, **fields: Any) -> int:
        table = np.asarray(values)
        table = table.reshape(len(table), -1)
        accessor = {
            "bufferView": self.add_view(table.astype(_TYPES[component]).tobytes()),
            "componentType": component,
            "count": len(table),
            "type": _SHAPES[table.shape[1]],
            **fields,
        }
        self.document["accessors"].append(accessor)
        return len(self.document["accessors"]) - 1

    def add_mesh(self, primitives: list[dict[str, Any]], name: str = "lamp") -> int:
        self.document["meshes"].append({"name": name, "primitives": primitives})
        return len(self.document["meshes"]) - 1

    def add_node(self, **fields: Any) -> int:
        """A node, at the scene's root unless it is named a child later on."""
        self.document["nodes"].append(fields)
        index = len(self.document["nodes"]) - 1
        self.document["scenes"][0]["nodes"].append(index)
        for child in fields.get("children", []):
            self.document["scenes"][0]["nodes"].remove(child)
        return index

    def packed(self, *, uri: str | None = None) -> bytes:
        """The document as .gltf text: its buffer inside, or at `uri`."""
        inside = "data:application/octet-stream;base64," + base64.b64encode(self.binary).decode()
        buffer = {"byteLength": len(self.binary), "uri": inside if uri is None else uri}
        return json.dumps({**self.document, "buffers": [buffer]}).encode()

    def glb(self) -> bytes:
        text = json.dumps({**self.document, "buffers": [{"byteLength": len(self.binary)}]}).encode()
        text += b" " * (-len(text) % 4)
        binary = self.binary + b"\0" * (-len(self.binary) % 4)
        body = struct.pack("<II", len(text), 0x4E4F534A) + text
        body += struct.pack("<II", len(binary), 0x004E4942) + binary
        return b"glTF" + struct.pack("<II", 2, 12 + len(body)) + body


def one_triangle() -> GltfFile:
    """A single triangle with UVs at a node of its own."""
    file = GltfFile()
    position = file.add_accessor([(0, 0, 0), (1, 0, 0), (0, 1, 0)])
    uv = file.add_accessor([(0, 0), (1, 0), (0, 0.75)])
    file.add_mesh([{"attributes": {"POSITION": position, "TEXCOORD_0": uv}}])
    file.add_node(mesh=0)
    return file
