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
from reviewbot.snapshot.when import FORMS, before, parse_when, zone_named

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
    line, until = _line_to_end(history, asked, now=now, zone=zone)
    if asked.since is None:
        since: datetime | None = before(until, USUAL_DAYS, "day", zone)
    else:
        since = parse_when(asked.since, edge="start", end=until, zone=zone)
    if since is None:
        return _from_commit(history, str(asked.since), line[-1], until, zone)
    if since >= until:
        raise UsageError("the period ends before it begins: look at --since and --until")
    first = sum(date < since for date in believed_dates([one.committed for one in line]))
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
        end=line[-1].commit_id,
    )


def _line_to_end(
    history: History, asked: Asked, *, now: datetime, zone: ZoneInfo
) -> tuple[Sequence[Commit], datetime]:
    """The main line up to the period's last commit, and the period's end.

    Without a word on the end the head is it, even where its clock is ahead of ours.
    """
    if asked.until is None:
        return commits_between(history, None, asked.head), now.astimezone(UTC)
    until = parse_when(asked.until, edge="end", end=now, zone=zone)
    if until is None:
        if asked.head != "HEAD":
            raise UsageError("--until names a commit, so --head cannot name another end")
        line = commits_between(history, None, asked.until)
        return line, line[-1].committed.astimezone(UTC)
    line = commits_between(history, None, asked.head)
    dates = believed_dates([commit.committed for commit in line])
    line = line[: sum(date < until for date in dates)]
    if not line:
        moment = f"{until:%Y-%m-%d %H:%M} UTC"
        raise RevisionError(f"no commit of '{asked.head}' is from before {moment}")
    return line, until


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
