"""Messages between a reading process and the one that asked: a JSON head, then plain bytes.

A model comes back as names and numbers in the head and its arrays as bytes behind it. Nothing is
ever run or unpickled on arrival, so that a reader taken over by a hostile file can at worst send
a wrong mesh.
"""

from __future__ import annotations

import json
import struct
from collections.abc import Iterator, Sequence
from typing import Any, BinaryIO

import numpy as np
import numpy.typing as npt

from reviewbot.mesh import Material, Model, Note, Part, UvSet

Head = dict[str, Any]
Message = tuple[Head, list[bytes]]
AnyArray = npt.NDArray[Any]
LARGEST_HEAD = 1 << 28
_LENGTH = struct.Struct("<Q")
_FLOATS, _INDICES = np.dtype("<f8"), np.dtype("<i4")


class WireError(Exception):
    """The other side is gone, or does not keep to the form."""


def send(stream: BinaryIO, head: Head, blobs: Sequence[bytes | AnyArray] = ()) -> None:
    """Write one message; the head gets the sizes of the blobs."""
    views = [_flat(blob) for blob in blobs]
    packed = json.dumps({**head, "sizes": [view.nbytes for view in views]}).encode()
    stream.write(_LENGTH.pack(len(packed)) + packed)
    for view in views:
        stream.write(view)
    stream.flush()


def receive(stream: BinaryIO, *, largest: int) -> Message:
    """Read one message of at most `largest` bytes of blobs. Raises WireError."""
    (length,) = _LENGTH.unpack(_exactly(stream, _LENGTH.size))
    if length > LARGEST_HEAD:
        raise WireError("a message's head is too long")
    try:
        head: Head = json.loads(_exactly(stream, length))
        sizes = [int(size) for size in head["sizes"]]
    except (ValueError, TypeError, KeyError) as error:
        raise WireError("a message's head is not understood") from error
    if min(sizes, default=0) < 0 or sum(sizes) > largest:
        raise WireError("a message is too long")
    return head, [_exactly(stream, size) for size in sizes]


def _flat(blob: bytes | AnyArray) -> memoryview:
    if isinstance(blob, bytes):
        return memoryview(blob)
    return np.ascontiguousarray(blob).reshape(-1).view(np.uint8).data


def _exactly(stream: BinaryIO, count: int) -> bytes:
    data = stream.read(count)
    if len(data) < count:
        raise WireError("the other side is gone")
    return data


def pack_model(model: Model) -> tuple[Head, list[AnyArray]]:
    """A model's head, and its arrays in the order the head names them."""
    arrays: list[AnyArray] = []
    head = {
        "kind": "model",
        "format": model.format,
        "up_axis": model.up_axis,
        "metres_per_unit": model.metres_per_unit,
        "notes": [[note.line, note.reason] for note in model.notes],
        "parts": [_pack_part(part, arrays) for part in model.parts],
        "materials": [_pack_material(material, arrays) for material in model.materials],
    }
    return head, arrays


def unpack_model(head: Head, blobs: Sequence[bytes]) -> Model:
    """Raises WireError where the message is no model."""
    rest = iter(blobs)
    try:
        return Model(
            parts=tuple(_unpack_part(part, rest) for part in head["parts"]),
            format=str(head["format"]),
            notes=tuple(Note(line=line, reason=str(reason)) for line, reason in head["notes"]),
            materials=tuple(_unpack_material(material, rest) for material in head["materials"]),
            up_axis=head["up_axis"],
            metres_per_unit=head["metres_per_unit"],
        )
    except (ValueError, TypeError, KeyError) as error:
        raise WireError("a message holds no sound model") from error


def _pack_material(material: Material, arrays: list[AnyArray]) -> Head:
    data = material.base_colour_data
    if data is not None:
        arrays.append(np.frombuffer(data, dtype=np.uint8))
    return {
        "name": material.name,
        "file": material.base_colour_file,
        "has_data": data is not None,
        "named_in": material.named_in,
        "plainly": material.is_laid_plainly,
    }


def _unpack_material(head: Head, blobs: Iterator[bytes]) -> Material:
    file = head["file"]
    return Material(
        name=str(head["name"]),
        base_colour_file=None if file is None else str(file),
        base_colour_data=_next(blobs) if head["has_data"] else None,
        named_in=str(head["named_in"]),
        is_laid_plainly=bool(head["plainly"]),
    )


_PART_FLOATS = ("points", "uvs", "normals", "transform")
_PART_INDICES = ("corner_point", "face_start", "corner_uv", "corner_normal", "face_material")


def _pack_part(part: Part, arrays: list[AnyArray]) -> Head:
    arrays += [getattr(part, name).astype(_FLOATS, copy=False) for name in _PART_FLOATS]
    arrays += [getattr(part, name).astype(_INDICES, copy=False) for name in _PART_INDICES]
    if part.face_smoothing is not None:
        arrays.append(part.face_smoothing.astype(_INDICES, copy=False))
    for uv_set in part.further_uvs:
        arrays.append(uv_set.uvs.astype(_FLOATS, copy=False))
        arrays.append(uv_set.corner_uv.astype(_INDICES, copy=False))
    return {
        "name": part.name,
        "materials": part.materials,
        "smoothing": part.face_smoothing is not None,
        "further_uvs": [uv_set.name for uv_set in part.further_uvs],
    }


def _unpack_part(head: Head, blobs: Iterator[bytes]) -> Part:
    def floats(width: int) -> AnyArray:
        return np.frombuffer(_next(blobs), dtype=_FLOATS).reshape(-1, width)

    def indices() -> AnyArray:
        return np.frombuffer(_next(blobs), dtype=_INDICES)

    points, uvs, normals, transform = floats(3), floats(2), floats(3), floats(4)
    corner_point, face_start, corner_uv, corner_normal, face_material = (
        indices() for _ in _PART_INDICES
    )
    return Part(
        name=str(head["name"]),
        points=points,
        corner_point=corner_point,
        face_start=face_start,
        uvs=uvs,
        corner_uv=corner_uv,
        materials=tuple(map(str, head["materials"])),
        face_material=face_material,
        face_smoothing=indices() if head["smoothing"] else None,
        normals=normals,
        corner_normal=corner_normal,
        transform=transform,
        further_uvs=tuple(
            UvSet(name=str(name), uvs=floats(2), corner_uv=indices())
            for name in head["further_uvs"]
        ),
    )


def _next(blobs: Iterator[bytes]) -> bytes:
    for blob in blobs:
        return blob
    raise WireError("a message lacks an array")
