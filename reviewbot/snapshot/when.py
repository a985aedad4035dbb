"""WHEN, as people write it: a day, a moment, a span of time, or else a revision.

Days are those of one named zone of the IANA time zone database, with its daylight saving: a day
may have 23 or 25 hours, and a week 167 or 169. Moments say their own zone. Everything comes out in
UTC, so that it compares with commit dates as instants.
"""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta, timezone
from typing import Literal
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from reviewbot.errors import UsageError

FORMS = (
    "a day (2025-03-24), a moment with its zone (2025-03-24T09:00+01:00 or "
    "2025-03-24T09:00[Europe/Oslo]), a span (7 days, 2 weeks, 36 hours), or a branch, tag or commit"
)
Edge = Literal["start", "end"]

_DAY = re.compile(r"(\d{4})-(\d{2})-(\d{2})")
_MOMENT = re.compile(
    r"(?P<day>\d{4}-\d{2}-\d{2})[Tt ](?P<hour>\d{2}):(?P<minute>\d{2})(?::(?P<second>\d{2}))?"
    r"(?P<offset>[Zz]|[+-]\d{2}:?\d{2})?(?:\[(?P<zone>[^\]]{1,60})\])?"
)
_SPAN = re.compile(r"(\d{1,4}) ?(hour|day|week)s?(?: ago)?")


def zone_named(name: str) -> ZoneInfo:
    """A zone of the IANA database. Raises UsageError for another name."""
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise UsageError(
            f"no time zone '{name}': give one like Europe/Oslo or UTC (where no zone at all is "
            "known, this machine lacks the time zone database: install the package 'tzdata')"
        ) from None


def parse_when(text: str, *, edge: Edge, end: datetime, zone: ZoneInfo) -> datetime | None:
    """The instant in UTC that a text means; None where it must be a revision.

    edge  a day given as the start of a period begins it, one given as its end is still part of it:
          the instant is then the next day's beginning
    end   what a span is counted back from; aware
    zone  whose days and weeks are meant

    Raises UsageError for a day that no calendar has, a moment without a zone, and a moment that
    the clocks of its zone skip or show twice.
    """
    text = text.strip()
    if day := _DAY.fullmatch(text):
        return _edge_of(_day(day), edge, zone)
    if moment := _MOMENT.fullmatch(text):
        return _instant(moment, text)
    if span := _SPAN.fullmatch(text.lower()):
        return before(end, int(span[1]), span[2], zone)
    return None


def before(end: datetime, count: int, unit: str, zone: ZoneInfo) -> datetime:
    """So many hours, or days or weeks of a zone, before an instant.

    Hours have 60 minutes each; days and weeks lead to the same time of day, whatever the clocks
    did in between.
    """
    try:
        if unit == "hour":
            return end.astimezone(UTC) - timedelta(hours=count)
        days = count * (7 if unit == "week" else 1)
        return _first_instant(_shown(end, zone) - timedelta(days=days), zone)
    except OverflowError:
        raise UsageError(f"{count} {unit}s ago there was no calendar") from None


def _edge_of(day: datetime, edge: Edge, zone: ZoneInfo) -> datetime:
    try:
        return _first_instant(day + timedelta(days=edge == "end"), zone)
    except OverflowError:
        raise UsageError(f"{day:%Y-%m-%d}: out of the calendar's reach") from None


def _first_instant(local: datetime, zone: ZoneInfo) -> datetime:
    """When a zone's clocks first show that time.

    A time that they skip is taken as far behind the jump as it is behind the jump's beginning, so
    that a skipped midnight is the day's first moment. Source: RFC 5545, 3.3.5.
    """
    return local.replace(tzinfo=zone, fold=0).astimezone(UTC)


def _shown(moment: datetime, zone: ZoneInfo) -> datetime:
    return moment.astimezone(zone).replace(tzinfo=None)


def _day(found: re.Match[str]) -> datetime:
    try:
        return datetime(int(found[1]), int(found[2]), int(found[3]))
    except ValueError:
        raise UsageError(f"{found[0]}: no calendar has this day") from None


def _instant(found: re.Match[str], text: str) -> datetime:
    day = _DAY.fullmatch(found["day"])
    assert day is not None
    try:
        local = _day(day).replace(
            hour=int(found["hour"]),
            minute=int(found["minute"]),
            second=int(found["second"] or 0),
        )
    except ValueError:
        raise UsageError(f"{text}: no clock shows this time") from None
    if found["offset"]:
        return local.replace(tzinfo=_offset(found["offset"], text)).astimezone(UTC)
    if found["zone"]:
        return _on_clocks(local, zone_named(found["zone"]), text)
    raise UsageError(
        f"{text}: say the zone too, such as {text}Z, {text}+01:00 or {text}[Europe/Oslo]"
    )


def _offset(words: str, text: str) -> timezone:
    if words in ("Z", "z"):
        return UTC
    hours, minutes = int(words[1:3]), int(words[-2:])
    if hours > 23 or minutes > 59:
        raise UsageError(f"{text}: no zone is that far from UTC")
    ahead = timedelta(hours=hours, minutes=minutes)
    return timezone(-ahead if words[0] == "-" else ahead)


def _on_clocks(local: datetime, zone: ZoneInfo, text: str) -> datetime:
    """The one instant at which a zone's clocks show this time."""
    first, second = (local.replace(tzinfo=zone, fold=fold).astimezone(UTC) for fold in (0, 1))
    if first == second:
        return first
    if _shown(first, zone) != local:
        raise UsageError(f"{text}: the clocks there skip this time; give another")
    raise UsageError(
        f"{text}: the clocks there show this time twice; give an offset in place of the zone"
    )
