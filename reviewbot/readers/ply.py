"""PLY: polygons with UVs of points or of corners, one part a file.

Source: Greg Turk, "The PLY Polygon File Format", Stanford 1994, from memory; names of UV
properties and of texture comments: common practice, no source.
"""

from __future__ import annotations

from pathlib import PurePosixPath
from typing import Any

import numpy as np

from reviewbot.errors import MeshReadError
from reviewbot.mesh import FloatArray, IndexArray, Material, Model, Note, Part
from reviewbot.readers.names import printable_text
from reviewbot.readers.ply_elements import Column, Header, Table, read_header, read_tables
from reviewbot.readers.references import Siblings, no_siblings
from reviewbot.readers.unsound import UnsoundFileError
from reviewbot.readers.welding import distinct_rows

_UV_NAMES = (("s", "t"), ("u", "v"), ("texture_u", "texture_v"), ("texture_s", "texture_t"))
_PLACE, _NORMAL = ("x", "y", "z"), ("nx", "ny", "nz")
_CORNER_LISTS = ("vertex_indices", "vertex_index")
_CORNER_UVS, _TEXTURE_NUMBER = "texcoord", "texnumber"
_TEXTURE_COMMENT = "comment TextureFile "


def read_ply(data: bytes, *, path: str, siblings: Siblings = no_siblings) -> Model:
    """A PLY file as a Model; it refers to no other file but pictures.

    Raises MeshReadError, with the line in text, where it is malformed, cut short, names points
    that are not there, or has a face of fewer than three corners.
    """
    del siblings
    try:
        header = read_header(data)
        tables, left = read_tables(data, header)
        part = _part(header, tables, PurePosixPath(path).stem)
    except UnsoundFileError as error:
        raise MeshReadError(path=path, line=error.line, reason=error.reason) from error
    return Model(
        parts=(part,),
        format="ply",
        notes=(*_notes(header, tables, left), *_note_of_welding(part, tables)),
        materials=tuple(Material(name=f, base_colour_file=f) for f in _texture_files(header)),
    )


def _part(header: Header, tables: dict[str, Table], name: str) -> Part:
    vertices, faces = tables.get("vertex", {}), tables.get("face", {})
    points = _numbers(vertices, _PLACE)
    if points is None or not len(points):
        raise UnsoundFileError("holds no points, so there is no mesh")
    corners, sizes = _corners(faces, len(points))
    uvs, corner_uv = _uvs(vertices, faces, corners, sizes)
    normals = _numbers(vertices, _NORMAL)
    files = _texture_files(header)
    corner_point = corners
    if len(uvs) and corner_uv is corners:  # then a seam takes a point for each of its sides
        points, place = distinct_rows(points)
        corner_point = place[corners]
    return Part(
        name=name,
        points=points,
        corner_point=corner_point,
        face_start=np.concatenate([[0], np.cumsum(sizes)]).astype(np.int32),
        uvs=uvs,
        corner_uv=corner_uv,
        materials=files,
        face_material=_face_textures(faces, len(sizes), len(files)),
        normals=np.empty((0, 3)) if normals is None else normals,
        corner_normal=np.empty(0, dtype=np.int32) if normals is None else corners,
    )


def _numbers(table: Table, names: tuple[str, ...]) -> FloatArray | None:
    """(count, len(names)) of number properties; None where one is missing."""
    columns = [table.get(name) for name in names]
    if any(column is None or column.sizes is not None for column in columns):
        return None
    return np.stack([c.values for c in columns if c is not None], axis=1).astype(np.float64)


def _corners(faces: Table, points: int) -> tuple[IndexArray, Any]:
    """Corners of all faces in a row, and how many each face has."""
    column = next((faces[name] for name in _CORNER_LISTS if name in faces), None)
    if column is None or column.sizes is None:
        return np.empty(0, dtype=np.int32), np.empty(0, dtype=np.int64)
    few = column.sizes < 3
    if few.any():
        face = int(np.argmax(few))
        raise UnsoundFileError(f"face {face} has {column.sizes[face]} corners; 3 are needed")
    wrong = ~((column.values >= 0) & (column.values < points))
    if wrong.any():
        corner = int(np.argmax(wrong))
        face = int(np.searchsorted(np.cumsum(column.sizes), corner, side="right"))
        named = column.values[corner]
        raise UnsoundFileError(f"face {face} names point {named:g}, but there are {points}")
    return column.values.astype(np.int32), column.sizes


def _uvs(
    vertices: Table, faces: Table, corners: IndexArray, sizes: Any
) -> tuple[FloatArray, IndexArray]:
    """UVs of corners where faces carry them, else those of points."""
    column = faces.get(_CORNER_UVS)
    if column is not None and column.sizes is not None and np.any(column.sizes):
        return _corner_uvs(column, sizes)
    for names in _UV_NAMES:
        uvs = _numbers(vertices, names)
        if uvs is not None:
            return uvs, corners
    return np.empty((0, 2)), np.full(len(corners), -1, dtype=np.int32)


def _corner_uvs(column: Column, sizes: Any) -> tuple[FloatArray, IndexArray]:
    """Lists of u, v for each corner; a face with an empty list has none."""
    assert column.sizes is not None
    mapped = column.sizes == 2 * sizes
    if np.any(~mapped & (column.sizes > 0)):
        face = int(np.argmax(~mapped & (column.sizes > 0)))
        raise UnsoundFileError(f"face {face} has no two UV numbers for each corner")
    uvs, entry = distinct_rows(column.values.astype(np.float64).reshape(-1, 2))
    corner_uv = np.full(int(sizes.sum()), -1, dtype=np.int32)
    corner_uv[np.repeat(mapped, sizes)] = entry
    return uvs, corner_uv


def _texture_files(header: Header) -> tuple[str, ...]:
    names = [c[len(_TEXTURE_COMMENT) :] for c in header.comments if c.startswith(_TEXTURE_COMMENT)]
    return tuple(printable_text(name) for name in names)


def _face_textures(faces: Table, count: int, files: int) -> IndexArray:
    """(F,) which texture file a face shows: the numbered one, or the only one."""
    numbers = faces.get(_TEXTURE_NUMBER)
    if numbers is None or numbers.sizes is not None:
        return np.full(count, 0 if files == 1 else -1, dtype=np.int32)
    known = (numbers.values >= 0) & (numbers.values < files)
    return np.where(known, numbers.values, -1).astype(np.int32)


def _note_of_welding(part: Part, tables: dict[str, Table]) -> list[Note]:
    if len(part.points) == len(tables["vertex"]["x"].values):
        return []
    reason = "UVs belong to points here: points in one place are taken as one"
    return [Note(line=None, reason=reason)]


def _notes(header: Header, tables: dict[str, Table], left: int) -> list[Note]:
    notes = [Note(line=n, reason="a header line is unknown") for n in header.unknown_lines[:5]]
    uv_names = {name for names in _UV_NAMES for name in names}
    kept = {
        "vertex": {*_PLACE, *_NORMAL, *uv_names},
        "face": {*_CORNER_LISTS, _CORNER_UVS, _TEXTURE_NUMBER},
    }
    for element, table in tables.items():
        left_out = [printable_text(name) for name in table if name not in kept.get(element, set())]
        if element not in kept:
            reason = f"elements '{printable_text(element)}' are passed over"
            notes.append(Note(line=None, reason=reason))
        elif left_out:
            shown = ", ".join(left_out[:10])
            reason = f"properties of '{element}' are passed over: {shown}"
            notes.append(Note(line=None, reason=reason))
    if left:
        notes.append(Note(line=None, reason="what stands behind the last element is passed over"))
    return notes
