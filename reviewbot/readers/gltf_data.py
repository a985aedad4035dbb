"""glTF 2.0's containers, buffers and accessors.

Source: glTF 2.0 Specification, sections 3.6 (binary data storage, sparse accessors) and 4 (GLB
file format), Khronos Group. `section` below refers to it.
"""

from __future__ import annotations

import base64
import binascii
import struct
import urllib.parse
from typing import Any

import numpy as np
import numpy.typing as npt

from reviewbot.readers.json_records import JsonRecord, json_document
from reviewbot.readers.references import ReferenceRefusedError, Siblings, fetch
from reviewbot.readers.unsound import UnsoundFileError

AnyArray = npt.NDArray[Any]
GLB_MAGIC = b"glTF"
_JSON_CHUNK, _BINARY_CHUNK = 0x4E4F534A, 0x004E4942
_COMPONENTS = {5120: "<i1", 5121: "<u1", 5122: "<i2", 5123: "<u2", 5125: "<u4", 5126: "<f4"}
_WIDTHS = {"SCALAR": 1, "VEC2": 2, "VEC3": 3, "VEC4": 4}
MOST_ENTRIES = 2**31 - 1


class GltfData:
    """A document and its buffers, each fetched once, when first asked for."""

    def __init__(self, document: JsonRecord, binary: bytes | None, siblings: Siblings) -> None:
        self.document = document
        self._binary, self._siblings = binary, siblings
        self._buffers: dict[int, bytes] = {}
        self._buffer_records = document.records("buffers")
        self._views = document.records("bufferViews")
        self._accessors = document.records("accessors")

    def accessor(self, index: int, *, widths: tuple[int, ...]) -> AnyArray:
        """(count, width) values of one accessor, scaled where they are normalised integers.

        Raises UnsoundFileError where it breaks a rule or has none of the widths allowed.
        """
        record = _entry(self._accessors, index, "accessor")
        width = _WIDTHS.get(record.text("type"), 0)
        if width not in widths:
            raise UnsoundFileError(f"{record.where}.type is not what its use asks for")
        dtype, count = _component(record), record.whole("count")
        if count > MOST_ENTRIES:
            raise UnsoundFileError(f"{record.where}.count is too large")
        if record.has("bufferView"):
            view, offset = record.whole("bufferView"), record.whole("byteOffset", 0)
            values = self._table(record.where, view, offset, (count, width), dtype)
        else:
            values = np.zeros((count, width), dtype=dtype)
        if record.has("sparse"):
            values = self._with_sparse(record.record("sparse"), values)
        return _scaled(values) if record.fields.get("normalized") is True else values

    def view_bytes(self, index: int) -> tuple[bytes, int, int, int]:
        """A buffer, and where in it a view starts and ends, and its stride, 0 for none."""
        view = _entry(self._views, index, "bufferView")
        buffer = self._buffer(view.whole("buffer"))
        start = view.whole("byteOffset", 0)
        end = start + view.whole("byteLength")
        if end > len(buffer):
            raise UnsoundFileError(f"{view.where} ends behind its buffer")
        return buffer, start, end, view.whole("byteStride", 0)

    def _table(
        self, where: str, view: int, offset: int, shape: tuple[int, int], dtype: np.dtype[Any]
    ) -> AnyArray:
        buffer, start, end, stride = self.view_bytes(view)
        count, size = shape[0], shape[1] * dtype.itemsize
        if stride and stride < size:
            raise UnsoundFileError(f"{where} is wider than the stride of its bufferView")
        stride = stride or size
        if count and start + offset + (count - 1) * stride + size > end:
            raise UnsoundFileError(f"{where} ends behind its bufferView")
        if not count:
            return np.empty(shape, dtype=dtype)
        return np.ndarray(
            shape, dtype, buffer=buffer, offset=start + offset, strides=(stride, dtype.itemsize)
        )

    def _with_sparse(self, sparse: JsonRecord, values: AnyArray) -> AnyArray:
        """Section 3.6.2.3: some entries stand elsewhere; their indices rise strictly."""
        count = sparse.whole("count")
        indices, others = sparse.record("indices"), sparse.record("values")
        index_type = _component(indices)
        where = self._table(
            indices.where,
            indices.whole("bufferView"),
            indices.whole("byteOffset", 0),
            (count, 1),
            index_type,
        )[:, 0].astype(np.int64)
        if index_type.kind != "u" or np.any(np.diff(where) <= 0):
            raise UnsoundFileError(f"{indices.where} must be unsigned and rise strictly")
        if count and int(where[-1]) >= len(values):
            raise UnsoundFileError(f"{indices.where} names entry {where[-1]} of {len(values)}")
        values = values.copy()
        values[where] = self._table(
            others.where,
            others.whole("bufferView"),
            others.whole("byteOffset", 0),
            (count, values.shape[1]),
            values.dtype,
        )
        return values

    def _buffer(self, index: int) -> bytes:
        if index not in self._buffers:
            record = _entry(self._buffer_records, index, "buffer")
            if record.has("uri"):
                data = self._fetched(record.where, record.text("uri"))
            elif index == 0 and self._binary is not None:
                data = self._binary
            else:
                raise UnsoundFileError(f"{record.where} has neither an address nor a GLB chunk")
            length = record.whole("byteLength")
            if len(data) < length:
                reason = f"{record.where} has {len(data)} bytes where {length} are promised"
                raise UnsoundFileError(reason)
            self._buffers[index] = data
        return self._buffers[index]

    def _fetched(self, where: str, uri: str) -> bytes:
        if uri.startswith("data:"):
            return embedded_bytes(where, uri)
        try:
            return fetch(urllib.parse.unquote(uri), self._siblings)
        except ReferenceRefusedError as error:
            raise UnsoundFileError(f"{where}: '{uri[:80]}' {error}") from error


