"""What is reviewed of one asset: each version against the one before it, and start against end."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from reviewbot.history.paths import visible_text
from reviewbot.history.sources import GitSource
from reviewbot.jobs import AssetJob, AssetReview
from reviewbot.report.report import AssetEntry
from reviewbot.runs import Law, Options, asset_job
from reviewbot.snapshot.period import Period
from reviewbot.snapshot.timeline import Here, Timeline

BACK_AGAIN = "Changed, and put back as it was."
ELSEWHERE = "Lies elsewhere now, and is the same."
CAME_AND_WENT = "Added, and removed again."


@dataclass(frozen=True, slots=True, kw_only=True)
class Trip:
    """An asset's way, with where each version is to be had.

    versions  one a version of the timeline; None: removed
    """

    timeline: Timeline
    start: GitSource | None
    end: GitSource | None
    versions: tuple[GitSource | None, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """One asset, reviewed.

    steps  each version against the one before it, in order; None for a removed one
    whole  the start against the end
    """

    trip: Trip
    steps: tuple[AssetEntry | None, ...]
    whole: AssetEntry


def trip_of(timeline: Timeline, repository: Path, period: Period) -> Trip:
    """Where an asset's versions are to be had."""

    def source(commit: str, raw_path: bytes, blob: str) -> GitSource:
        return GitSource(
            path=visible_text(raw_path),
            repository=repository,
            commit=commit,
            raw_path=raw_path,
            blob=blob,
        )

    def here(commit: str | None, file: Here | None) -> GitSource | None:
        if commit is None or file is None:
            return None
        return source(commit, file.raw_path, file.blob)

    return Trip(
        timeline=timeline,
        start=here(period.start, timeline.start),
        end=here(period.end, timeline.end),
        versions=tuple(
            None if one.blob is None else source(one.commit.commit_id, one.raw_path, one.blob)
            for one in timeline.versions
        ),
    )


def jobs_of(trip: Trip, law: Law, options: Options) -> list[AssetJob]:
    """A job a version that is there, then, unless one of them is the same, start against end."""
    jobs = []
    before = trip.start
    for after in trip.versions:
        if after is not None:
            jobs.append(asset_job(after.path, before, after, law, options))
            before = after
    if _has_whole(trip):
        path = trip.timeline.path
        jobs.append(asset_job(path, trip.start, trip.end, law, options))
    return jobs


def told_from(trip: Trip, reviews: Iterator[AssetReview]) -> Told:
    """What came of an asset's jobs; takes as many reviews as it had jobs."""
    steps = [None if one is None else next(reviews).entry for one in trip.versions]
    if _has_whole(trip):
        whole = next(reviews).entry
    else:
        there = [entry for entry in steps if entry is not None]
        whole = there[-1] if trip.end is not None else _came_and_went(trip, there)
    if trip.start is not None and trip.end is not None and whole.state == "same":
        if trip.start.path != trip.end.path:
            whole = whole.model_copy(update={"summary": ELSEWHERE})
        elif trip.start.blob == trip.end.blob:
            whole = whole.model_copy(update={"summary": BACK_AGAIN})
    return Told(trip=trip, steps=tuple(steps), whole=whole)


def _has_whole(trip: Trip) -> bool:
    """Whether start against end is not one of the steps already."""
    if trip.start is None and trip.end is None:
        return False
    return trip.end is None or len(trip.versions) > 1 or trip.versions[0] is None


def _came_and_went(trip: Trip, steps: list[AssetEntry]) -> AssetEntry:
    return AssetEntry(
        path=trip.timeline.path,
        before_path=None,
        state="removed",
        verdict="pass",
        summary=CAME_AND_WENT if steps else "Removed.",
    )
