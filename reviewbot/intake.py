"""Both versions of an asset, opened and read side by side, each in a process of its own.

Needs nothing of what measures and draws: versions are being read while those libraries load.
"""

from __future__ import annotations

import atexit
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import cache
from pathlib import PurePosixPath
from typing import Literal, get_args

from reviewbot.cache.disk import Cache
from reviewbot.cache.reading import Notebook
from reviewbot.cache.versions import KeptVersion, find_version
from reviewbot.errors import MeshReadError
from reviewbot.history.sources import OpenedFile, Source
from reviewbot.jobs import AssetJob
from reviewbot.measure.names import Partner, partner_file
from reviewbot.mesh import Model
from reviewbot.readers.isolation import IsolatedReader
from reviewbot.readers.textures import Textures, textures_of
from reviewbot.settings import NameSettings

Side = Literal["before", "after"]
SIDES: tuple[Side, ...] = get_args(Side)


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadVersion:
    """A version read whole, with what its measuring needs beside it."""

    source: Source
    model: Model
    textures: Textures
    partner: Partner | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """What came of taking in one version.

    what        None where there is no such version
    is_lasting  the same files would give the same again: no reader ran out of time or memory, or
                was ended
    """

    what: ReadVersion | KeptVersion | MeshReadError | None
    is_lasting: bool = True


class Intake:
    """Takes in both versions of a job from the moment it is made; to be closed.

    notes  opens the versions and writes down what is read of them
    kept   where measured versions are kept; None to read all anew
    """

    def __init__(self, job: AssetJob, notes: Notebook, kept: Cache | None) -> None:
        self.job, self.notes, self.kept = job, notes, kept
        self._pool = ThreadPoolExecutor(2)
        self._begun = {
            side: self._pool.submit(_taken, source, side, job=job, notes=notes, kept=kept)
            for side, source in _sources(job).items()
        }

    def close(self) -> None:
        """Wait for what runs, drop what does not."""
        self._pool.shutdown(cancel_futures=True)

    def taken(self, side: Side) -> Taken:
        """What came of one side, as soon as it is there."""
        return self._begun[side].result()

    def read_after_all(self, side: Side) -> Taken:
        """A version read anew: what was kept of it turned out to be of no use."""
        source = _sources(self.job)[side]
        self._begun[side] = self._pool.submit(
            _taken, source, side, job=self.job, notes=self.notes, kept=None
        )
        return self.taken(side)

    @property
    def is_lasting(self) -> bool:
        """Whether both versions would come to the same again."""
        return all(begun.result().is_lasting for begun in self._begun.values())


def _sources(job: AssetJob) -> dict[Side, Source | None]:
    return {"before": job.before, "after": job.after}


def _taken(
    source: Source | None, side: Side, *, job: AssetJob, notes: Notebook, kept: Cache | None
) -> Taken:
    if source is None:
        return Taken(what=None)
    limits = job.settings.files
    reader = _reader(side, limits.memory_mb, limits.seconds)
    unanswered = reader.unanswered
    try:
        with notes.opened(source) as file:
            found = None if kept is None else find_version(kept, job, source, file)
            what = found or _read(source, file, reader, job)
    except MeshReadError as error:
        return Taken(what=error, is_lasting=reader.unanswered == unanswered)
    return Taken(what=what, is_lasting=reader.unanswered == unanswered)


def _read(source: Source, file: OpenedFile, reader: IsolatedReader, job: AssetJob) -> ReadVersion:
    """All that belongs to a version. Raises MeshReadError."""
    model = reader.read(file.data, path=source.path, siblings=file.siblings)
    textures = textures_of(
        model,
        file.pictures,
        place=file.place,
        decode=reader.picture if job.pictures == "all" else None,
    )
    partner = _partner(source.path, file, reader, job.settings.names)
    return ReadVersion(source=source, model=model, textures=textures, partner=partner)


@cache
def _reader(side: Side, memory_mb: int, seconds: float) -> IsolatedReader:  # noqa: ARG001
    """One for each side, told apart by the cache alone, and kept: a child is slow to start."""
    reader = IsolatedReader(memory_mb=memory_mb, seconds=seconds)
    atexit.register(reader.close)
    return reader


def _partner(
    path: str, file: OpenedFile, reader: IsolatedReader, names: NameSettings
) -> Partner | None:
    """The file beside this one that holds the other kind of parts; None where none can be read.

    What is wrong with it is said where that file itself is reviewed.
    """
    found = partner_file(path, names)
    if found is None:
        return None
    other, kind = found
    data = file.siblings(PurePosixPath(other).name)
    if data is None:
        return None
    try:
        model = reader.read(data, path=other, siblings=file.siblings)
    except MeshReadError:
        return None
    return Partner(model=model, kind=kind)
