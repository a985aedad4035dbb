"""A stretch of OBJ text as lines of known kind, cut into pieces at blanks, slashes and points."""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from reviewbot.errors import MeshReadError
from reviewbot.mesh import BoolArray
from reviewbot.readers.names import printable_name
from reviewbot.readers.numerals import (
    BLANK,
    HASH,
    MINUS,
    NEWLINE,
    POINT,
    RETURN,
    SLASH,
    WORD,
    Bytes,
    Positions,
    digit_values,
    padded,
    split_pieces,
)
from reviewbot.readers.obj_text import COMMENT, ObjText

Kinds = npt.NDArray[np.uint8]
EMPTY, REMARK, STATEMENT, PLACE, UV, NORMAL, FACE = range(7)
_BLANKS = bytes(range(BLANK + 1))
_SHOWN = 40  # bytes of a token shown in a message
_KEYWORD = re.compile(rb"[A-Za-z_][\w.-]*")


@dataclass(frozen=True, slots=True, kw_only=True)
class Counts:
    """How many of each stand above a place in the file."""

    points: int = 0
    uvs: int = 0
    normals: int = 0
    faces: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Statement:
    """A line that is none of v, vt, vn and f, and what stands above it."""

    keyword: str
    rest: bytes
    offset: int
    points: int
    faces: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Lines:
    """Lines of a buffer, their first and last position and kind."""

    start: Positions
    end: Positions
    kind: Kinds

    def of_kind(self, kind: int) -> Positions:
        return np.flatnonzero(self.kind == kind)


@dataclass(frozen=True, slots=True, kw_only=True)
class Chunk:
    """The number lines of a stretch of text; everything else in the buffer is blank.

    shift    a position in the buffer plus this is an offset in the text
    lines    the kept lines L, of kind PLACE, UV, NORMAL or FACE
    keyword  (L,) which piece is the line's keyword
    start, end, before  of the P pieces; `before` is the byte in front
    value, is_digits, is_negative  (P,) the number a piece is, where it is digits behind a sign
    kind     (P,) of the piece's line, EMPTY for keywords
    """

    buffer: Bytes
    shift: int
    lines: Lines
    keyword: Positions
    start: Positions
    end: Positions
    before: Bytes
    value: Positions
    is_digits: BoolArray
    is_negative: BoolArray
    kind: Kinds

    def refusal(self, text: ObjText, position: int, problem: str) -> MeshReadError:
        """An error about the blank-separated token that a position of the buffer lies in."""
        around = self.buffer[max(position - _SHOWN, 0) : position + _SHOWN].tobytes()
        here = min(position, _SHOWN)
        start = max(k for k in range(here + 1) if not k or around[k - 1] <= BLANK)
        token = printable_name(around[start:].split(None, 1)[0][:_SHOWN])
        return text.error(position + self.shift, f"'{token}' {problem}")


def count_between(items: Positions, starts: Positions, end: int) -> Positions:
    """How many of the rising items lie from each start up to the next one, or to the end."""
    each = len(items) // len(starts) if len(starts) else 0
    if each and each * len(starts) == len(items):  # most often all have the same number
        groups = items.reshape(-1, each)
        if np.all(groups[:, 0] >= starts) and np.all(groups[:-1, -1] < starts[1:]):
            return np.full(len(starts), each)
    return np.diff(np.searchsorted(items, np.append(starts, end)))


def read_chunk(text: ObjText, start: int, end: int, above: Counts) -> tuple[Chunk, list[Statement]]:
    """Raises MeshReadError where a line begins with what cannot be a keyword."""
    buffer = padded(text.lines, start, end)
    shift = start - WORD
    lines = _lines(buffer)
    statements = _statements(text, buffer, shift, lines, above)
    _blank_all_but_numbers(buffer, lines)
    return _chunk(buffer, shift, lines), statements


def _lines(buffer: Bytes) -> Lines:
    newline = np.flatnonzero(buffer[WORD - 1 :] == NEWLINE) + (WORD - 1)
    start, end = newline[:-1] + 1, newline[1:]
    _left_justify(buffer, start, end)
    return Lines(start=start, end=end, kind=_kinds(buffer, start))


