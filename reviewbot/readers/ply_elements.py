"""PLY's header and elements: tables of properties, in text or in bytes of either order.

Source: Greg Turk, "The PLY Polygon File Format", Stanford 1994, from memory.
"""

from __future__ import annotations

import re
import struct
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from reviewbot.mesh import FloatArray
from reviewbot.readers.numerals import (
    BLANK,
    WORD,
    NotANumberError,
    Positions,
    line_chunks,
    padded,
    parse_numbers,
    split_pieces,
    token_values,
)
from reviewbot.readers.unsound import UnsoundFileError

AnyArray = npt.NDArray[Any]
LONGEST_HEADER = 1 << 20
_TYPES = {
    **dict.fromkeys(("char", "int8"), "i1"),
    **dict.fromkeys(("uchar", "uint8"), "u1"),
    **dict.fromkeys(("short", "int16"), "i2"),
    **dict.fromkeys(("ushort", "uint16"), "u2"),
    **dict.fromkeys(("int", "int32"), "i4"),
    **dict.fromkeys(("uint", "uint32"), "u4"),
    **dict.fromkeys(("float", "float32"), "f4"),
    **dict.fromkeys(("double", "float64"), "f8"),
}
_ORDERS = {"ascii": "", "binary_little_endian": "<", "binary_big_endian": ">"}
_COUNTERS = {"i1": "b", "u1": "B", "i2": "h", "u2": "H", "i4": "i", "u4": "I", "f8": "d"}
CHUNK_BYTES = 1 << 22
_HEADER_END = re.compile(rb"(?:\A|[\r\n])end_header[ \t]*(\r\n|\n|\r)")


