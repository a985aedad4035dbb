"""Numbers out of ASCII text, many at a time.

The last eight bytes of a run of digits are taken as one 64-bit word and folded pairwise into
their value (the SIMD-within-a-register method; Lemire, "Number parsing at a gigabyte per second",
2021). A decimal of few digits is an integer over a power of ten, both exact as doubles, so that
one division rounds as correctly as the slow road (the fast path of Clinger, "How to read
floating point numbers accurately", PLDI 1990).
"""

from __future__ import annotations

import re
import warnings
from collections.abc import Iterator

import numpy as np
import numpy.typing as npt

from reviewbot.mesh import BoolArray, FloatArray
from reviewbot.readers.names import printable_name

Bytes = npt.NDArray[np.uint8]
Positions = npt.NDArray[np.int64]

WORD = 8
BLANK, NEWLINE, RETURN, HASH, PLUS, MINUS, POINT, SLASH = (ord(c) for c in " \n\r#+-./")
LARGEST_EXACT = 2**53
_NUMBER = re.compile(rb"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?|[+-]?(nan|inf|infinity)", re.I)
# What C's printf of one vendor wrote for values that are no numbers.
_VENDOR_NONFINITE = re.compile(rb"([+-]?)1\.#(inf|ind|qnan|snan)\d*", re.I)


def _repeated(byte: int) -> np.uint64:
    return np.uint64(int.from_bytes(bytes([byte]) * WORD, "little"))


_ZEROS, _OVER_NINE, _HIGH_BITS = _repeated(ord("0")), _repeated(0x80 - 10), _repeated(0x80)
_FOLDS = (
    (np.uint64(8), np.uint64(10), np.uint64(0x00FF00FF00FF00FF)),
    (np.uint64(16), np.uint64(100), np.uint64(0x0000FFFF0000FFFF)),
    (np.uint64(32), np.uint64(10000), np.uint64(0x00000000FFFFFFFF)),
)
_KEPT_BYTES = np.array(
    [0, *(2**64 - 2 ** (64 - 8 * length) for length in range(1, WORD + 1)), 0], dtype=np.uint64
)
_POWERS = 10 ** np.arange(WORD + 1, dtype=np.int64)
_FLOAT_POWERS = _POWERS.astype(np.float64)


def padded(text: bytes, start: int, end: int) -> Bytes:
    """text[start:end] as a writable array between newlines, room for a word before it."""
    buffer = np.full(WORD + end - start + 1, NEWLINE, dtype=np.uint8)
    buffer[WORD:-1] = np.frombuffer(text, dtype=np.uint8, count=end - start, offset=start)
    return buffer


def split_pieces(is_break: BoolArray) -> tuple[Positions, Positions]:
    """Where the runs between breaks start and end; the first and last entry must be breaks."""
    edges = np.flatnonzero(is_break[1:] != is_break[:-1])
    edges += 1
    return edges[0::2], edges[1::2]


def digit_values(buffer: Bytes, start: Positions, end: Positions) -> tuple[Positions, BoolArray]:
    """Values of buffer[start:end], each one to eight digits, and whether it is just that.

    A value is meaningless where it is not.
    """
    words: npt.NDArray[np.uint64] = np.ndarray(
        (len(buffer) - WORD + 1,), dtype="<u8", buffer=buffer.data, strides=(1,)
    )
    length = end - start
    value = words[end - WORD]
    value ^= _ZEROS
    value &= _KEPT_BYTES.take(length, mode="clip")
    over = value + _OVER_NINE
    over |= value
    over &= _HIGH_BITS
    ok = over == 0
    ok &= length > 0
    ok &= length <= WORD
    shifted = over
    for shift, factor, mask in _FOLDS:
        np.right_shift(value, shift, out=shifted)
        value *= factor
        value += shifted
        value &= mask
    return value.view(np.int64), ok


def decimal_values(
    whole: Positions, fraction: Positions, fraction_length: Positions, negative: BoolArray
) -> FloatArray | None:
    """Numbers from the digits before and after the point; None where one needs the slow road."""
    mantissa = whole * _POWERS.take(fraction_length, mode="clip")
    mantissa += fraction
    if len(mantissa) and int(mantissa.max()) >= LARGEST_EXACT:
        return None
    values: FloatArray = mantissa / _FLOAT_POWERS.take(fraction_length, mode="clip")
    np.negative(values, out=values, where=negative)
    return values


def parse_numbers(text: bytes) -> FloatArray | None:
    """All blank-separated numbers of a text; None where something in it is none."""
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        try:
            return np.fromstring(text, dtype=np.float64, sep=" ")
        except (DeprecationWarning, ValueError):
            return None


def parse_number(token: bytes) -> float | None:
    """One number; NaN and infinities as they stand, also as older exporters spell them."""
    if _NUMBER.fullmatch(token):
        return float(token)
    if vendor := _VENDOR_NONFINITE.fullmatch(token):
        value = float("inf") if vendor[2].lower() == b"inf" else float("nan")
        return -value if vendor[1] == b"-" else value
    return None


class NotANumberError(ValueError):
    """What stands at a position of a buffer is no number; `token` is its beginning, printable."""

    def __init__(self, position: int, token: bytes) -> None:
        self.position, self.token = position, printable_name(token[:40])
        super().__init__(f"'{self.token}' is no number")


def token_values(buffer: Bytes, start: Positions, end: Positions) -> FloatArray:
    """The numbers buffer[start:end] of a buffer that holds nothing else but blanks.

    Raises NotANumberError for the first that is none.
    """
    values = parse_numbers(buffer.tobytes())
    if values is not None and len(values) == len(start):
        return values
    places = zip(start.tolist(), end.tolist(), strict=True)
    return np.array([_token_value(buffer, first, last) for first, last in places])


def _token_value(buffer: Bytes, start: int, end: int) -> float:
    token = buffer[start:end].tobytes()
    value = parse_number(token)
    if value is None:
        raise NotANumberError(start, token)
    return value


def line_chunks(text: bytes, start: int, size: int) -> Iterator[tuple[int, int]]:
    """Stretches of whole lines from `start` on, about `size` bytes each; a longer line is one."""
    while start < len(text):
        end = text.rfind(b"\n", start, start + size) + 1
        end = end or text.find(b"\n", start) + 1 or len(text)
        yield start, end
        start = end


def only_between(buffer: Bytes, start: Positions, end: Positions) -> Bytes:
    """The buffer with all blank but its stretches [start, end), which rise and do not overlap."""
    marks = np.zeros(len(buffer), dtype=np.int8)
    marks[start] = 1
    marks[end] -= 1
    return np.where(np.cumsum(marks, dtype=np.int8), buffer, np.uint8(BLANK))
