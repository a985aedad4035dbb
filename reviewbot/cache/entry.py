"""How one kept thing lies in its file: a head that vouches for the rest, a JSON table, plain bytes.

Whoever can write into the folder can put a wrong review there, but no code: nothing is unpickled
or run on reading. Layout, little-endian: the mark (8 bytes), SHA-256 of key and body (32), length
of the body (8), then the body: length of the table (8), the table as JSON, the blobs one by one.
"""

from __future__ import annotations

import hashlib
import json
import struct
from collections.abc import Sequence
from itertools import accumulate, pairwise
from typing import Any

MARK = b"rbkept1\n"
_HEAD = struct.Struct("<8s32sQ")
_LENGTH = struct.Struct("<Q")

Table = dict[str, Any]


class BadEntryError(Exception):
    """What lies in a file is no entry of that key: cut off, altered, or another's."""


def packed(key: str, table: Table, blobs: Sequence[bytes] = ()) -> bytes:
    """The file of a key. The table gets the sizes of the blobs; it may hold nan and infinity."""
    text = json.dumps({**table, "sizes": [len(blob) for blob in blobs]}).encode()
    body = b"".join([_LENGTH.pack(len(text)), text, *blobs])
    return _HEAD.pack(MARK, _digest(key, body), len(body)) + body


def unpacked(key: str, data: bytes) -> tuple[Table, list[bytes]]:
    """What `packed` put there. Raises BadEntryError, with the reason, for anything else."""
    if len(data) < _HEAD.size:
        raise BadEntryError("is cut off")
    mark, digest, length = _HEAD.unpack_from(data)
    body = data[_HEAD.size :]
    if mark != MARK:
        raise BadEntryError("is none of this version's")
    if len(body) != length:
        raise BadEntryError("is cut off")
    if _digest(key, body) != digest:
        raise BadEntryError("was altered")
    return _contents(body)


def _contents(body: bytes) -> tuple[Table, list[bytes]]:
    try:
        (length,) = _LENGTH.unpack_from(body)
        start = _LENGTH.size + length
        table: Table = json.loads(body[_LENGTH.size : start])
        sizes = [int(size) for size in table.pop("sizes")]
    except (struct.error, ValueError, TypeError, KeyError, AttributeError, RecursionError) as error:
        raise BadEntryError("is not understood") from error
    limits = list(accumulate(sizes, initial=start))
    if min(sizes, default=0) < 0 or limits[-1] != len(body):
        raise BadEntryError("is not understood")
    return table, [body[low:high] for low, high in pairwise(limits)]


def _digest(key: str, body: bytes) -> bytes:
    hashed = hashlib.sha256(f"{len(key)} {key} ".encode())
    hashed.update(body)
    return hashed.digest()
