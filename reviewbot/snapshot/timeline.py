"""Each asset's way through the commits of a period, told from what each commit changed.

An asset keeps its identity through renames, through a removal and a return under the same path,
and through branches that are merged. A file that takes the path which another one left is another
asset.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Literal

from reviewbot.history.changes import ChangedFile
from reviewbot.history.commits import Commit
from reviewbot.history.git import History, blob_at
from reviewbot.history.landed import LandedCommit
from reviewbot.history.paths import visible_text
from reviewbot.snapshot.period import Period

VersionState = Literal["added", "changed", "renamed", "removed", "merged"]


@dataclass(frozen=True, slots=True, kw_only=True)
class FileVersion:
    """What one commit made of an asset.

    place  of the commit among the landed ones, from 0
    state  "merged" where a merge made a version that no commit before it had
    blob   None: removed
    """

    place: int
    commit: Commit
    state: VersionState
    raw_path: bytes
    blob: str | None

    @property
    def path(self) -> str:
        return visible_text(self.raw_path)


@dataclass(frozen=True, slots=True, kw_only=True)
class Here:
    """Where a file lies at one commit, and its object id."""

    raw_path: bytes
    blob: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Timeline:
    """One asset's way through a period.

    start, end  None where it was not there
    versions    in the order they were made; at least one
    """

    start: Here | None
    end: Here | None
    versions: tuple[FileVersion, ...]

    @property
    def path(self) -> str:
        """The newest one."""
        return visible_text(self.end.raw_path) if self.end else self.versions[-1].path


@dataclass(slots=True, kw_only=True)
class _Track:
    """An asset while its way is followed."""

    paths: list[bytes] = field(default_factory=list)
    versions: list[FileVersion] = field(default_factory=list)

    def state(self) -> tuple[bytes, str | None] | None:
        """Path and blob as last seen; None before anything is known."""
        return (self.versions[-1].raw_path, self.versions[-1].blob) if self.versions else None


@dataclass(slots=True, kw_only=True)
class _Follower:
    tracks: list[_Track] = field(default_factory=list)
    owner: dict[bytes, _Track] = field(default_factory=dict)

    def take(self, place: int, landed: LandedCommit) -> None:
        for changed, is_in_all in _touched(landed):
            track = self._track_of(changed)
            if track is not None and changed.status == "removed" and _has_left(track, changed):
                continue  # gone from there, but only because it lies elsewhere
            if track is None:
                if landed.is_merge and not is_in_all:
                    continue  # the other side of the merge has it as it was: nothing was made
                track = _Track()
                self.tracks.append(track)
            if track.state() == (changed.raw_path, changed.after_blob):
                continue
            self._own(track, changed)
            track.versions.append(_version(place, landed, changed))

    def _track_of(self, changed: ChangedFile) -> _Track | None:
        known = self.owner.get(changed.before_raw_path or changed.raw_path)
        if known is not None and changed.status == "added" and _has_left(known, changed):
            return None
        return known

    def _own(self, track: _Track, changed: ChangedFile) -> None:
        for path in (changed.before_raw_path, changed.raw_path):
            if path is not None:
                if path in track.paths:
                    track.paths.remove(path)
                track.paths.append(path)
                self.owner[path] = track


def _has_left(track: _Track, changed: ChangedFile) -> bool:
    return track.paths[-1] != changed.raw_path


def follow(
    history: History, period: Period, landed: Sequence[LandedCommit]
) -> tuple[Timeline, ...]:
    """Every asset that some landed commit touched, in the order of their newest paths."""
    follower = _Follower()
    for place, one in enumerate(landed):
        follower.take(place, one)
    first_claims: set[bytes] = set()
    found = []
    for track in follower.tracks:
        start = None
        if period.start is not None:
            start = _here(history, period.start, track.paths, first_claims)
        owned = [path for path in reversed(track.paths) if follower.owner[path] is track]
        end = _here(history, period.end, owned, set())
        found.append(Timeline(start=start, end=end, versions=tuple(track.versions)))
    return tuple(sorted(found, key=lambda one: one.path))


def _touched(landed: LandedCommit) -> Iterator[tuple[ChangedFile, bool]]:
    """Files that differ from some parent, once each, and whether from all of them.

    A rename counts for a path before a plain change does: it says more.
    """
    found: dict[bytes, list[ChangedFile]] = {}
    for changes in landed.changes:
        for changed in changes:
            found.setdefault(changed.raw_path, []).append(changed)
    for some in found.values():
        told = min(some, key=lambda changed: changed.status != "renamed")
        yield told, len(some) == len(landed.changes)


def _version(place: int, landed: LandedCommit, changed: ChangedFile) -> FileVersion:
    state: VersionState = changed.status
    if landed.is_merge and state != "removed":
        state = "merged"
    return FileVersion(
        place=place,
        commit=landed.commit,
        state=state,
        raw_path=changed.raw_path,
        blob=changed.after_blob,
    )


def _here(
    history: History, commit: str, paths: Sequence[bytes], claimed: set[bytes]
) -> Here | None:
    """The first of these paths at which a commit has a file that is nobody else's."""
    for path in paths:
        if path in claimed:
            continue
        blob = blob_at(history, commit, path)
        if blob is not None:
            claimed.add(path)
            return Here(raw_path=path, blob=blob)
    return None
