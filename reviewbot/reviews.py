"""Reviews of many assets: found where they were kept, made where they were not."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import AbstractContextManager
from pathlib import PurePath

from reviewbot.cache.disk import Cache
from reviewbot.cache.reviews import find_review, keep_review
from reviewbot.errors import MeshReadError
from reviewbot.history.sources import Histories, Source
from reviewbot.jobs import AssetJob, AssetReview
from reviewbot.making import Made
from reviewbot.spread import Crew, Task, results

Make = Callable[[AssetJob], Made]
# What a review takes, as measured: a process with its libraries and views, and for each megabyte
# of both versions what becomes of it in memory. A binary form holds more in a megabyte.
_BARE_MB = 450.0
_MB_EACH = 14.0
_MB_EACH_BINARY = 45.0
_BINARY = frozenset({".fbx", ".glb", ".usd", ".usdc", ".usdz", ".stl", ".ply"})
_MEGABYTE = 1 << 20


def kept_or_made(
    jobs: Sequence[AssetJob],
    *,
    cache: Cache | None,
    make: Make,
    hire: Callable[[], AbstractContextManager[Crew[AssetJob, Made]]],
) -> Iterator[AssetReview]:
    """Reviews in the order of their jobs; looked for here, made by the crew."""
    with Histories() as histories:
        tasks = (_task(job, cache, histories, is_alone=len(jobs) == 1) for job in jobs)
        for job, made in zip(jobs, results(make, tasks, hire), strict=True):
            if cache is not None and not made.is_kept:
                keep_review(cache, job, made.review, before=made.before, after=made.after)
            if cache is not None:
                cache.repeat(made.said)
            yield made.review


def _task(
    job: AssetJob, cache: Cache | None, histories: Histories, *, is_alone: bool
) -> Task[AssetJob, Made]:
    review = None if cache is None else find_review(cache, job, histories.opened)
    if review is not None:
        return Task(job=job, done=Made(review=review, is_kept=True))
    return Task(job=job, mb=0.0 if is_alone else memory_of(job, histories))


def memory_of(job: AssetJob, histories: Histories) -> float:
    """Megabytes that a job is likely to take, by the sizes of its files."""
    return _BARE_MB + sum(
        _weight(source, histories) for source in (job.before, job.after) if source is not None
    )


def _weight(source: Source, histories: Histories) -> float:
    try:
        with histories.opened(source) as file:
            size = len(file.data) / _MEGABYTE
    except MeshReadError:
        return 0.0
    is_binary = PurePath(source.path).suffix.lower() in _BINARY
    return size * (_MB_EACH_BINARY if is_binary else _MB_EACH)
