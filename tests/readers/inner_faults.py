"""Faults that leave a file's outer form sound, so that they reach what lies behind it."""

from __future__ import annotations

import io
import json
import random
import struct
import zipfile
from collections.abc import Callable, Iterator
from typing import Any

from readers.usd_files import packaged

Fault = Callable[[bytes, random.Random], bytes]
_CHUNK = struct.Struct("<II")
_GLB_HEAD = 12
_ODD_VALUES: tuple[Any, ...] = (
    *(0, -1, 1, 2, 3, 7, 255, 65536, 2**31, 2**32, 2**63, 10**30, 0.5, 1e308, -0.0),
    *(None, True, "", "../x", "/etc/passwd", "VEC2", "MAT4", [], {}, [0], [[0]], {"a": 1}),
    *(5120, 5121, 5123, 5125, 5126),
)


def in_tree(data: bytes, rng: random.Random) -> bytes:
    """JSON with one value replaced, left out, doubled, or exchanged for another of the file's."""
    document = json.loads(data)
    places = list(_places(document))
    holder, key = rng.choice(places)
    kind = rng.randrange(4)
    if kind == 0:
        holder[key] = rng.choice(_ODD_VALUES)
    elif kind == 1:
        del holder[key]
    elif kind == 2 and isinstance(holder, list):
        holder.append(holder[key])
    else:
        other, of_other = rng.choice(places)
        holder[key] = json.loads(json.dumps(other[of_other]))
    return json.dumps(document).encode()


def _places(value: Any) -> Iterator[tuple[Any, Any]]:
    """Every (holder, key) in a tree of dictionaries and lists."""
    keys: list[Any] = []
    if isinstance(value, dict):
        keys = list(value)
    elif isinstance(value, list):
        keys = list(range(len(value)))
    for key in keys:
        yield value, key
        yield from _places(value[key])


def in_glb(data: bytes, rng: random.Random) -> bytes:
    """A fault in the document, or in the numbers behind it; lengths of chunks agree again."""
    length, kind = _CHUNK.unpack_from(data, _GLB_HEAD)
    start = _GLB_HEAD + _CHUNK.size
    text, rest = data[start : start + length], data[start + length :]
    if rng.random() < 0.8:
        text = in_tree(text, rng)
        text += b" " * (-len(text) % 4)
    else:
        rest = rest[: _CHUNK.size] + flipped(rest[_CHUNK.size :], rng)
    body = _CHUNK.pack(len(text), kind) + text + rest
    return data[:8] + struct.pack("<I", _GLB_HEAD + len(body)) + body


def in_package(data: bytes, rng: random.Random, fault: Fault) -> bytes:
    """A fault in one file of a zip archive, its sizes and checks written anew."""
    with zipfile.ZipFile(io.BytesIO(data)) as package:
        files = {name: package.read(name) for name in package.namelist()}
    name = rng.choice(list(files))
    files[name] = fault(files[name], rng)
    return packaged(files)


def flipped(data: bytes, rng: random.Random) -> bytes:
    """One to three bytes changed."""
    changed = bytearray(data)
    for _ in range(rng.randint(1, 3)):
        changed[rng.randrange(len(data))] = rng.choice((0, 1, 0x7F, 0x80, 0xFF, rng.randrange(256)))
    return bytes(changed)
