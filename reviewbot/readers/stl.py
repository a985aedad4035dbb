"""STL, in text and in bytes: triangles alone, corners of equal place taken as one point.

Source: "StereoLithography Interface Specification", 3D Systems 1988, from memory. The normals it
repeats for every triangle follow from the triangle and are not kept.
"""

from __future__ import annotations

import re
import struct
from pathlib import PurePosixPath

import numpy as np

from reviewbot.errors import MeshReadError
from reviewbot.mesh import FloatArray, Model, Note, Part
from reviewbot.readers.names import printable_name
from reviewbot.readers.numerals import (
    BLANK,
    WORD,
    NotANumberError,
    only_between,
    padded,
    split_pieces,
    token_values,
)
from reviewbot.readers.references import Siblings, no_siblings
from reviewbot.readers.unsound import UnsoundFileError
from reviewbot.readers.welding import distinct_rows

_HEADER, _RECORD = 84, 50
_RECORD_TYPE = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])
_SOLID_LINE = re.compile(rb"^[ \t]*(end[ \t]*)?solid\b([^\r\n]*)", re.MULTILINE | re.IGNORECASE)
CHUNK_BYTES = 1 << 22
_N = b""  # a number
_FACET = (
    *(b"facet", b"normal", _N, _N, _N, b"outer", b"loop"),
    *(b"vertex", _N, _N, _N, b"vertex", _N, _N, _N, b"vertex", _N, _N, _N),
    *(b"endloop", b"endfacet"),
)
_LAST_WORD = _FACET[-1]
_WORD_LENGTHS = np.array([len(word) for word in _FACET])
_WORD_STARTS = np.array([(word or b"\0")[0] for word in _FACET], dtype=np.uint8)
_LOWER_CASE = np.uint8(0x20)


def read_stl(data: bytes, *, path: str, siblings: Siblings = no_siblings) -> Model:
    """An STL file as a Model; each solid of a text file is a part.

    Raises MeshReadError, with the line in text, where it is malformed or cut short.
    """
    del siblings
    try:
        is_text = _is_text(data)
        parts, notes = (_text_parts if is_text else _binary_parts)(data, PurePosixPath(path).stem)
    except UnsoundFileError as error:
        raise MeshReadError(path=path, line=error.line, reason=error.reason) from error
    return Model(parts=tuple(parts), format="stl", notes=tuple(notes))


def _is_text(data: bytes) -> bool:
    """Bytes may begin like text, so a length that fits the promised count decides first."""
    if len(data) >= _HEADER:
        (count,) = struct.unpack_from("<I", data, 80)
        if len(data) == _HEADER + count * _RECORD:
            return False
    return data[:512].lstrip()[:5].lower() == b"solid" and b"\0" not in data[:512]


def _binary_parts(data: bytes, stem: str) -> tuple[list[Part], list[Note]]:
    if len(data) < _HEADER:
        raise UnsoundFileError("is too short to be an STL file")
    (count,) = struct.unpack_from("<I", data, 80)
    there = (len(data) - _HEADER) // _RECORD
    if count > there:
        raise UnsoundFileError(f"ends after {there} of {count} triangles")
    if not count:
        raise UnsoundFileError("holds no triangles")
    records = np.frombuffer(data, dtype=_RECORD_TYPE, count=count, offset=_HEADER)
    notes = []
    if np.any(records["attribute"]):
        notes.append(Note(line=None, reason="attributes of triangles are passed over"))
    if len(data) > _HEADER + count * _RECORD:
        notes.append(Note(line=None, reason="bytes behind the last triangle are passed over"))
    return [_part(stem, records["corners"].astype(np.float64))], notes


def _text_parts(data: bytes, stem: str) -> tuple[list[Part], list[Note]]:
    parts, notes = [], []
    marks = list(_SOLID_LINE.finditer(data))
    if not marks or data[: marks[0].start()].strip():
        raise UnsoundFileError("does not begin with a solid", line=1)
    ends = [mark.start() for mark in marks[1:]] + [len(data)]
    for mark, end in zip(marks, ends, strict=True):
        if mark[1]:
            if data[mark.end() : end].strip():
                raise _error(data, mark.end(), "something stands outside all solids")
            continue
        if end == len(data):
            notes.append(Note(line=None, reason="the last solid is not closed"))
        name = printable_name(mark[2]) or stem
        parts.append(_part(name, _facets(data, mark.end(), end)))
    if not any(part.face_count for part in parts):
        raise UnsoundFileError("holds no triangles")
    return parts, notes


def _facets(data: bytes, start: int, end: int) -> FloatArray:
    """(N, 3, 3) corners of the facets in a solid's text."""
    runs = [np.empty((0, 3, 3))]
    while start < end:
        stop = min(start + CHUNK_BYTES, end)
        if stop < end:
            last = data[start:stop].lower().rfind(_LAST_WORD)
            if last < 0:
                raise _error(data, start, "holds a facet too long to be one")
            stop = start + last + len(_LAST_WORD)
        runs.append(_facet_corners(data, start, stop))
        start = stop
    return np.concatenate(runs)


def _facet_corners(data: bytes, start: int, end: int) -> FloatArray:
    """(N, 3, 3) corners of whole facets: tokens in a fixed order, words between numbers."""
    buffer = padded(data, start, end)
    first, last = split_pieces(buffer <= BLANK)
    column = np.arange(len(first)) % len(_FACET)
    is_word = _WORD_LENGTHS[column] > 0
    wrong = (buffer[first] | _LOWER_CASE) != _WORD_STARTS[column]
    wrong |= last - first != _WORD_LENGTHS[column]
    wrong &= is_word
    if wrong.any():
        bad = int(np.argmax(wrong))
        expected = _FACET[int(column[bad])].decode()
        raise _error(data, start + int(first[bad]) - WORD, f"'{expected}' is missing")
    if len(first) % len(_FACET):
        raise _error(data, end, "the last facet is not whole")
    numbers = np.flatnonzero(~is_word)
    number_start, number_end = first[numbers], last[numbers]
    try:
        only_numbers = only_between(buffer, number_start, number_end)
        values = token_values(only_numbers, number_start, number_end)
    except NotANumberError as error:
        raise _error(data, start + error.position - WORD, str(error)) from error
    return values.reshape(-1, 4, 3)[:, 1:]


def _error(data: bytes, offset: int, reason: str) -> UnsoundFileError:
    return UnsoundFileError(reason, line=1 + data.count(b"\n", 0, offset))


def _part(name: str, corners: FloatArray) -> Part:
    """Triangles from their corners (N, 3, 3), equal ones as one point."""
    points, corner_point = distinct_rows(corners.reshape(-1, 3))
    return Part(
        name=name,
        points=points,
        corner_point=corner_point,
        face_start=np.arange(0, 3 * len(corners) + 1, 3, dtype=np.int32),
    )
