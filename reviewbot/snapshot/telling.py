"""What is told of a period: its versions, its findings with their time, its people."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import TypedDict

from reviewbot.history.commits import Commit
from reviewbot.history.landed import LandedCommit
from reviewbot.report.progress import (
    AssetProgress,
    Fate,
    PersonEntry,
    Progress,
    TrackedEntry,
    VersionEntry,
)
from reviewbot.report.record import Measures
from reviewbot.report.report import AssetEntry, FindingEntry, PartEntry
from reviewbot.report.verdict import standing_now
from reviewbot.snapshot.ages import Step, Tracked, track_findings
from reviewbot.snapshot.period import Period
from reviewbot.snapshot.timeline import FileVersion
from reviewbot.snapshot.trip import Told

AT_THE_START = "As the period began"


def progress_of(period: Period, landed: Sequence[LandedCommit], told: Sequence[Told]) -> Progress:
    """Everything that is told of a period beside the report of its start against its end."""
    since, until = (moment.astimezone(period.zone) for moment in (period.since, period.until))
    return Progress(
        since=since.isoformat(timespec="seconds"),
        until=until.isoformat(timespec="seconds"),
        zone=period.zone.key,
        commits=sum(not one.is_merge for one in landed),
        merges=sum(one.is_merge for one in landed),
        people=_people(landed, told),
        assets=tuple(
            AssetProgress(path=one.whole.path, versions=tuple(_versions(one, period)))
            for one in told
        ),
        findings=tuple(entry for one in told for entry in _tracked_entries(one, period, landed)),
    )


def _versions(told: Told, period: Period) -> Iterable[VersionEntry]:
    first = next((entry for entry in told.steps if entry is not None), None)
    if told.trip.start is not None:
        yield VersionEntry(
            commit=told.trip.start.commit,
            when=_iso(period.since, period),
            author="",
            subject=AT_THE_START,
            path=told.trip.start.path,
            state="start",
            summary="",
            measures=_before_measures(first or told.whole),
            **_severities_before(first),
        )
    for version, entry in zip(told.trip.timeline.versions, told.steps, strict=True):
        yield _version(version, entry, period)


def _version(version: FileVersion, entry: AssetEntry | None, period: Period) -> VersionEntry:
    is_unreadable = entry is not None and entry.state == "unreadable"
    return VersionEntry(
        commit=version.commit.commit_id,
        when=_iso(version.commit.committed, period),
        author=version.commit.author,
        subject=version.commit.subject,
        path=version.path,
        state="unreadable" if is_unreadable else version.state,
        summary="The file was removed." if entry is None else entry.summary,
        measures=None
        if entry is None or is_unreadable
        else told_measures(entry.after, entry.parts),
        **(_Severities() if entry is None else _severities(standing_now(entry.findings))),
    )


class _Severities(TypedDict, total=False):
    stops: int
    looks: int


def _severities_before(entry: AssetEntry | None) -> _Severities:
    """What stood in the version before an entry's; nothing is known where none can be read."""
    if entry is None or entry.state == "unreadable":
        return _Severities()
    stood = (one for one in entry.findings if one.standing != "new" and one.accepted is None)
    return _severities(stood)


def _severities(findings: Iterable[FindingEntry]) -> _Severities:
    graded = [one.severity for one in findings]
    return {"stops": graded.count("stop"), "looks": graded.count("look")}


def _before_measures(entry: AssetEntry) -> Measures | None:
    if entry.before is None:
        return None
    parts = [part.before for part in entry.parts if part.before is not None]
    return _told(entry.before, parts)


def told_measures(whole: Measures | None, parts: Sequence[PartEntry]) -> Measures | None:
    """The few figures whose way is drawn; None where nothing was measured."""
    if whole is None:
        return None
    return _told(whole, [part.after for part in parts if part.after is not None])


def _told(whole: Measures, parts: Sequence[Measures]) -> Measures:
    return {
        "faces": whole.get("faces"),
        "stretch_l2": _stretch(parts),
        "seam_length": whole.get("seam_length"),
        "tile_use": whole.get("tile_use"),
    }


def _stretch(parts: Sequence[Measures]) -> float | None:
    """L2 stretch over all mapped parts: the root of the mean square, by mapped area."""
    weighed = [(_figure(part, "area"), _figure(part, "mapped_share"), part) for part in parts]
    known = [
        (area * share, stretch)
        for area, share, part in weighed
        if (stretch := _figure(part, "stretch_l2")) and area * share > 0
    ]
    total = sum(weight for weight, _ in known)
    if not total:
        return None
    return math.sqrt(sum(weight * stretch**2 for weight, stretch in known) / total)


def _figure(measures: Measures, key: str) -> float:
    value = measures.get(key)
    return float(value) if isinstance(value, int | float) and math.isfinite(value) else 0.0


def _tracked_entries(
    told: Told, period: Period, landed: Sequence[LandedCommit]
) -> Iterable[TrackedEntry]:
    steps = [
        Step(place=version.place, entry=entry)
        for version, entry in zip(told.trip.timeline.versions, told.steps, strict=True)
    ]
    for one in track_findings(steps):
        if one.finding.accepted is None and one.finding.severity != "note":
            yield _tracked_entry(one, told.whole.path, period, landed)


def _tracked_entry(
    one: Tracked, path: str, period: Period, landed: Sequence[LandedCommit]
) -> TrackedEntry:
    opened = None if one.born is None else landed[one.born].commit
    ended = None if one.ended is None else landed[one.ended].commit
    begins = period.since if opened is None else opened.committed
    stops = period.until if ended is None else ended.committed
    last = len(landed) if one.ended is None else one.ended
    return TrackedEntry(
        path=path,
        code=one.finding.code,
        severity=one.finding.severity,
        part=one.finding.part,
        message=one.finding.message,
        fate=_fate(one),
        opened=None if opened is None else _iso(opened.committed, period),
        opened_by=None if opened is None else opened.commit_id,
        ended=None if ended is None else _iso(ended.committed, period),
        ended_by=None if ended is None else ended.commit_id,
        days=max(0.0, (stops - begins).total_seconds() / 86400),
        commits=last - (one.born or 0),
    )


def _fate(one: Tracked) -> Fate:
    if one.is_gone:
        return "gone"
    if one.ended is None:
        return "standing" if one.born is None else "opened"
    return "mended" if one.born is None else "passing"


def _people(landed: Sequence[LandedCommit], told: Sequence[Told]) -> tuple[PersonEntry, ...]:
    """Who committed, told apart by address; addresses themselves are nobody's business."""
    made: dict[str, list[Commit]] = {}
    for one in landed:
        if not one.is_merge:
            made.setdefault(_who(one.commit), []).append(one.commit)
    touched = [{_who(version.commit) for version in one.trip.timeline.versions} for one in told]
    people = [
        PersonEntry(
            name=commits[-1].author,
            commits=len(commits),
            assets=sum(who in some for some in touched),
        )
        for who, commits in made.items()
    ]
    return tuple(sorted(people, key=lambda person: (-person.commits, person.name)))


def _who(commit: Commit) -> str:
    return commit.email.lower() or commit.author


def _iso(moment: datetime, period: Period) -> str:
    return moment.astimezone(period.zone).isoformat(timespec="seconds")
