"""Where one version of a file comes from: plain records, so that any process can get its bytes."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from reviewbot.errors import MeshReadError
from reviewbot.history.content import file_bytes, sibling_bytes
from reviewbot.history.git import open_history

Siblings = Callable[[str], bytes | None]


@dataclass(frozen=True, slots=True, kw_only=True)
class DiskSource:
    """A file as it stands on the disk.

    path  for reading, as the user named it
    file  the file itself; what it refers to is looked for below its own folder only
    """

    path: str
    file: Path


@dataclass(frozen=True, slots=True, kw_only=True)
class GitSource:
    """A file at a commit.

    path      for reading
    raw_path  as git keeps it
    """

    path: str
    repository: Path
    commit: str
    raw_path: bytes
    blob: str


Source = DiskSource | GitSource


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenedFile:
    """A file's bytes, and a way to files it refers to by a relative name; None where none is."""

    data: bytes
    siblings: Siblings


@contextmanager
def opened(source: Source) -> Iterator[OpenedFile]:
    """The file, for as long as it is read.

    Raises MeshReadError where the bytes cannot be had.
    """
    if isinstance(source, DiskSource):
        yield OpenedFile(data=_disk_bytes(source), siblings=_beside(source))
        return
    with open_history(source.repository) as history:
        folder = source.raw_path.rpartition(b"/")[0]

        def sibling(name: str) -> bytes | None:
            inside = relative_inside(name)
            if inside is None:
                return None
            whole = os.fsencode(inside)
            return sibling_bytes(history, source.commit, b"/".join(filter(None, [folder, whole])))

        data = file_bytes(history, source.blob, path=source.path)
        yield OpenedFile(data=data, siblings=sibling)


def relative_inside(name: str) -> str | None:
    """A reference made plain, or None where it leads anywhere but downwards from its own folder."""
    plain = name.strip().replace("\\", "/")
    path = PurePosixPath(plain)
    leads_out = path.is_absolute() or ".." in path.parts or ":" in plain or "\0" in plain
    return None if leads_out or not path.parts else str(path)


def _disk_bytes(source: DiskSource) -> bytes:
    try:
        return source.file.read_bytes()
    except OSError as error:
        raise MeshReadError(
            path=source.path, line=None, reason=f"the file cannot be opened: {error.strerror}"
        ) from error


def _beside(source: DiskSource) -> Siblings:
    folder = source.file.resolve().parent

    def sibling(name: str) -> bytes | None:
        inside = relative_inside(name)
        if inside is None:
            return None
        found = (folder / inside).resolve()
        if not found.is_relative_to(folder) or not found.is_file():
            return None
        return found.read_bytes()

    return sibling