def split_container(data: bytes) -> tuple[JsonRecord, bytes | None]:
    """The JSON document and, from a GLB file, its binary chunk."""
    if data[:4] != GLB_MAGIC:
        return json_document(data, "gltf"), None
    if len(data) < 12:
        raise UnsoundFileError("is a GLB file that ends in its header")
    version, length = struct.unpack_from("<II", data, 4)
    if version != 2:
        raise UnsoundFileError(f"is GLB version {version}; version 2 is read")
    if length > len(data):
        raise UnsoundFileError(f"ends after {len(data)} of {length} bytes")
    chunks = _chunks(data[:length])
    if not chunks or chunks[0][0] != _JSON_CHUNK:
        raise UnsoundFileError("is a GLB file without a JSON chunk in front")
    binary = [content for kind, content in chunks[1:2] if kind == _BINARY_CHUNK]
    return json_document(chunks[0][1], "gltf"), binary[0] if binary else None


def _chunks(data: bytes) -> list[tuple[int, bytes]]:
    chunks, at = [], 12
    while at + 8 <= len(data):
        length, kind = struct.unpack_from("<II", data, at)
        if at + 8 + length > len(data):
            raise UnsoundFileError("is a GLB file with a chunk that ends behind the file")
        chunks.append((kind, data[at + 8 : at + 8 + length]))
        at += 8 + length
    return chunks


def embedded_bytes(where: str, uri: str) -> bytes:
    """What a data address (RFC 2397) holds. Raises UnsoundFileError."""
    head, _, body = uri.partition(",")
    if not head.endswith(";base64"):
        return urllib.parse.unquote_to_bytes(body)
    try:
        return base64.b64decode(body, validate=True)
    except (binascii.Error, ValueError) as error:
        raise UnsoundFileError(f"{where} holds broken base64 data") from error


def _component(record: JsonRecord) -> np.dtype[Any]:
    code = record.whole("componentType")
    if code not in _COMPONENTS:
        raise UnsoundFileError(f"{record.where}.componentType {code} is unknown")
    return np.dtype(_COMPONENTS[code])


def _scaled(values: AnyArray) -> AnyArray:
    """Normalised integers as fractions, section 3.6.2.2."""
    if values.dtype.kind == "f":
        return values
    largest = np.iinfo(values.dtype).max
    return np.maximum(values.astype(np.float64) / largest, -1.0)


def _entry(records: list[JsonRecord], index: int, kind: str) -> JsonRecord:
    if index >= len(records):
        raise UnsoundFileError(f"{kind} {index} is asked for, but there are {len(records)}")
    return records[index]
