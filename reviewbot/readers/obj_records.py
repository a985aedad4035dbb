"""The records of an OBJ text: number lines as arrays, all other statements as they stand.

Text goes through in chunks of whole lines. Lines of the four kinds that make up nearly all of a
file (v, vt, vn, f) are read together by array operations, however they are interleaved; what is
written oddly (exponents, long decimals, mixed corners) takes a slower road to the same values.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np

from reviewbot.mesh import FloatArray, IndexArray
from reviewbot.readers.numerals import Positions, line_chunks
from reviewbot.readers.obj_faces import CALLED, Corners, read_faces
from reviewbot.readers.obj_lines import NORMAL, PLACE, UV, Counts, Statement, read_chunk
from reviewbot.readers.obj_numbers import WIDTHS, number_tables
from reviewbot.readers.obj_text import ObjText

CHUNK_BYTES = 1 << 19
_FACE_LINE = re.compile(rb"^[\x00-\x09\x0b-\x20]*fo?(?=[\x00-\x20]|\Z)", re.MULTILINE)


@dataclass(frozen=True, slots=True, kw_only=True)
class ObjRecords:
    """Everything an OBJ text holds.

    points (V, 3), uvs (T, 2), normals (N, 3) float64
    face_start (F + 1,); corner_point, corner_uv, corner_normal (C,) int32 from 0, -1 for none
    extras  what number lines hold beyond that, each with the offset where it first does
    """

    points: FloatArray
    uvs: FloatArray
    normals: FloatArray
    face_start: IndexArray
    corner_point: IndexArray
    corner_uv: IndexArray
    corner_normal: IndexArray
    statements: tuple[Statement, ...]
    extras: dict[str, int]


def read_records(text: ObjText) -> ObjRecords:
    """Raises MeshReadError with the line for what is malformed or names what is not there."""
    tables: dict[int, list[FloatArray]] = {kind: [np.empty((0, w))] for kind, w in WIDTHS.items()}
    corners: list[Corners] = [np.empty((3, 0), dtype=np.int32)]
    sizes: list[Positions] = [np.zeros(1, dtype=np.int64)]
    statements: list[Statement] = []
    extras: dict[str, int] = {}
    above = Counts()
    for start, end in line_chunks(text.lines, 0, CHUNK_BYTES):
        chunk, chunk_statements = read_chunk(text, start, end, above)
        statements += chunk_statements
        for kind, table in number_tables(text, chunk, extras).items():
            tables[kind].append(table)
        chunk_corners, chunk_sizes = read_faces(text, chunk, above)
        corners.append(chunk_corners)
        sizes.append(chunk_sizes)
        above = Counts(
            points=above.points + len(tables[PLACE][-1]),
            uvs=above.uvs + len(tables[UV][-1]),
            normals=above.normals + len(tables[NORMAL][-1]),
            faces=above.faces + len(chunk_sizes),
        )
    face_start = np.cumsum(np.concatenate(sizes), dtype=np.int32)
    all_corners = np.concatenate(corners, axis=1)
    corners.clear()
    points, uvs, normals = (np.concatenate(tables.pop(kind)) for kind in WIDTHS)
    for column, (kind, count) in enumerate(
        [(PLACE, len(points)), (UV, len(uvs)), (NORMAL, len(normals))]
    ):
        _require_there(text, all_corners[column], count, CALLED[kind], face_start)
    return ObjRecords(
        points=points,
        uvs=uvs,
        normals=normals,
        face_start=face_start,
        corner_point=all_corners[0],
        corner_uv=all_corners[1],
        corner_normal=all_corners[2],
        statements=tuple(statements),
        extras=extras,
    )


def _require_there(
    text: ObjText, indices: IndexArray, count: int, called: str, face_start: IndexArray
) -> None:
    if not len(indices) or int(indices.max()) < count:
        return
    corner = int(np.argmax(indices >= count))
    face = int(np.searchsorted(face_start, corner, side="right")) - 1
    found = next(line for k, line in enumerate(_FACE_LINE.finditer(text.lines)) if k == face)
    raise text.error(
        found.end(), f"the face names {called} {int(indices[corner]) + 1}, but there are {count}"
    )
