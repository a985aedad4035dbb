"""The pipeline of a digest: a period, its assets' ways, their reviews, pictures, one report."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from pathlib import Path

from reviewbot import __version__
from reviewbot.history.git import open_history
from reviewbot.history.landed import landed_commits
from reviewbot.readers.known import is_mesh_path
from reviewbot.report.progress import Progress
from reviewbot.report.progress_words import period_of, period_sentence, quiet_sentence
from reviewbot.report.report import Report
from reviewbot.report.verdict import gate_status, report_verdict
from reviewbot.runs import (
    Law,
    Options,
    Reviewed,
    is_included,
    repository_law,
    reviews_of,
)
from reviewbot.snapshot.period import Asked, Period, find_period
from reviewbot.snapshot.pictures import with_pictures
from reviewbot.snapshot.telling import progress_of
from reviewbot.snapshot.timeline import follow
from reviewbot.snapshot.trip import Told, jobs_of, told_from, trip_of
from reviewbot.waiting import with_progress


def take_snapshot(repository: Path, asked: Asked, options: Options, *, now: datetime) -> Reviewed:
    """The digest of a period, judged by the settings of its end. now  aware

    Raises UsageError where it cannot be made, RendererUnavailableError without a back end.
    """
    with open_history(repository) as history:
        period = find_period(history, asked, now=now)
        law = repository_law(history, period.end, options)

        def is_wanted(path: str) -> bool:
            return is_mesh_path(path) and is_included(path, law.settings)

        landed = landed_commits(history, period.start, period.end, is_wanted)
        trips = [trip_of(one, repository, period) for one in follow(history, period, landed)]
    measuring = replace(options, pictures="none")  # versions are measured; pictures come after
    jobs = [job for trip in trips for job in jobs_of(trip, law, measuring)]
    reviews = with_progress(reviews_of(jobs, options), len(jobs), options.show_progress)
    told = [told_from(trip, reviews) for trip in trips]
    report = _report(period, law, told, progress_of(period, landed, told))
    report, pictures = with_pictures(report, told, law, options)
    return Reviewed(report=report, pictures=pictures, status=gate_status(report))


def _report(period: Period, law: Law, told: Sequence[Told], progress: Progress) -> Report:
    assets = tuple(one.whole for one in told)
    return Report(
        tool=f"reviewbot {__version__}",
        title=period_of(progress),
        base=period.start,
        head=period.end,
        verdict=report_verdict(assets),
        summary=period_sentence(progress) if assets else quiet_sentence(progress),
        fail_on=law.settings.gate.fail_on,
        assets=assets,
        progress=progress,
    )
