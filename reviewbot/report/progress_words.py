"""The words of a period: its days, its sentence, and how long things stood."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

from reviewbot.report.progress import (
    AssetProgress,
    Progress,
    TrackedEntry,
    VersionEntry,
    counts_of,
)
from reviewbot.report.record import Measures
from reviewbot.report.wording import NOTHING, counted, number

# Our own: the language of a machine must not decide what a digest says.
_MONTHS = (
    *("January", "February", "March", "April", "May", "June"),
    *("July", "August", "September", "October", "November", "December"),
)

_LEAST_GAIN = 0.01  # of a share, or of a stretch: what is less is no news


def short_day(when: str) -> str:
    """Day and month of a date in ISO 8601.

    >>> short_day("2025-03-24T12:01:00+01:00")
    '24 Mar'
    """
    moment = datetime.fromisoformat(when)
    return f"{moment.day} {_MONTHS[moment.month - 1][:3]}"


def long_day(moment: datetime) -> str:
    """
    >>> long_day(datetime(2025, 3, 24))
    '24 March 2025'
    """
    return f"{moment.day} {_MONTHS[moment.month - 1]} {moment.year}"


def period_words(since: datetime, until: datetime) -> str:
    """First and last day of a period, in the zone that its ends are in.

    An end at midnight belongs to the day before.

    >>> period_words(datetime(2025, 3, 24), datetime(2025, 3, 31))
    '24 to 30 March 2025'
    >>> period_words(datetime(2024, 12, 30, 9), datetime(2025, 1, 6, 9))
    '30 December 2024 to 6 January 2025'
    """
    last = max(since, until - timedelta(microseconds=1))
    if since.date() == last.date():
        return long_day(last)
    if (since.year, since.month) == (last.year, last.month):
        return f"{since.day} to {long_day(last)}"
    if since.year == last.year:
        return f"{since.day} {_MONTHS[since.month - 1]} to {long_day(last)}"
    return f"{long_day(since)} to {long_day(last)}"


def period_of(progress: Progress) -> str:
    """See `period_words`."""
    since, until = map(datetime.fromisoformat, (progress.since, progress.until))
    return period_words(since, until)


def quiet_sentence(progress: Progress) -> str:
    """The one line of a period in which no asset was touched."""
    landed = progress.commits + progress.merges
    elsewhere = f"; {counted(landed, 'commit')} landed elsewhere" if landed else ""
    return f"No mesh file changed, {period_of(progress)}{elsewhere}."


def period_sentence(progress: Progress) -> str:
    """What was done, and what became of the findings."""
    people = len(progress.people)
    by = f" by {counted(people, 'person', 'people')}" if people else ""
    merges = f" and {counted(progress.merges, 'merge')}" if progress.merges else ""
    return (
        f"{counted(len(progress.assets), 'asset')} touched; "
        f"{counted(progress.commits, 'commit')}{merges}{by}. {_findings_sentence(progress)}"
    )


def _findings_sentence(progress: Progress) -> str:
    counts = counts_of(progress.findings)
    still = counts["opened"] + counts["standing"]
    told = [
        (counts["mended"], "mended"),
        (counts["passing"], "came and went"),
        (counts["gone"], "gone with their files"),
    ]
    parts = [f"{count} {words}" for count, words in told if count]
    if not still:
        begin = "No finding is open"
        return f"{begin}; {', '.join(parts)}." if parts else f"{begin}."
    verb = "is" if still == 1 else "are"
    new = {0: "none of them new", still: "all of them new"}
    age = new.get(counts["opened"], f"{counts['opened']} of them new")
    if still == 1:
        age = "new" if counts["opened"] else "from before"
    rest = f"; {', '.join(parts)}" if parts else ""
    return f"{counted(still, 'finding')} {verb} open, {age}{rest}."


def age_words(one: TrackedEntry) -> str:
    """Since when a finding stands, in days and commits."""
    days = "less than a day" if one.days < 1 else counted(int(one.days), "day")
    age = f"{days}, {counted(one.commits, 'commit')}"
    if one.opened is None:
        return f"older than the period: more than {age}"
    return f"new on {short_day(one.opened)}: {age}"


def span_words(times: Sequence[Sequence[TrackedEntry]]) -> str:
    """From when to when something came and went, and how often."""
    first, last = times[0][0], times[-1][0]
    begins = short_day(first.opened) if first.opened else "before the period"
    ends = short_day(last.ended) if last.ended else "the end"
    days = begins if begins == ends else f"{begins} to {ends}"
    often = f"{len(times)} times, " if len(times) > 1 else ""
    went = ", with its file" if last.fate == "gone" else ""
    return f"{often}{days}{went}"


def gains(way: AssetProgress) -> list[str]:
    """Measures that ended better than they began: more of the texture used, less stretch."""
    known = [one.measures for one in way.versions if one.measures]
    if len(known) < 2:
        return []
    told = []
    first, last = (_figure(one, "tile_use") for one in (known[0], known[-1]))
    if first is not None and last is not None and last >= first + _LEAST_GAIN:
        told.append(f"used texture from {_percent(first)} to {_percent(last)}")
    first, last = (_figure(one, "stretch_l2") for one in (known[0], known[-1]))
    if first is not None and last is not None and last <= first - _LEAST_GAIN:
        told.append(f"stretch from {number(round(first, 2))} to {number(round(last, 2))}")
    return told


def _figure(measures: Measures, key: str) -> float | None:
    value = measures.get(key)
    return float(value) if isinstance(value, int | float) else None


def _percent(share: float) -> str:
    return f"{number(round(100 * share, 1))}%"


def open_words(version: VersionEntry) -> str:
    """How many findings are open in a version."""
    if version.stops is None or version.looks is None:
        return NOTHING
    told = [(version.stops, "stop"), (version.looks, "look")]
    return ", ".join(f"{count} {word}" for count, word in told if count) or "nothing"
