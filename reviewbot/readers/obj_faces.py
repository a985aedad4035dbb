"""The f lines of a stretch of OBJ text: corners of any form, indices from the top or backwards."""

from __future__ import annotations

import re

import numpy as np
import numpy.typing as npt

from reviewbot.mesh import BoolArray
from reviewbot.readers.numerals import BLANK, POINT, SLASH, Positions
from reviewbot.readers.obj_lines import FACE, NORMAL, PLACE, UV, Chunk, Counts, count_between
from reviewbot.readers.obj_text import ObjText

Corners = npt.NDArray[np.int32]
LARGEST_INDEX = 2**31 - 1
LONGEST_INTEGER = 20
CALLED = {PLACE: "point", UV: "UV", NORMAL: "normal"}
_INTEGER = re.compile(rb"[+-]?\d+")
_NO_CORNER = "is no corner of a face"


def read_faces(text: ObjText, chunk: Chunk, above: Counts) -> tuple[Corners, Positions]:
    """Corners (3, C) as rows of points, UVs and normals; and (F,) how many each face has.

    Indices count from 0, -1 for none; whether all name something is for the whole file to say.
    Raises MeshReadError for a malformed corner, too few of them, or an index back over the top.
    """
    lines = chunk.lines.of_kind(FACE)
    if not len(lines):
        return np.empty((3, 0), dtype=np.int32), np.empty(0, dtype=np.int64)
    piece = np.flatnonzero(chunk.kind == FACE)
    follows = chunk.before[piece] == SLASH
    width = _even_width(chunk, follows)
    if not width:
        _refuse_stray_marks(text, chunk)
    values = _indices(text, chunk, piece)
    if width:
        corners = np.zeros((3, len(piece) // width), dtype=np.int32)
        corners[:width] = values.reshape(-1, width).T
    else:
        corners = _corner_rows(values, _slots(text, chunk, piece, follows))
    sizes = count_between(piece[~follows], chunk.keyword[lines], len(chunk.start))
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


def _even_width(chunk: Chunk, follows: BoolArray) -> int:
    """How many indices each corner has, where all are alike, with single slashes; else 0."""
    buffer = chunk.buffer
    is_slash = buffer == SLASH
    slashes, pieces = int(np.count_nonzero(is_slash)), len(follows)
    fractions = np.count_nonzero((chunk.before == POINT) & (chunk.kind != FACE))
    if (
        slashes != np.count_nonzero(follows)
        or np.count_nonzero(buffer == POINT) != fractions
        or np.any(is_slash[1:] & (buffer[:-1] <= BLANK))
        or pieces == slashes
    ):
        return 0
    width, left = divmod(pieces, pieces - slashes)
    # So many pieces follow a slash that, if no first one does, all others do.
    return 0 if left or width > 3 or follows[::width].any() else width


def _refuse_stray_marks(text: ObjText, chunk: Chunk) -> None:
    """Refuse points in face lines, and slashes behind no index; one slash too many at the end of
    a corner is common and says nothing."""
    buffer = chunk.buffer
    slash = np.flatnonzero(buffer == SLASH)
    wrong = np.concatenate([slash[buffer[slash - 1] <= BLANK], np.flatnonzero(buffer == POINT)])
    line = np.searchsorted(chunk.lines.start, wrong, side="right") - 1
    wrong = wrong[chunk.lines.kind[line] == FACE]
    if len(wrong):
        raise chunk.refusal(text, int(wrong.min()), _NO_CORNER)


def _indices(text: ObjText, chunk: Chunk, piece: Positions) -> Corners:
    """(P,) int32 as written, from 1 or below 0; beyond int32 the largest int32."""
    values = chunk.value[piece].astype(np.int32)
    np.negative(values, out=values, where=chunk.is_negative[piece])
    for k in np.flatnonzero(~chunk.is_digits[piece]).tolist():
        position = int(chunk.start[piece[k]])
        token = chunk.buffer[position : int(chunk.end[piece[k]])].tobytes()
        if not _INTEGER.fullmatch(token) or len(token) > LONGEST_INTEGER:
            raise chunk.refusal(text, position, _NO_CORNER)
        values[k] = max(-LARGEST_INDEX, min(LARGEST_INDEX, int(token)))
    if not values.all():
        position = int(chunk.start[piece[np.argmin(values != 0)]])
        raise chunk.refusal(text, position, "names number 0, but counting begins at 1")
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
        raise chunk.refusal(text, int(chunk.start[wrong.min()]), _NO_CORNER)
    return slot


def _corner_rows(values: Corners, slot: npt.NDArray[np.int8]) -> Corners:
    """(3, C) points, UVs and normals as written, 0 for none."""
    is_corner = slot == 0
    rows = np.zeros((3, np.count_nonzero(is_corner)), dtype=np.int32)
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
            f"the face names {CALLED[kind]} {row[relative[first]]}, but there are"
            f" {count[first]} above it",
        )
    row[relative] = absolute
