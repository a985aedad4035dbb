"""FBX files in the binary form, built in code.

Version 7.4, from memory: every record gives the offset of its end, how many values it holds and
their bytes, and its name; records within it follow, closed by a record of zeros. Arrays may be
packed by zlib.
"""

from __future__ import annotations

import struct
import zlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

_MAGIC = b"Kaydara FBX Binary  \x00\x1a\x00"
_VERSION = 7400
_HEAD = struct.Struct("<IIIB")
_KINDS = {np.dtype("<f8"): b"d", np.dtype("<i4"): b"i"}
Array = npt.NDArray[np.float64] | npt.NDArray[np.int32]
Value = int | float | str | Array


@dataclass(frozen=True, slots=True)
class Record:
    """One record: a name, values, and the records within it."""

    name: str
    values: Sequence[Value] = ()
    within: Sequence[Record] = ()


def binary_fbx(
    points: npt.NDArray[np.float64],
    faces: Sequence[Sequence[int]] | npt.NDArray[np.int64],
    *,
    uvs: Mapping[str, tuple[npt.NDArray[np.float64], npt.NDArray[np.int64]]] | None = None,
    packed: bool = True,
) -> bytes:
    """A scene of one node, "lamp", showing one mesh; `uvs` as `fbx_files.mesh_text` takes them."""
    mesh = [
        Record("Vertices", [_floats(points)]),
        Record("PolygonVertexIndex", [_polygon_ends(faces)]),
    ]
    for number, (name, (values, corner)) in enumerate((uvs or {}).items()):
        mesh += _uv_records(number, name, values, corner)
    axes = {"UpAxis": 1, "UpAxisSign": 1, "FrontAxis": 2, "FrontAxisSign": 1, "CoordAxis": 0}
    whole = [
        Record("P", [n, "int", "Integer", "", v]) for n, v in (axes | {"CoordAxisSign": 1}).items()
    ]
    whole.append(Record("P", ["UnitScaleFactor", "double", "Number", "", 1.0]))
    links = [Record("C", ["OO", 10, 20]), Record("C", ["OO", 20, 0])]
    records = [
        Record("FBXHeaderExtension", within=[Record("FBXVersion", [_VERSION])]),
        Record("GlobalSettings", within=[Record("Properties70", within=whole)]),
        Record(
            "Objects",
            within=[
                Record("Geometry", [10, "mesh\0\1Geometry", "Mesh"], mesh),
                Record("Model", [20, "lamp\0\1Model", "Mesh"], [Record("Version", [232])]),
            ],
        ),
        Record("Connections", within=links),
    ]
    out = bytearray(_MAGIC + struct.pack("<I", _VERSION))
    for record in records:
        _write(out, record, packed)
    return bytes(out) + bytes(_HEAD.size)


def _uv_records(
    number: int, name: str, values: npt.NDArray[np.float64], corner: npt.NDArray[np.int64]
) -> list[Record]:
    element = Record(
        "LayerElement", within=[Record("Type", ["LayerElementUV"]), Record("TypedIndex", [number])]
    )
    return [
        Record(
            "LayerElementUV",
            [number],
            [
                Record("Name", [name]),
                Record("MappingInformationType", ["ByPolygonVertex"]),
                Record("ReferenceInformationType", ["IndexToDirect"]),
                Record("UV", [_floats(values)]),
                Record("UVIndex", [np.asarray(corner, dtype="<i4").reshape(-1)]),
            ],
        ),
        Record("Layer", [number], [Record("Version", [100]), element]),
    ]


def _floats(values: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    return np.asarray(values, dtype="<f8").reshape(-1)


def _polygon_ends(
    faces: Sequence[Sequence[int]] | npt.NDArray[np.int64],
) -> npt.NDArray[np.int32]:
    """All corners, the last of each face as its bitwise complement."""
    ends = np.cumsum([len(face) for face in faces]) - 1
    corners = np.concatenate([np.asarray(face) for face in faces]).astype("<i4")
    corners[ends] = ~corners[ends]
    return corners


def _write(out: bytearray, record: Record, packed: bool) -> None:
    start, name = len(out), record.name.encode()
    values = b"".join(_value(value, packed) for value in record.values)
    out += bytes(_HEAD.size) + name + values
    for one in record.within:
        _write(out, one, packed)
    if record.within:
        out += bytes(_HEAD.size)
    _HEAD.pack_into(out, start, len(out), len(record.values), len(values), len(name))


def _value(value: Value, packed: bool) -> bytes:
    if isinstance(value, int):
        return b"L" + struct.pack("<q", value)
    if isinstance(value, float):
        return b"D" + struct.pack("<d", value)
    if isinstance(value, str):
        return b"S" + struct.pack("<I", len(value.encode())) + value.encode()
    data = value.tobytes()
    stored = zlib.compress(data, 1) if packed else data
    return _KINDS[value.dtype] + struct.pack("<III", len(value), packed, len(stored)) + stored
