"""Versions as they were measured, found again by what they were made of.

So the version before is measured once, whichever commits, branches and runs it is met in.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, TypeVar

from reviewbot.cache.disk import Cache
from reviewbot.cache.keys import version_key
from reviewbot.cache.questions import asked_before, note_asked
from reviewbot.cache.reading import Reading, asked_again, reading_of
from reviewbot.cache.records import Packer, UnknownFormError, Unpacker
from reviewbot.history.sources import OpenedFile, Source
from reviewbot.jobs import AssetJob

T = TypeVar("T")
_MOST_BYTES = 64 << 20  # of one version: larger ones would push out too many others


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptVersion:
    """A measured version as it lies in a cache, not yet unpacked."""

    cache: Cache
    key: str
    packed: Any
    blobs: list[bytes]


def find_version(
    cache: Cache, job: AssetJob, source: Source, file: OpenedFile
) -> KeptVersion | None:
    """What was measured of such a version, if it was kept."""
    reading = reading_of(source, file)
    request = version_key(job, reading)
    for (questions,) in asked_before(cache, request, versions=1):
        key = version_key(job, asked_again(reading, file, questions))
        kept = cache.get(key)
        if kept is not None:
            table, blobs = kept
            packed = table.get("version")
            return KeptVersion(cache=cache, key=key, packed=packed, blobs=blobs)
    return None


def unpacked(kept: KeptVersion, form: type[T]) -> T | None:
    """What was measured; None, and it is thrown away, where it is no such record."""
    try:
        return Unpacker(kept.blobs).unpack(kept.packed, form)
    except UnknownFormError:
        kept.cache.drop(kept.key, "is not understood")
        return None


def keep_version(cache: Cache, job: AssetJob, reading: Reading, measured: T, form: type[T]) -> None:
    """Keep what was measured of a version, by what was read of it."""
    packer = Packer()
    table = {"version": packer.pack(measured, form)}
    if sum(map(len, packer.blobs)) > _MOST_BYTES:
        return
    cache.put(version_key(job, reading), table, packer.blobs)
    plain = Reading(path=reading.path, place=reading.place, digest=reading.digest)
    note_asked(cache, version_key(job, plain), (tuple(sorted(reading.answers)),))
