"""Where one version of a file comes from: plain records, so that any process can get its bytes."""

from __future__ import annotations

import hashlib
import os
import posixpath
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass
from functools import cache
from pathlib import Path, PurePosixPath
from threading import Lock
from types import TracebackType
from typing import Self

from reviewbot.errors import MeshReadError
from reviewbot.history.content import file_bytes, sibling_bytes
from reviewbot.history.git import History, open_history

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
    """A file's bytes, and ways to files it refers to by a relative name; None where none is.

    digest    SHA-256 of the bytes, in hexadecimal; worked out once, when it is first asked for
    siblings  below the file's own folder only
    pictures  anywhere in the same repository, upwards too; for what is shown and never followed.
              Raises MeshReadError where there is something that cannot be had
    place     where pictures are looked for, in words: "in the repository at this commit"
    """

    data: bytes
    digest: Callable[[], str]
    siblings: Siblings
    pictures: Siblings
    place: str


def digest_later(data: bytes) -> Callable[[], str]:
    """See `OpenedFile.digest`; may be asked by any thread."""
    return cache(lambda: hashlib.sha256(data).hexdigest())


Opener = Callable[[Source], AbstractContextManager[OpenedFile]]
"""How a source is opened for as long as it is read; raises MeshReadError as `opened` does."""


class Histories:
    """Repositories, each opened once and kept open for as long as a `with` block lasts.

    For many files of the same repositories; may be shared between threads.
    """

    def __init__(self) -> None:
        self._open: dict[Path, History] = {}
        self._lock = Lock()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def close(self) -> None:
        """Close them all."""
        while self._open:
            self._open.popitem()[1].objects.close()

    @contextmanager
    def opened(self, source: Source) -> Iterator[OpenedFile]:
        """As the function `opened`."""
        if isinstance(source, GitSource):
            with self._lock:
                if source.repository not in self._open:
                    self._open[source.repository] = open_history(source.repository)
            yield _at_commit(source, self._open[source.repository])
        else:
            with opened(source) as file:
                yield file


@contextmanager
def opened(source: Source) -> Iterator[OpenedFile]:
    """The file, for as long as it is read.

    Raises MeshReadError where the bytes cannot be had.
    """
    if isinstance(source, DiskSource):
        data = _disk_bytes(source)
        yield OpenedFile(
            data=data,
            digest=digest_later(data),
            siblings=_beside(source),
            pictures=_in_work_tree(source),
            place="on this disk",
        )
        return
    with open_history(source.repository) as history:
        yield _at_commit(source, history)


def _at_commit(source: GitSource, history: History) -> OpenedFile:
    folder = source.raw_path.rpartition(b"/")[0]

    def at_commit(path: str) -> bytes | None:
        joined = posixpath.normpath(b"/".join(filter(None, [folder, os.fsencode(path)])))
        return sibling_bytes(history, source.commit, joined)

    def sibling(name: str) -> bytes | None:
        inside = relative_inside(name)
        return None if inside is None else at_commit(inside)

    data = file_bytes(history, source.blob, path=source.path)
    return OpenedFile(
        data=data,
        digest=digest_later(data),
        siblings=sibling,
        pictures=at_commit,
        place="in the repository at this commit",
    )


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
        return _bytes_of(found, source) if found.is_relative_to(folder) else None

    return sibling


def _bytes_of(found: Path, source: DiskSource) -> bytes | None:
    """What a file beside the source's holds, None where none is, or none could be named so."""
    try:
        return found.read_bytes() if found.is_file() else None
    except PermissionError as error:
        reason = f"cannot be opened: {error.strerror}"
        raise MeshReadError(path=source.path, line=None, reason=reason) from error
    except OSError:  # a name that is too long, a broken disk
        return None


def _in_work_tree(source: DiskSource) -> Siblings:
    """Within the working tree the file is part of; without one, below the file's own folder."""
    folder = source.file.resolve().parent
    tops = (top for top in (folder, *folder.parents) if (top / ".git").exists())
    top = next(tops, folder)

    def picture(name: str) -> bytes | None:
        found = (folder / name).resolve()
        inner = found.relative_to(top).parts if found.is_relative_to(top) else (".git",)
        if ".git" in inner:
            reason = "leads out of the folder that is looked at, and is not opened"
            raise MeshReadError(path=source.path, line=None, reason=reason)
        return _bytes_of(found, source)

    return picture
