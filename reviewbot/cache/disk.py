"""A folder of entries, one file a key. Several processes may use it at once.

What cannot be kept is only said, once a process: a review never fails for the sake of its cache.
"""

from __future__ import annotations

import hashlib
import os
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

from reviewbot.cache.entry import BadEntryError, Table, packed, unpacked

DEFAULT_MB = 2048
FOLDER_MARK = "reviewbot-cache.txt"
_SUFFIX, _UNFINISHED = ".kept", ".part"
_MEGABYTE = 1 << 20
_TRIM_EVERY = 64 << 20  # bytes written by one process between two looks at the whole folder
_ROOM_LEFT = 0.9  # of the limit, after a trim: so that the next write does not call for another
_ABANDONED = 3600.0  # seconds after which an unfinished file belongs to nobody any more
_FRESH = 3600.0  # an entry used within this many seconds is not marked as used again

Say = Callable[[str], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where a cache lies and how large it may grow; plain, for other processes."""

    folder: Path
    most_mb: int = DEFAULT_MB


@dataclass(frozen=True, slots=True, kw_only=True)
class Contents:
    """What a cache holds. size  in bytes; oldest  seconds since 1970 of the last use, or None"""

    entries: int
    size: int
    oldest: float | None


@dataclass(slots=True, kw_only=True)
class Cache:
    """One process's hold on a cache. say  takes one line for a person"""

    place: Place
    say: Say
    _said: set[str] = field(default_factory=set)
    _written: int = 0
    _is_off: bool = False

    def get(self, key: str) -> tuple[Table, list[bytes]] | None:
        """What is kept under a key, None where nothing is; a bad entry is thrown away and said."""
        file = _file(self.place.folder, key)
        try:
            data = file.read_bytes()
        except OSError:
            return None
        try:
            found = unpacked(key, data)
        except BadEntryError as error:
            self.drop(key, str(error))
            return None
        _mark_used(file)
        return found

    def drop(self, key: str, reason: str) -> None:
        """Throw an entry away and say why."""
        with suppress(OSError):
            _file(self.place.folder, key).unlink(missing_ok=True)
        self._say_once(
            f"an entry of the cache in {self.place.folder} {reason}: it was thrown away, and any "
            "other like it will be"
        )

    def put(self, key: str, table: Table, blobs: Sequence[bytes] = ()) -> None:
        """Keep something; where that fails, nothing more is kept by this process."""
        if self._is_off:
            return
        data = packed(key, table, blobs)
        try:
            _make(self.place.folder)
            _write_whole(_file(self.place.folder, key), data)
        except OSError as error:
            self._is_off = True
            self._say_once(f"nothing is kept in {self.place.folder}: {error.strerror or error}")
            return
        self._written += len(data)
        if self._written >= min(_TRIM_EVERY, self.place.most_mb * _MEGABYTE // 8):
            self._written = 0
            trim(self.place.folder, self.place.most_mb * _MEGABYTE)

    def repeat(self, lines: Sequence[str]) -> None:
        """Say what another process has to say of the same cache, unless it was said already."""
        for line in lines:
            self._say_once(line)

    def _say_once(self, line: str) -> None:
        if line not in self._said:
            self._said.add(line)
            self.say(line)


def contents(folder: Path) -> Contents:
    """What a cache's folder holds; nothing where there is none."""
    found = list(_entries(folder))
    return Contents(
        entries=len(found),
        size=sum(size for _, size, _ in found),
        oldest=min((used for used, _, _ in found), default=None),
    )


def trim(folder: Path, most_bytes: int) -> Contents:
    """Take out what was not used for longest until the rest fits; what was taken out.

    Where more than `most_bytes` lie there, a tenth of them is made free too. Unfinished files of
    processes that are gone are removed. Files that are none of a cache's are left alone.
    """
    found = sorted(_entries(folder))
    size, out = sum(one for _, one, _ in found), []
    if size > most_bytes:
        for entry in found:
            if size <= most_bytes * _ROOM_LEFT:
                break
            with suppress(OSError):
                entry[2].unlink()
            size -= entry[1]
            out.append(entry)
    _sweep(folder)
    return Contents(
        entries=len(out),
        size=sum(one for _, one, _ in out),
        oldest=out[0][0] if out else None,
    )


def _entries(folder: Path) -> Iterator[tuple[float, int, Path]]:
    """Last use, size and file of every entry; one that goes away meanwhile is left out."""
    for file in folder.glob(f"??/*{_SUFFIX}"):
        with suppress(OSError):
            status = file.stat()
            yield status.st_mtime, status.st_size, file


def _sweep(folder: Path) -> None:
    limit = time.time() - _ABANDONED
    for file in folder.glob(f"??/*{_UNFINISHED}"):
        with suppress(OSError):
            if file.stat().st_mtime < limit:
                file.unlink()


def _file(folder: Path, key: str) -> Path:
    name = hashlib.sha256(key.encode()).hexdigest()
    return folder / name[:2] / f"{name[2:]}{_SUFFIX}"


def _make(folder: Path) -> None:
    """The folder, readable by its owner only, with a word on what it is."""
    if folder.is_dir():
        return
    folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    (folder / FOLDER_MARK).write_text("Kept by reviewbot; may be deleted at any time.\n")


def _mark_used(file: Path) -> None:
    """By its time of change: times of access are not kept on many disks."""
    with suppress(OSError):
        if time.time() - file.stat().st_mtime > _FRESH:
            os.utime(file)


def _write_whole(file: Path, data: bytes) -> None:
    """All of it or nothing, whoever else writes the same at the same time."""
    file.parent.mkdir(exist_ok=True)
    handle, unfinished = tempfile.mkstemp(dir=file.parent, suffix=_UNFINISHED)
    try:
        with os.fdopen(handle, "wb") as out:
            out.write(data)
        Path(unfinished).replace(file)
    except BaseException:
        Path(unfinished).unlink(missing_ok=True)
        raise
