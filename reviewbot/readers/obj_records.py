"""The records of an OBJ text: number lines as arrays, all other statements as they stand.

Text goes through in chunks of whole lines. Lines of the four kinds that make up nearly all of a
file (v, vt, vn, f) are read together by array operations, however they are interleaved; what is
written oddly (exponents, long decimals, mixed corners) takes a slower road to the same values.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import NoReturn

import numpy as np
import numpy.typing as npt

from reviewbot.mesh import BoolArray, FloatArray, IndexArray
from reviewbot.readers.numerals import (
    BLANK,
    POINT,
    SLASH,
    Positions,
    decimal_values,
    parse_number,
    parse_numbers,
    split_pieces,
)
from reviewbot.readers.obj_lines import (
    EMPTY,
    FACE,
    NORMAL,
    PLACE,
    UV,
    Chunk,
    Counts,
    Statement,
    read_chunk,
)
from reviewbot.readers.obj_text import ObjText

CHUNK_BYTES = 1 << 19
LARGEST_INDEX = 2**31 - 1
LONGEST_INTEGER = 20
Corners = npt.NDArray[np.int32]
_INTEGER = re.compile(rb"[+-]?\d+")
_FACE_LINE = re.compile(rb"^[\x00-\x09\x0b-\x20]*fo?(?=[\x00-\x20]|\Z)", re.MULTILINE)
_CALLED = {PLACE: "point", UV: "UV", NORMAL: "normal"}
_KEYWORDS = {PLACE: "v", UV: "vt", NORMAL: "vn"}
_WIDTH = {PLACE: 3, UV: 2, NORMAL: 3}
_FEWEST = {PLACE: 3, UV: 1, NORMAL: 3}


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
    tables: dict[int, list[FloatArray]] = {kind: [np.empty((0, w))] for kind, w in _WIDTH.items()}
    corners: list[Corners] = [np.empty((3, 0), dtype=np.int32)]
    sizes: list[Positions] = [np.zeros(1, dtype=np.int64)]
    statements: list[Statement] = []
    extras: dict[str, int] = {}
    above = Counts()
    for start, end in _chunk_bounds(text.lines):
        chunk, chunk_statements = read_chunk(text, start, end, above)
        statements += chunk_statements
        for kind, table in _number_tables(text, chunk, extras).items():
            tables[kind].append(table)
        chunk_corners, chunk_sizes = _faces(text, chunk, above)
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
    points, uvs, normals = (np.concatenate(tables.pop(kind)) for kind in _WIDTH)
    for column, (kind, count) in enumerate(
        [(PLACE, len(points)), (UV, len(uvs)), (NORMAL, len(normals))]
    ):
        _require_there(text, all_corners[column], count, _CALLED[kind], face_start)
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


def _chunk_bounds(lines: bytes) -> Iterator[tuple[int, int]]:
    start = 0
    while start < len(lines):
        end = lines.rfind(b"\n", start, start + CHUNK_BYTES) + 1
        if not end:  # one line longer than a chunk, or the last one
            end = lines.find(b"\n", start) + 1 or len(lines)
        yield start, end
        start = end


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


@dataclass(frozen=True, slots=True, kw_only=True)
class _NumberLines:
    """The numbers on the lines of one kind: all in a row, how many a line, where lines begin."""

    kind: int
    values: FloatArray
    counts: Positions
    offsets: Positions


def _number_tables(text: ObjText, chunk: Chunk, extras: dict[str, int]) -> dict[int, FloatArray]:
    """The v, vt and vn lines of a chunk, each kind as one table."""
    lines = np.flatnonzero(chunk.lines.kind != FACE)
    kinds = chunk.lines.kind[lines]
    fast = _fast_numbers(chunk, lines)
    values, counts = _slow_numbers(text, chunk, lines) if fast is None else fast
    tables = {}
    for kind in _WIDTH:
        of_kind = kinds == kind
        number_lines = _NumberLines(
            kind=kind,
            values=values[np.repeat(of_kind, counts)],
            counts=counts[of_kind],
            offsets=chunk.lines.start[lines[of_kind]] + chunk.shift,
        )
        tables[kind] = _table(text, number_lines, extras)
    return tables


def _fast_numbers(chunk: Chunk, lines: Positions) -> tuple[FloatArray, Positions] | None:
    """Values and how many a line; None where a number is not of the form -123.456."""
    ours = (chunk.kind != FACE) & (chunk.kind != EMPTY)
    is_fraction = chunk.before == POINT
    fraction = np.flatnonzero(is_fraction & ours)
    whole = fraction - 1
    if (
        np.any(ours & ~chunk.is_digits)
        or np.any(ours & (chunk.before == SLASH))
        or np.any(is_fraction[whole] | chunk.is_negative[fraction])
        or np.any(chunk.end[whole] + 1 != chunk.start[fraction])
        or np.count_nonzero(chunk.buffer == POINT) != len(fraction)
    ):
        return None
    number = np.flatnonzero(ours & ~is_fraction)
    digits_behind = np.zeros(len(ours), dtype=np.int64)
    digits_behind[whole] = chunk.end[fraction] - chunk.start[fraction]
    value_behind = np.zeros(len(ours), dtype=np.int64)
    value_behind[whole] = chunk.value[fraction]
    values = decimal_values(
        chunk.value[number],
        value_behind[number],
        digits_behind[number],
        chunk.is_negative[number],
    )
    if values is None:
        return None
    return values, _count_between(number, chunk.keyword[lines], len(ours))


def _slow_numbers(text: ObjText, chunk: Chunk, lines: Positions) -> tuple[FloatArray, Positions]:
    """As `_fast_numbers`, for numbers of any form."""
    marks = np.zeros(len(chunk.buffer), dtype=np.int8)
    marks[chunk.lines.start[lines]] = 1
    marks[chunk.lines.end[lines]] -= 1
    buffer = np.where(np.cumsum(marks, dtype=np.int8), chunk.buffer, np.uint8(BLANK))
    keyword = chunk.keyword[lines]
    buffer[chunk.start[keyword]] = BLANK
    buffer[chunk.end[keyword] - 1] = BLANK
    start, end = split_pieces(buffer <= BLANK)
    values = parse_numbers(buffer.tobytes())
    if values is None or len(values) != len(start):
        values = _numbers_one_by_one(text, chunk, start, end)
    return values, _count_between(start, chunk.lines.start[lines], len(buffer))


def _numbers_one_by_one(
    text: ObjText, chunk: Chunk, start: Positions, end: Positions
) -> FloatArray:
    values = np.empty(len(start))
    for k, (first, last) in enumerate(zip(start.tolist(), end.tolist(), strict=True)):
        value = parse_number(chunk.buffer[first:last].tobytes())
        if value is None:
            _refuse(text, chunk, first, "is no number")
        values[k] = value
    return values


def _count_between(sorted_items: Positions, starts: Positions, end: int) -> Positions:
    """How many items lie from each start up to the next, or to the end."""
    bounds = np.append(starts, end)
    return np.diff(np.searchsorted(sorted_items, bounds))


def _refuse(text: ObjText, chunk: Chunk, position: int, reason: str) -> NoReturn:
    start, token = chunk.token_at(position)
    raise text.error(start + chunk.shift, f"'{token}' {reason}")


def _table(text: ObjText, lines: _NumberLines, extras: dict[str, int]) -> FloatArray:
    """(L, width) the first numbers of each line, 0 where a UV line has but one."""
    counts, width, fewest = lines.counts, _WIDTH[lines.kind], _FEWEST[lines.kind]
    if np.any(counts < fewest):
        line = int(np.argmax(counts < fewest))
        raise text.error(
            int(lines.offsets[line]),
            f"{_KEYWORDS[lines.kind]} needs {fewest} numbers or more, not {counts[line]}",
        )
    if np.all(counts == width):
        return lines.values.reshape(-1, width)
    first = np.cumsum(counts) - counts
    table = np.zeros((len(counts), width + 1))
    for column in range(width + 1):
        there = counts > column
        table[there, column] = lines.values[first[there] + column]
    _note_extras(lines, table[:, width], extras)
    return table[:, :width]


def _note_extras(lines: _NumberLines, behind: FloatArray, extras: dict[str, int]) -> None:
    """Remember what lines hold beyond what a Model keeps; a number that says nothing is skipped.

    behind  (L,) the first number behind the kept ones, 0 for none
    """
    counts = lines.counts
    if lines.kind == PLACE:
        found = {
            "weights (w) of points": ((counts == 4) | (counts == 7)) & (behind != 1),
            "colours of points": (counts == 6) | (counts == 7),
            "numbers behind points": (counts == 5) | (counts > 7),
        }
    elif lines.kind == UV:
        found = {
            "third coordinates of UVs": (counts > 2) & (behind != 0),
            "numbers behind UVs": counts > 3,
        }
    else:
        found = {"numbers behind normals": counts > 3}
    for what, where in found.items():
        if where.any():
            extras.setdefault(what, int(lines.offsets[np.argmax(where)]))


def _faces(text: ObjText, chunk: Chunk, above: Counts) -> tuple[Corners, Positions]:
    """Corners (3, C) as rows of points, UVs and normals, from 0; and each face's size."""
    lines = chunk.lines.of_kind(FACE)
    piece = np.flatnonzero(chunk.kind == FACE)
    follows = chunk.before[piece] == SLASH
    _refuse_stray_marks(text, chunk, int(np.count_nonzero(follows)))
    corners = _corner_rows(_indices(text, chunk, piece), _slots(text, chunk, piece, follows))
    sizes = _count_between(piece[~follows], chunk.keyword[lines], len(chunk.start))
    if np.any(sizes < 3):
        short = int(np.argmax(sizes < 3))
        raise text.error(
            int(chunk.lines.start[lines[short]]) + chunk.shift,
            f"a face needs 3 corners or more, not {sizes[short]}",
        )
    line_of_corner = np.repeat(lines, sizes)
    bases = {PLACE: above.points, UV: above.uvs, NORMAL: above.normals}
    for row, (kind, base) in zip(corners, bases.items(), strict=True):
        _resolve_relative(text, chunk, row, line_of_corner, kind_above=(kind, base))
    corners -= 1
    return corners, sizes


