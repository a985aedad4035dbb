"""Which stretch of a repository's history a period is: from one commit to another.

The main line is followed from the head along first parents. What was on it when the period began
is the start; whatever has come onto it since then has landed in the period, on whichever branch
and day it was made. Commits are dated by the committer, in UTC.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

from reviewbot.errors import RevisionError, UsageError
from reviewbot.history.commits import Commit
from reviewbot.history.git import History, commits_between, merge_base, read_commit, resolve
from reviewbot.snapshot.when import FORMS, Edge, before, parse_when, zone_named

USUAL_DAYS = 7


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What a digest was asked for; see `when` for what the words may be.

    since  None: a week before the end
    until  None: now
    zone   name of the zone whose days are meant
    """

    since: str | None = None
    until: str | None = None
    head: str = "HEAD"
    zone: str = "UTC"


@dataclass(frozen=True, slots=True, kw_only=True)
class Period:
    """A stretch of history.

    since, until  instants in UTC; what was committed at `until` itself is past the end
    start         the commit that the period began with; None: there was none yet
    end           the last commit of the period; `start` where nothing landed
    """

    since: datetime
    until: datetime
    zone: ZoneInfo
    start: str | None
    end: str


def find_period(history: History, asked: Asked, *, now: datetime) -> Period:
    """The stretch of history that is meant.

    now  aware

    Raises UsageError where the words mean nothing, or the period ends before it begins, and
    RevisionError where it needs commits that are not there.
    """
    zone = zone_named(asked.zone)
    named_end = None if asked.until is None else _revision_or_none(asked.until, "end", now, zone)
    if named_end is not None and asked.head != "HEAD":
        raise UsageError("--until names a commit, so --head cannot name another end")
    line = commits_between(history, None, named_end or asked.head)
    until = _until(asked.until, named_end, line, now, zone)
    dates = believed_dates([commit.committed for commit in line])
    # Without a word on the end, the head is it, even where its clock is ahead of ours.
    count = len(line) if asked.until is None or named_end else _count_before(dates, until)
    if not count:
        raise RevisionError(
            f"no commit of '{asked.head}' is from before {until:%Y-%m-%d %H:%M} UTC"
        )
    named_start = None
    if asked.since is not None:
        named_start = _revision_or_none(asked.since, "start", until, zone)
    if named_start is not None:
        return _from_commit(history, named_start, line[count - 1], until, zone)
    since = _since(asked.since, until, zone)
    if since >= until:
        raise UsageError("the period ends before it begins: look at --since and --until")
    first = _count_before(dates, since)
    if not first and history.is_shallow:
        raise RevisionError(
            f"this shallow clone does not reach back to {since:%Y-%m-%d}: run "
            "`git fetch --unshallow` (in hosted CI, fetch with a depth of 0)"
        )
    return Period(
        since=since,
        until=until,
        zone=zone,
        start=line[first - 1].commit_id if first else None,
        end=line[count - 1].commit_id,
    )


def believed_dates(dates: Sequence[datetime]) -> list[datetime]:
    """Dates along a line, oldest first, that never run back.

    Clocks may be off. The most dates that fit together in order are believed (the longest
    non-falling subsequence); any other commit takes the date of the one before, or, at the
    beginning, of the first one believed.
    """
    believed = _longest_rising(dates)
    found: list[datetime] = []
    for row, date in enumerate(dates):
        if row in believed:
            found.append(date)
        else:
            found.append(found[-1] if found else dates[min(believed)])
    return found


def _longest_rising(dates: Sequence[datetime]) -> set[int]:
    """Rows of the longest non-falling subsequence (patience sorting)."""
    ends: list[datetime] = []
    last: list[int] = []
    earlier: list[int | None] = []
    for row, date in enumerate(dates):
        at = bisect_right(ends, date)
        earlier.append(last[at - 1] if at else None)
        ends[at : at + 1] = [date]
        last[at : at + 1] = [row]
    rows: set[int] = set()
    row_or_none = last[-1] if last else None
    while row_or_none is not None:
        rows.add(row_or_none)
        row_or_none = earlier[row_or_none]
    return rows


def _count_before(dates: Sequence[datetime], moment: datetime) -> int:
    return sum(date < moment for date in dates)


def _revision_or_none(text: str, edge: Edge, end: datetime, zone: ZoneInfo) -> str | None:
    """The text itself where it must be a revision."""
    moment = parse_when(text, edge=edge, end=end, zone=zone)
    return text if moment is None else None


def _until(
    text: str | None,
    named: str | None,
    line: Sequence[Commit],
    now: datetime,
    zone: ZoneInfo,
) -> datetime:
    if named is not None:
        return line[-1].committed.astimezone(UTC)
    if text is None:
        return now.astimezone(UTC)
    moment = parse_when(text, edge="end", end=now, zone=zone)
    assert moment is not None, "a revision is dealt with before"
    return moment


def _since(text: str | None, until: datetime, zone: ZoneInfo) -> datetime:
    if text is None:
        return before(until, USUAL_DAYS, "day", zone)
    moment = parse_when(text, edge="start", end=until, zone=zone)
    assert moment is not None, "a revision is dealt with before"
    return moment


def _from_commit(
    history: History, revision: str, last: Commit, until: datetime, zone: ZoneInfo
) -> Period:
    try:
        start = read_commit(history, resolve(history, revision))
    except RevisionError as error:
        raise RevisionError(f"{error}; a period begins with {FORMS}") from error
    shared = merge_base(history, start.commit_id, last.commit_id)
    if shared == last.commit_id != start.commit_id:
        raise UsageError(f"the period ends before it begins: '{revision}' is past its end")
    return Period(
        since=start.committed.astimezone(UTC),
        until=until,
        zone=zone,
        start=shared,
        end=last.commit_id,
    )
