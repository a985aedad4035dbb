"""Large-file pointers: what git holds in place of a file that is kept beside it.

Source: the pointer specification, https://github.com/git-lfs/git-lfs/blob/main/docs/spec.md.
Objects are read from this machine only; `history.large_files` may have brought them there before.
"""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass
from pathlib import Path

from reviewbot.errors import MeshReadError

LARGEST_POINTER = 1024  # bytes; the specification's own tools look no further
_VERSIONS = ("https://git-lfs.github.com/spec/v1", "https://hawser.github.com/spec/v1")
_LINE = re.compile(r"([a-z0-9.-]+) ([^\r\n]*)\n")
_OID = re.compile(r"sha256:([0-9a-f]{64})")
_SIZE = re.compile(r"[0-9]{1,18}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Pointer:
    """Stands for a file's bytes.

    sha256    64 lower-case hexadecimal digits
    size      bytes
    is_plain  no extension changed the bytes before they were kept
    """

    sha256: str
    size: int
    is_plain: bool


def parse_pointer(data: bytes) -> Pointer | None:
    """The pointer that a blob is, or None where it is anything else, such as the file itself."""
    if len(data) >= LARGEST_POINTER or not data.startswith(b"version "):
        return None
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError:
        return None
    lines = _LINE.findall(text)
    if "".join(f"{key} {value}\n" for key, value in lines) != text:
        return None
    keys = [key for key, _ in lines]
    fields = dict(lines)
    oid = _OID.fullmatch(fields.get("oid", ""))
    size = _SIZE.fullmatch(fields.get("size", ""))
    if fields["version"] not in _VERSIONS or keys[1:] != sorted(set(keys[1:])):
        return None
    if oid is None or size is None:
        return None
    is_plain = not any(key.startswith("ext-") for key in keys)
    return Pointer(sha256=oid[1], size=int(size[0]), is_plain=is_plain)


def object_path(storage: Path, pointer: Pointer) -> Path:
    """Where the file's bytes lie. storage  the repository's ``lfs/objects`` folder"""
    return storage / pointer.sha256[:2] / pointer.sha256[2:4] / pointer.sha256


def resolve_pointer(pointer: Pointer, *, storage: Path, path: str) -> bytes:
    """The bytes that a pointer stands for, size and hash checked.

    path  of the file, for the error

    Raises MeshReadError where they are not on this machine or not what the pointer says.
    """
    if not pointer.is_plain:
        raise _unreadable(path, "its large-file pointer needs an extension that is not run here")
    kept = object_path(storage, pointer)
    try:
        size = kept.stat().st_size
        data = kept.read_bytes() if size == pointer.size else b""
    except OSError as error:
        raise _unreadable(
            path,
            "only its large-file pointer is in git and the file itself "
            f"({pointer.size:,} bytes, sha256 {pointer.sha256[:12]}…) is not on this machine: "
            "run `git lfs fetch --all` and review again",
        ) from error
    if size != pointer.size:
        raise _unreadable(
            path, f"its large file has {size:,} bytes here, its pointer says {pointer.size:,}"
        )
    if hashlib.sha256(data).hexdigest() != pointer.sha256:
        raise _unreadable(path, "its large file on this machine is damaged: the hash differs")
    return data


def _unreadable(path: str, reason: str) -> MeshReadError:
    return MeshReadError(path=path, line=None, reason=reason)