def _refuse_stray_marks(text: ObjText, chunk: Chunk, slashes_before_pieces: int) -> None:
    """Refuse points in face lines, and slashes behind no index; one slash too many at the end of
    a corner is common and says nothing."""
    buffer = chunk.buffer
    marks = np.count_nonzero(buffer == SLASH) + np.count_nonzero(buffer == POINT)
    fractions = np.count_nonzero((chunk.before == POINT) & (chunk.kind != FACE))
    if marks == slashes_before_pieces + fractions:
        return
    slash = np.flatnonzero(buffer == SLASH)
    wrong = np.concatenate([slash[buffer[slash - 1] <= BLANK], np.flatnonzero(buffer == POINT)])
    line = np.searchsorted(chunk.lines.start, wrong, side="right") - 1
    wrong = wrong[chunk.lines.kind[line] == FACE]
    if len(wrong):
        _refuse(text, chunk, int(wrong.min()), "is no corner of a face")


def _indices(text: ObjText, chunk: Chunk, piece: Positions) -> Corners:
    """(P,) int32 as written, from 1 or below 0; beyond int32 the largest int32."""
    values = chunk.value[piece].astype(np.int32)
    np.negative(values, out=values, where=chunk.is_negative[piece])
    for k in np.flatnonzero(~chunk.is_digits[piece]).tolist():
        position = int(chunk.start[piece[k]])
        token = chunk.buffer[position : int(chunk.end[piece[k]])].tobytes()
        if not _INTEGER.fullmatch(token) or len(token) > LONGEST_INTEGER:
            _refuse(text, chunk, position, "is no corner of a face")
        values[k] = max(-LARGEST_INDEX, min(LARGEST_INDEX, int(token)))
    if not values.all():
        position = int(chunk.start[piece[np.argmin(values != 0)]])
        _refuse(text, chunk, position, "names number 0, but counting begins at 1")
    return values


