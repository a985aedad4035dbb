"""A file's own bytes, wherever git keeps them."""

from __future__ import annotations

from pathlib import Path

from reviewbot.errors import MeshReadError, RemoteError
from reviewbot.history.git import History, blob_bytes, file_at
from reviewbot.history.large_files import bring_object, trusted_server
from reviewbot.history.paths import visible_text
from reviewbot.history.pointers import Pointer, object_path, parse_pointer, resolve_pointer


def large_file_storage(history: History) -> Path:
    """The folder of the repository's large files; it need not exist."""
    return history.git_folder / "lfs" / "objects"


def file_bytes(history: History, blob_id: str, *, path: str) -> bytes:
    """A blob's bytes, or those of the large file that it points to.

    path  of the file, for the error

    A large file that is not on this machine is brought from the trusted server, if one is named.
    Raises MeshReadError where it cannot be had or is not what its pointer says, RevisionError where
    the clone lacks the blob.
    """
    return _pointed_to(history, blob_bytes(history, blob_id), path)


def sibling_bytes(history: History, commit_id: str, raw_path: bytes) -> bytes | None:
    """What `file_at` finds, large files resolved. Raises MeshReadError as `file_bytes` does."""
    data = file_at(history, commit_id, raw_path)
    return None if data is None else _pointed_to(history, data, visible_text(raw_path))


def _pointed_to(history: History, data: bytes, path: str) -> bytes:
    pointer = parse_pointer(data)
    if pointer is None:
        return data
    storage = large_file_storage(history)
    _bring_if_missing(pointer, storage, path)
    return resolve_pointer(pointer, storage=storage, path=path)


def _bring_if_missing(pointer: Pointer, storage: Path, path: str) -> None:
    server = trusted_server()
    if server is None or not pointer.is_plain or object_path(storage, pointer).exists():
        return
    try:
        bring_object(pointer, storage=storage, server=server)
    except RemoteError as error:
        raise MeshReadError(
            path=path,
            line=None,
            reason=f"its large file cannot be brought from {server.url}: {error}",
        ) from error
