"""Words for times, against published examples and rules of calendars and clocks.

RFC 3339 (5.8) and RFC 9557 (4.2) give texts and the instants they mean, RFC 5545 (3.3.5) says what
a time means that the clocks skip. Directive 2000/84/EC lets the European Union's summer time begin
on the last Sunday of March and end on the last Sunday of October, each at 1:00 UTC.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reviewbot.errors import UsageError
from reviewbot.snapshot.when import before, parse_when, zone_named

OSLO = ZoneInfo("Europe/Oslo")
NOW = datetime(2025, 4, 2, 9, 30, tzinfo=UTC)


def start(text: str, zone: ZoneInfo = OSLO) -> datetime | None:
    return parse_when(text, edge="start", end=NOW, zone=zone)


def end(text: str, zone: ZoneInfo = OSLO) -> datetime | None:
    return parse_when(text, edge="end", end=NOW, zone=zone)


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        ("1996-12-19T16:39:57-08:00", datetime(1996, 12, 20, 0, 39, 57, tzinfo=UTC)),
        ("1996-12-19T16:39:57-08:00[America/Los_Angeles]", datetime(1996, 12, 20, 0, 39, 57)),
        ("1990-12-31T23:59:59Z", datetime(1990, 12, 31, 23, 59, 59, tzinfo=UTC)),
        ("1937-01-01T12:00:27+00:20", datetime(1937, 1, 1, 11, 40, 27, tzinfo=UTC)),
    ],
)
def test_published_moments(text: str, meant: datetime) -> None:
    assert start(text) == end(text) == meant.replace(tzinfo=UTC)


def test_a_named_zone_s_clocks() -> None:
    assert start("2025-03-24T09:00[Europe/Oslo]") == datetime(2025, 3, 24, 8, tzinfo=UTC)
    assert start("2025-04-24 09:00[Europe/Oslo]") == datetime(2025, 4, 24, 7, tzinfo=UTC)
    assert start("2025-04-24t09:00z") == datetime(2025, 4, 24, 9, tzinfo=UTC)


def test_a_day_is_its_zone_s_and_may_have_23_or_25_hours() -> None:
    assert start("2025-03-30") == datetime(2025, 3, 29, 23, tzinfo=UTC)
    assert end("2025-03-30") == datetime(2025, 3, 30, 22, tzinfo=UTC)
    assert end("2025-10-26") - start("2025-10-26") == timedelta(hours=25)
    assert end("2025-03-24") - start("2025-03-24") == timedelta(hours=24)
    utc = ZoneInfo("UTC")
    assert start("2025-03-30", utc) == datetime(2025, 3, 30, tzinfo=UTC)
    assert end("2025-03-30", utc) - start("2025-03-30", utc) == timedelta(hours=24)


def test_a_midnight_that_is_skipped_is_the_day_s_first_moment() -> None:
    """Chile's clocks went from 24:00 on 7 September 2024 to 1:00 (IANA time zone database)."""
    santiago = ZoneInfo("America/Santiago")
    begins = start("2024-09-08", santiago)
    assert begins == datetime(2024, 9, 8, 4, tzinfo=UTC)
    moment_before = (begins - timedelta(seconds=1)).astimezone(santiago)
    assert (moment_before.day, begins.astimezone(santiago).hour) == (7, 1)
    assert end("2024-09-07", santiago) == begins


def test_a_skipped_time_counts_from_where_the_jump_began() -> None:
    late = datetime(2025, 3, 31, 0, 30, tzinfo=UTC)  # 2:30 in Oslo; a day before there is none
    assert before(late, 1, "day", OSLO) == datetime(2025, 3, 30, 1, 30, tzinfo=UTC)


def test_weeks_follow_the_calendar_and_hours_the_clock() -> None:
    after_the_jump = datetime(2025, 4, 1, 10, tzinfo=UTC)  # 12:00 in Oslo
    assert before(after_the_jump, 1, "week", OSLO) == datetime(2025, 3, 25, 11, tzinfo=UTC)
    assert after_the_jump - before(after_the_jump, 7, "day", OSLO) == timedelta(hours=167)
    autumn = datetime(2025, 10, 28, 11, tzinfo=UTC)
    assert autumn - before(autumn, 1, "week", OSLO) == timedelta(hours=169)
    assert before(autumn, 168, "hour", OSLO) == autumn - timedelta(hours=168)


@pytest.mark.parametrize("text", ["7 days", "1 week", "7days", "7 Days ago", " 1 weeks "])
def test_spans(text: str) -> None:
    assert start(text) == NOW - timedelta(days=7) + timedelta(hours=1)  # the jump lies between


@pytest.mark.parametrize(
    "text", ["v1.2", "HEAD~3", "main", "7 apples", "20250324", "2025-03", "-7 days", "2025-3-4", ""]
)
def test_anything_else_must_be_a_revision(text: str) -> None:
    assert start(text) is None


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("2025-02-30", "no calendar"),
        ("0000-01-01", "no calendar"),
        ("2025-13-01T09:00Z", "no calendar"),
        ("2025-03-24T25:00Z", "no clock"),
        ("2025-03-24T09:00", "say the zone too"),
        ("2025-03-24T09:00[Harbour/Quay]", "no time zone"),
        ("2025-03-24T09:00+99:00", "that far from UTC"),
        ("2025-03-30T02:30[Europe/Oslo]", "skip this time"),
        ("2025-10-26T02:30[Europe/Oslo]", "twice"),
        ("9999 weeks", "no calendar"),
        ("9999-12-31", "reach"),
    ],
)
def test_what_means_nothing_is_said(text: str, said: str) -> None:
    late = datetime(150, 1, 1, tzinfo=UTC)
    with pytest.raises(UsageError, match=said):
        parse_when(text, edge="end", end=late if "weeks" in text else NOW, zone=OSLO)


@pytest.mark.parametrize("name", ["", "Nowhere", "../etc/passwd", "/etc/localtime", "Europe", "\0"])
def test_zones_are_names_of_the_database(name: str) -> None:
    with pytest.raises(UsageError, match="no time zone"):
        zone_named(name)


@given(
    st.datetimes(datetime(1990, 1, 1), datetime(2035, 1, 1)),
    st.integers(-23 * 60, 23 * 60),
)
def test_moments_read_as_python_reads_them(local: datetime, minutes: int) -> None:
    moment = local.replace(microsecond=0, tzinfo=timezone(timedelta(minutes=minutes)))
    assert start(moment.isoformat()) == moment


@given(st.dates(datetime(1980, 1, 1).date(), datetime(2036, 1, 1).date()))
@pytest.mark.parametrize("zone", ["Europe/Oslo", "America/St_Johns", "Asia/Kathmandu", "UTC"])
def test_days_meet_without_a_gap(zone: str, day: object) -> None:
    where = ZoneInfo(zone)
    following = day + timedelta(days=1)  # type: ignore[operator]
    assert end(str(day), where) == start(str(following), where)
    assert start(str(day), where).astimezone(where).date() == day