def _slots(
    text: ObjText, chunk: Chunk, piece: Positions, follows: BoolArray
) -> npt.NDArray[np.int8]:
    """(P,) 0 for a corner's point, 1 for its UV, 2 for its normal."""
    follower = piece[follows]
    gap = chunk.start[follower] - chunk.end[follower - 1]
    double = follower[gap == 2]
    wrong = np.concatenate(
        [follower[gap > 2], double[chunk.buffer[chunk.start[double] - 2] != SLASH]]
    )
    step = np.zeros(len(piece), dtype=np.int8)
    step[follows] = np.minimum(gap, 3)
    slot = step.copy()
    slot[1:] += np.where(follows[1:], step[:-1], np.int8(0))
    wrong = np.concatenate([wrong, piece[slot > 2]])
    if len(piece) > 3:
        wrong = np.concatenate([wrong, piece[3:][follows[1:-2] & follows[2:-1] & follows[3:]]])
    if len(wrong):
        _refuse(text, chunk, int(chunk.start[wrong.min()]), "is no corner of a face")
    return slot


def _corner_rows(values: Corners, slot: npt.NDArray[np.int8]) -> Corners:
    """(3, C) points, UVs and normals as written, 0 for none."""
    is_corner = slot == 0
    width = int(slot.max(initial=0)) + 1
    rows = np.zeros((3, np.count_nonzero(is_corner)), dtype=np.int32)
    if len(slot) % width == 0 and np.all(slot.reshape(-1, width) == np.arange(width)):
        rows[:width] = values.reshape(-1, width).T
        return rows
    rows[slot, np.cumsum(is_corner) - 1] = values
    return rows


def _resolve_relative(
    text: ObjText,
    chunk: Chunk,
    row: Corners,
    line_of_corner: Positions,
    *,
    kind_above: tuple[int, int],
) -> None:
    """Indices below 0 count backwards from the line they stand in; make them count from 1.

    kind_above  which table they are into, and how many of its entries stand above the chunk
    """
    relative = np.flatnonzero(row < 0)
    if not len(relative):
        return
    kind, base = kind_above
    line = line_of_corner[relative]
    count = np.searchsorted(chunk.lines.of_kind(kind), line) + base
    absolute = row[relative] + count + 1
    if np.any(absolute < 1):
        first = int(np.argmax(absolute < 1))
        raise text.error(
            int(chunk.lines.start[line[first]]) + chunk.shift,
            f"the face names {_CALLED[kind]} {row[relative[first]]}, but there are"
            f" {count[first]} above it",
        )
    row[relative] = absolute
