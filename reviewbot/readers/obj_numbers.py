"""The v, vt and vn lines of a stretch of OBJ text, each kind as one table.

Plain decimals are put together from their digits; lines with any other number (exponents, long
decimals, NaN) are parsed by numpy, to the same values.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reviewbot.mesh import FloatArray
from reviewbot.readers.numerals import (
    BLANK,
    POINT,
    SLASH,
    NotANumberError,
    Positions,
    decimal_values,
    only_between,
    split_pieces,
    token_values,
)
from reviewbot.readers.obj_lines import EMPTY, FACE, NORMAL, PLACE, UV, Chunk, count_between
from reviewbot.readers.obj_text import ObjText

WIDTHS = {PLACE: 3, UV: 2, NORMAL: 3}
_KEYWORDS = {PLACE: "v", UV: "vt", NORMAL: "vn"}
_FEWEST = {PLACE: 3, UV: 1, NORMAL: 3}


@dataclass(frozen=True, slots=True, kw_only=True)
class _NumberLines:
    """The numbers on the lines of one kind: all in a row, how many a line, where lines begin."""

    kind: int
    values: FloatArray
    counts: Positions
    offsets: Positions


def number_tables(text: ObjText, chunk: Chunk, extras: dict[str, int]) -> dict[int, FloatArray]:
    """A table by kind: PLACE (V, 3), UV (T, 2), NORMAL (N, 3).

    extras  gets what lines hold beyond that, with the offset where it first does
    Raises MeshReadError where a number is none, or a line has too few.
    """
    lines = np.flatnonzero(chunk.lines.kind != FACE)
    if not len(lines):
        return {kind: np.empty((0, width)) for kind, width in WIDTHS.items()}
    kinds = chunk.lines.kind[lines]
    fast = _fast_numbers(chunk, lines)
    values, counts = _slow_numbers(text, chunk, lines) if fast is None else fast
    tables = {}
    for kind in WIDTHS:
        of_kind = kinds == kind
        number_lines = _NumberLines(
            kind=kind,
            values=values if of_kind.all() else values[np.repeat(of_kind, counts)],
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
    digits, value_behind = chunk.end[fraction] - chunk.start[fraction], chunk.value[fraction]
    if not np.array_equal(whole, number):  # some have no point
        digits = _spread(digits, whole, number, len(ours))
        value_behind = _spread(value_behind, whole, number, len(ours))
    values = decimal_values(chunk.value[number], value_behind, digits, chunk.is_negative[number])
    if values is None:
        return None
    return values, count_between(number, chunk.keyword[lines], len(ours))


def _spread(values: Positions, place: Positions, wanted: Positions, length: int) -> Positions:
    """Values that stand at some places, read at others; 0 where there is none."""
    spread = np.zeros(length, dtype=np.int64)
    spread[place] = values
    return spread[wanted]


def _slow_numbers(text: ObjText, chunk: Chunk, lines: Positions) -> tuple[FloatArray, Positions]:
    """As `_fast_numbers`, for numbers of any form."""
    line_start = chunk.end[chunk.keyword[lines]]
    buffer = only_between(chunk.buffer, line_start, chunk.lines.end[lines])
    start, end = split_pieces(buffer <= BLANK)
    try:
        values = token_values(buffer, start, end)
    except NotANumberError as error:
        raise text.error(error.position + chunk.shift, str(error)) from error
    return values, count_between(start, line_start, len(buffer))


def _table(text: ObjText, lines: _NumberLines, extras: dict[str, int]) -> FloatArray:
    """(L, width) the first numbers of each line, 0 where a UV line has but one."""
    counts, width, fewest = lines.counts, WIDTHS[lines.kind], _FEWEST[lines.kind]
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