def _left_justify(buffer: Bytes, start: Positions, end: Positions) -> None:
    first, second = buffer[start], buffer.take(start + 1, mode="clip")
    indented = (first <= BLANK) & (first != NEWLINE) & ~((first == RETURN) & (second == NEWLINE))
    for line in np.flatnonzero(indented).tolist():
        text = buffer[start[line] : end[line]].tobytes()
        moved = text.lstrip(_BLANKS).ljust(len(text))
        buffer[start[line] : end[line]] = np.frombuffer(moved, dtype=np.uint8)


def _kinds(buffer: Bytes, start: Positions) -> Kinds:
    first, second, third = (buffer.take(start + step, mode="clip") for step in range(3))
    kind = np.full(len(start), STATEMENT, dtype=np.uint8)
    kind[first <= BLANK] = EMPTY
    kind[first == HASH] = REMARK
    v, short, long = first == ord("v"), second <= BLANK, third <= BLANK
    kind[v & short] = PLACE
    kind[v & (second == ord("t")) & long] = UV
    kind[v & (second == ord("n")) & long] = NORMAL
    # "fo" is how the oldest files call a face, and still one.
    kind[(first == ord("f")) & (short | ((second == ord("o")) & long))] = FACE
    return kind


def _statements(
    text: ObjText, buffer: Bytes, shift: int, lines: Lines, above: Counts
) -> list[Statement]:
    which = lines.of_kind(STATEMENT)
    if not len(which):
        return []
    points = np.searchsorted(lines.of_kind(PLACE), which) + above.points
    faces = np.searchsorted(lines.of_kind(FACE), which) + above.faces
    starts, ends = lines.start[which].tolist(), lines.end[which].tolist()
    return [
        _statement(text, buffer[start:end].tobytes(), start + shift, points_above, faces_above)
        for start, end, points_above, faces_above in zip(
            starts, ends, points.tolist(), faces.tolist(), strict=True
        )
    ]


def _statement(text: ObjText, line: bytes, offset: int, points: int, faces: int) -> Statement:
    keyword, _, rest = COMMENT.sub(b"", line).strip().replace(b"\t", b" ").partition(b" ")
    if not _KEYWORD.fullmatch(keyword):
        shown = printable_name(keyword[:_SHOWN])
        raise text.error(offset, f"'{shown}' cannot begin a statement")
    return Statement(
        keyword=keyword.decode("ascii"),
        rest=rest.strip(),
        offset=offset,
        points=points,
        faces=faces,
    )


def _blank_all_but_numbers(buffer: Bytes, lines: Lines) -> None:
    other = (lines.kind == STATEMENT) | (lines.kind == REMARK)
    for start, end in zip(lines.start[other].tolist(), lines.end[other].tolist(), strict=True):
        buffer[start:end] = BLANK
    hashes = np.flatnonzero(buffer == HASH)
    remarks = hashes[buffer[hashes - 1] <= BLANK]
    line = np.searchsorted(lines.start, remarks, side="right") - 1
    for start, end in zip(remarks.tolist(), lines.end[line].tolist(), strict=True):
        buffer[start:end] = BLANK


def _chunk(buffer: Bytes, shift: int, lines: Lines) -> Chunk:
    kept = lines.kind >= PLACE
    kept_lines = Lines(start=lines.start[kept], end=lines.end[kept], kind=lines.kind[kept])
    start, end = split_pieces((buffer <= BLANK) | (buffer == SLASH) | (buffer == POINT))
    before = buffer[start - 1]
    keyword = np.flatnonzero(before == NEWLINE)
    kind = _kind_of_pieces(kept_lines.kind, keyword, len(start))
    is_negative = buffer[start] == MINUS
    value, is_digits = digit_values(buffer, start + is_negative, end)
    return Chunk(
        buffer=buffer,
        shift=shift,
        lines=kept_lines,
        keyword=keyword,
        start=start,
        end=end,
        before=before,
        value=value,
        is_digits=is_digits,
        is_negative=is_negative,
        kind=kind,
    )


def _kind_of_pieces(line_kind: Kinds, keyword: Positions, pieces: int) -> Kinds:
    if len(line_kind) and np.all(line_kind == line_kind[0]):
        kind = np.full(pieces, line_kind[0], dtype=np.uint8)
    else:
        kind = np.repeat(line_kind, np.diff(keyword, append=pieces))
    kind[keyword] = EMPTY
    return kind
