"""Which files changed between two commits, read from git's raw list of changes."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Literal

from reviewbot.history.paths import visible_text

Status = Literal["added", "removed", "changed", "renamed"]
FILE_MODES = (b"100644", b"100755", b"100664")  # the last one from very old versions of git


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangedFile:
    """One file that differs between two commits.

    path, before_path  for reading; control characters and foreign bytes shown as escapes
    raw_path, before_raw_path  as git keeps them
    status             "renamed" with edits or without: the blobs then differ or are the same
    before_blob, after_blob    object ids

    A removed file keeps its path in `path`. Before is None for an added file, after_blob for a
    removed one.
    """

    path: str
    raw_path: bytes
    before_path: str | None
    before_raw_path: bytes | None
    status: Status
    before_blob: str | None
    after_blob: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeSet:
    """What changed from one commit to another.

    base_commit  full id, or None where `head_commit` is the first commit
    files        in the order of their raw paths
    """

    base_commit: str | None
    head_commit: str
    files: tuple[ChangedFile, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Side:
    """A file before or after: nothing where there is no regular file, or an unwanted one."""

    raw_path: bytes
    blob: str


def parse_raw_changes(raw: bytes, is_wanted: Callable[[str], bool]) -> tuple[ChangedFile, ...]:
    """Changed regular files out of what ``git diff-tree -r -z --raw --no-abbrev -M`` prints.

    is_wanted  asked with the visible path of each side

    A link or submodule counts as no file, and so does an unwanted path: a wanted file renamed to
    an unwanted one is removed. A change of mode alone is none.
    """
    found = [
        changed
        for before, after in _sides(raw)
        if (changed := _changed_file(_wanted(before, is_wanted), _wanted(after, is_wanted)))
    ]
    return tuple(sorted(found, key=lambda changed: changed.raw_path))


def _sides(raw: bytes) -> Iterator[tuple[_Side | None, _Side | None]]:
    fields = iter(raw.split(b"\0"))
    for head in fields:
        if not head:
            continue
        before_mode, after_mode, before_blob, after_blob, status = head.lstrip(b":").split(b" ")
        before_path = after_path = next(fields)
        if status[:1] in b"RC":
            after_path = next(fields)
        yield (
            _side(before_mode, before_path, before_blob),
            _side(after_mode, after_path, after_blob),
        )


def _side(mode: bytes, raw_path: bytes, blob: bytes) -> _Side | None:
    return _Side(raw_path=raw_path, blob=blob.decode("ascii")) if mode in FILE_MODES else None


def _wanted(side: _Side | None, is_wanted: Callable[[str], bool]) -> _Side | None:
    return side if side is not None and is_wanted(visible_text(side.raw_path)) else None


def _changed_file(before: _Side | None, after: _Side | None) -> ChangedFile | None:
    here = after or before
    if here is None or before == after:
        return None
    return ChangedFile(
        path=visible_text(here.raw_path),
        raw_path=here.raw_path,
        before_path=None if before is None else visible_text(before.raw_path),
        before_raw_path=None if before is None else before.raw_path,
        status=_status(before, after),
        before_blob=None if before is None else before.blob,
        after_blob=None if after is None else after.blob,
    )


def _status(before: _Side | None, after: _Side | None) -> Status:
    if before is None:
        return "added"
    if after is None:
        return "removed"
    return "changed" if before.raw_path == after.raw_path else "renamed"
