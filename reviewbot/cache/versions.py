"""Versions as they were measured, found again by what they were made of.

So the version before is measured once, whichever commits, branches and runs it is met in.
"""

from __future__ import annotations

from reviewbot.cache.disk import Cache
from reviewbot.cache.keys import version_key
from reviewbot.cache.questions import asked_before, note_asked
from reviewbot.cache.reading import Reading, read_again, reading_of
from reviewbot.cache.records import Packer, UnknownFormError, Unpacker
from reviewbot.history.sources import OpenedFile, Source
from reviewbot.jobs import AssetJob
from reviewbot.measure.examine import Examination

_MOST_BYTES = 64 << 20  # of one version: larger ones would push out too many others


class KeptVersions:
    """The measured versions in a cache."""

    def __init__(self, cache: Cache) -> None:
        self._cache = cache

    def find(self, job: AssetJob, source: Source, file: OpenedFile) -> Examination | None:
        """What was measured of such a version, if it was kept."""
        request = version_key(job, reading_of(source, file))
        for (questions,) in asked_before(self._cache, request, versions=1):
            key = version_key(job, read_again(source, file, questions))
            kept = self._cache.get(key)
            if kept is None:
                continue
            table, blobs = kept
            try:
                return Unpacker(blobs).unpack(table.get("version"), Examination)
            except UnknownFormError:
                self._cache.drop(key, "is not understood")
        return None

    def keep(self, job: AssetJob, reading: Reading, examination: Examination) -> None:
        """Keep what was measured of a version, by what was read of it."""
        packer = Packer()
        table = {"version": packer.pack(examination, Examination)}
        if sum(map(len, packer.blobs)) > _MOST_BYTES:
            return
        self._cache.put(version_key(job, reading), table, packer.blobs)
        plain = Reading(path=reading.path, place=reading.place, digest=reading.digest)
        note_asked(self._cache, version_key(job, plain), (tuple(sorted(reading.answers)),))