@dataclass(frozen=True, slots=True, kw_only=True)
class Property:
    """A number of each entry, or a list of numbers: then `count_type` is that of its length."""

    name: str
    value_type: str
    count_type: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Element:
    name: str
    count: int
    properties: tuple[Property, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Header:
    """What a file promises; `order` is "" for text, else the byte order; the body begins at
    `body`."""

    order: str
    elements: tuple[Element, ...]
    comments: tuple[str, ...]
    unknown_lines: tuple[int, ...]
    body: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One property of all entries. Numbers: `values` (count,), `sizes` None.

    Lists: all `values` in a row, `sizes` (count,) of each.
    """

    values: AnyArray
    sizes: Positions | None = None


Table = dict[str, Column]


def read_header(data: bytes) -> Header:
    """Raises UnsoundFileError, with its line, where it is no PLY header."""
    if not data[:4].lower().startswith((b"ply\n", b"ply\r", b"ply ")):
        raise UnsoundFileError("does not begin as a PLY file does")
    end = _HEADER_END.search(data[:LONGEST_HEADER])
    if end is None:
        raise UnsoundFileError("has no end_header line")
    lines = data[: end.start()].replace(b"\r\n", b"\n").replace(b"\r", b"\n").split(b"\n")
    order: str | None = None
    elements: list[Element] = []
    comments: list[str] = []
    unknown: list[int] = []
    for number, line in enumerate(lines[1:], start=2):
        words = line.decode("latin-1").split()
        match words:
            case ["format", word, _] if word in _ORDERS:
                order = _ORDERS[word]
            case ["format", *_]:
                raise UnsoundFileError("the format is none of PLY's three", line=number)
            case ["comment", *_]:
                comments.append(line.decode("utf-8", errors="replace"))
            case ["element", name, count] if count.isascii() and count.isdigit():
                elements.append(Element(name=name, count=_count(count, number), properties=()))
            case ["property", *_] if elements and (new := _property(words)) is not None:
                last = elements[-1]
                elements[-1] = replace(last, properties=(*last.properties, new))
            case ["element" | "property", *_]:
                raise UnsoundFileError("is no element or property as PLY has them", line=number)
            case ["obj_info", *_] | []:
                pass
            case _:
                unknown.append(number)
    if order is None:
        raise UnsoundFileError("has no format line")
    return Header(
        order=order,
        elements=tuple(elements),
        comments=tuple(comments),
        unknown_lines=tuple(unknown),
        body=end.end(),
    )


def _count(word: str, line: int) -> int:
    if len(word) > 10 or int(word) >= 2**31:
        raise UnsoundFileError("promises more entries than can be read", line=line)
    return int(word)


def _property(words: list[str]) -> Property | None:
    match words:
        case ["property", "list", count, value, name] if {count, value} <= _TYPES.keys():
            if _TYPES[count][0] in "iu":
                return Property(name=name, value_type=_TYPES[value], count_type=_TYPES[count])
        case ["property", value, name] if value in _TYPES:
            return Property(name=name, value_type=_TYPES[value])
    return None


def read_tables(data: bytes, header: Header) -> tuple[dict[str, Table], int]:
    """The elements by name, and how many bytes or numbers stand behind the last one.

    Raises UnsoundFileError where the body is cut short or malformed.
    """
    if header.order:
        body = _Body(data=data, order=header.order)
        at = header.body
    else:  # once they are numbers, text is a body of 8-byte floats like another
        body = _Body(data=_text_numbers(data, header.body).tobytes(), order="<", width="f8")
        at = 0
    tables = {}
    for element in header.elements:
        tables[element.name], at = _table(body, at, element)
    return tables, len(body.data) - at


@dataclass(frozen=True, slots=True, kw_only=True)
class _Body:
    """Bytes of numbers; `width` is the one type they all have, or "" for their own."""

    data: bytes
    order: str
    width: str = ""

    def dtype(self, kind: str) -> np.dtype[Any]:
        return np.dtype(self.order + (self.width or kind))

    def values_at(self, positions: Positions, dtype: np.dtype[Any]) -> AnyArray:
        if not len(positions):
            return np.empty(0, dtype=dtype)
        length = len(self.data) - dtype.itemsize + 1
        windows: AnyArray = np.ndarray((length,), dtype, buffer=self.data, strides=(1,))
        return windows[positions]


def _text_numbers(data: bytes, start: int) -> FloatArray:
    bounds = line_chunks(data, start, CHUNK_BYTES)
    return np.concatenate([np.empty(0), *(_chunk_numbers(data, *bound) for bound in bounds)])


def _chunk_numbers(data: bytes, start: int, end: int) -> FloatArray:
    numbers = parse_numbers(data[start:end])
    if numbers is not None:
        return numbers
    buffer = padded(data, start, end)
    try:
        return token_values(buffer, *split_pieces(buffer <= BLANK))
    except NotANumberError as error:
        line = 1 + data.count(b"\n", 0, start + error.position - WORD)
        raise UnsoundFileError(str(error), line=line) from error


def _table(body: _Body, at: int, element: Element) -> tuple[Table, int]:
    """An element's columns, and where its last entry ends."""
    if not element.count or not element.properties:
        return {p.name: _no_entries(p) for p in element.properties}, at
    sizes, _, _ = _walk(body, at, element, 1)
    row = _row_type(body, element, [int(column[0]) for column in sizes])
    end = at + element.count * row.itemsize
    if end <= len(body.data):
        rows = np.frombuffer(body.data, dtype=row, count=element.count, offset=at)
        if all(np.all(rows[f"count{k}"] == size[0]) for k, size in enumerate(sizes)):
            return _even_columns(rows, element, sizes), end
    if not sizes:
        raise _cut_short(element)
    return _uneven_columns(body, at, element)


def _no_entries(column: Property) -> Column:
    sizes = None if column.count_type is None else np.empty(0, dtype=np.int64)
    return Column(values=np.empty(0), sizes=sizes)


def _row_type(body: _Body, element: Element, list_sizes: list[int]) -> np.dtype[Any]:
    """One entry's type, were all entries' lists of these lengths."""
    fields: list[tuple[Any, ...]] = []
    lists = iter(enumerate(list_sizes))
    for k, column in enumerate(element.properties):
        if column.count_type is None:
            fields.append((f"value{k}", body.dtype(column.value_type)))
        else:
            number, size = next(lists)
            fields.append((f"count{number}", body.dtype(column.count_type)))
            fields.append((f"value{k}", body.dtype(column.value_type), (size,)))
    return np.dtype(fields)


def _even_columns(rows: AnyArray, element: Element, sizes: list[Positions]) -> Table:
    lists = iter(sizes)
    table = {}
    for k, column in enumerate(element.properties):
        values = rows[f"value{k}"]
        if column.count_type is None:
            table[column.name] = Column(values=values)
        else:
            every = np.full(len(rows), next(lists)[0], dtype=np.int64)
            table[column.name] = Column(values=values.reshape(-1), sizes=every)
    return table


def _uneven_columns(body: _Body, at: int, element: Element) -> tuple[Table, int]:
    sizes, starts, end = _walk(body, at, element, element.count)
    lists = iter(sizes)
    table = {}
    for column, start in zip(element.properties, starts, strict=True):
        dtype = body.dtype(column.value_type)
        if column.count_type is None:
            table[column.name] = Column(values=body.values_at(start, dtype))
            continue
        size = next(lists)
        where = np.repeat(start - (np.cumsum(size) - size) * dtype.itemsize, size)
        where += np.arange(len(where)) * dtype.itemsize
        table[column.name] = Column(values=body.values_at(where, dtype), sizes=size)
    return table, end


def _walk(
    body: _Body, at: int, element: Element, count: int
) -> tuple[list[Positions], list[Positions], int]:
    """Step from entry to entry, as each one's lists say how long it is.

    returns  the sizes of each list property's lists, where each property's values begin, and
             where the last entry ends
    """
    steps = [_step(body, column) for column in element.properties]
    sizes: list[int] = []
    starts: list[int] = []
    try:
        for _ in range(count):
            for width, counter in steps:
                size = 1
                if counter is not None:
                    size = int(counter.unpack_from(body.data, at)[0])
                    at += counter.size
                    if size < 0:
                        raise UnsoundFileError(f"a list of element '{element.name}' is negative")
                    sizes.append(size)
                starts.append(at)
                at += size * width
    except (struct.error, ValueError, OverflowError) as error:
        raise _cut_short(element) from error
    if at > len(body.data):
        raise _cut_short(element)
    lists = sum(counter is not None for _, counter in steps)
    return _columns(sizes, lists), _columns(starts, len(steps)), at


def _step(body: _Body, column: Property) -> tuple[int, struct.Struct | None]:
    """Bytes of one value, and what reads a list's length in front of them."""
    width = body.dtype(column.value_type).itemsize
    if column.count_type is None:
        return width, None
    return width, struct.Struct(body.order + _COUNTERS[body.width or column.count_type])


def _columns(flat: list[int], count: int) -> list[Positions]:
    return list(np.array(flat, dtype=np.int64).reshape(-1, count).T) if count else []


def _cut_short(element: Element) -> UnsoundFileError:
    return UnsoundFileError(f"ends before its {element.count} entries of '{element.name}' do")
