"""Which commits a period holds, against git's own answer where clocks are right."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from dated import Dated
from hypothesis import given
from hypothesis import strategies as st

from reviewbot.errors import RevisionError, UsageError
from reviewbot.history.git import History, open_history
from reviewbot.snapshot.period import Asked, believed_dates, find_period

NOW = datetime(2025, 4, 2, 12, tzinfo=UTC)


@pytest.fixture
def daily(repository: Dated) -> list[str]:
    """A commit a day at noon in Oslo, 24 March to 1 April 2025; summer time began on the 30th."""
    days = [f"2025-03-{day} 12:00:00 +0100" for day in range(24, 30)]
    days += [f"2025-03-{day} 12:00:00 +0200" for day in (30, 31)] + ["2025-04-01 12:00:00 +0200"]
    return [repository.at(day) for day in days]


def found(history: History, **asked: str) -> tuple[str | None, str]:
    period = find_period(history, Asked(**asked), now=NOW)
    return period.start, period.end


def test_a_week_unless_told(history: History, daily: list[str]) -> None:
    period = find_period(history, Asked(), now=NOW)
    assert (period.start, period.end) == (daily[2], daily[-1])
    assert NOW - period.since == timedelta(days=7)


def test_days_hold_their_commits(history: History, daily: list[str]) -> None:
    assert found(history, since="2025-03-26", until="2025-03-28", zone="Europe/Oslo") == (
        daily[1],
        daily[4],
    )
    assert found(history, since="2025-03-24") == (None, daily[-1])


def test_the_first_instant_is_in_and_the_last_is_out(repository: Dated, history: History) -> None:
    """Midnight in Oslo is 23:00 UTC before the clocks' jump and 22:00 after it."""
    before = repository.at("2025-03-29 22:59:59 +0000")
    at = repository.at("2025-03-29 23:00:00 +0000")
    last = repository.at("2025-03-30 21:59:59 +0000")
    repository.at("2025-03-30 22:00:00 +0000")
    asked = {"since": "2025-03-30", "until": "2025-03-30"}
    assert found(history, **asked, zone="Europe/Oslo") == (before, last)
    assert found(history, **asked, zone="UTC") == (at, repository.head())


def test_dates_are_instants_whatever_zone_they_were_made_in(
    repository: Dated, history: History
) -> None:
    """By their clocks the second of these is a day before the first."""
    repository.at("2025-03-26 01:00:00 +1300")  # 12:00 UTC on the 25th
    second = repository.at("2025-03-25 06:00:00 -0700")  # 13:00 UTC on the 25th
    third = repository.at("2025-03-26 00:30:00 +0000")
    assert found(history, since="2025-03-26", until="2025-03-26") == (second, third)


def test_revisions_name_commits(repository: Dated, history: History, daily: list[str]) -> None:
    repository.git("tag", "v1", daily[2])
    assert found(history, since="v1") == (daily[2], daily[-1])
    assert found(history, since="v1", until=daily[4]) == (daily[2], daily[4])
    assert found(history, since="2 days", until=daily[4]) == (daily[1], daily[4])
    assert found(history, since=daily[-1]) == (daily[-1], daily[-1])


def test_a_start_off_the_line_counts_from_where_it_left(
    repository: Dated, history: History, daily: list[str]
) -> None:
    repository.git("checkout", "--quiet", "-b", "release", daily[3])
    repository.at("2025-03-28 15:00:00 +0100", message="Only here")
    assert found(history, since="release", head="main") == (daily[3], daily[-1])


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"since": "2025-04-01", "until": "2025-03-30"}, "ends before it begins"),
        ({"since": "nonsense"}, "a period begins with a day"),
        ({"since": "HEAD", "until": "HEAD~2"}, "past its end"),
        ({"until": "2024-01-01"}, "no commit of 'HEAD' is from before"),
        ({"until": "HEAD~1", "head": "main"}, "cannot name another end"),
        ({"zone": "Harbour/Quay"}, "no time zone"),
    ],
)
def test_what_cannot_be_is_said(
    history: History, daily: list[str], asked: dict[str, str], said: str
) -> None:
    assert daily
    with pytest.raises(UsageError, match=said):
        find_period(history, Asked(**asked), now=NOW)


def test_a_shallow_clone_says_what_it_lacks(
    repository: Dated, daily: list[str], tmp_path_factory: pytest.TempPathFactory
) -> None:
    assert daily
    clone = tmp_path_factory.mktemp("clone") / "short"
    repository.git("clone", "--quiet", "--depth=3", f"file://{repository.folder}", str(clone))
    with open_history(clone) as history:
        with pytest.raises(RevisionError, match="unshallow"):
            find_period(history, Asked(), now=NOW)
        assert find_period(history, Asked(since="2 days"), now=NOW).end == daily[-1]


@pytest.mark.parametrize("since", ["2025-03-24", "2025-03-27", "2025-03-30", "2025-04-01"])
def test_git_counts_the_same(
    repository: Dated, history: History, daily: list[str], since: str
) -> None:
    assert daily
    start, end = found(history, since=since)
    ours = repository.git("rev-list", end, *([f"^{start}"] if start else []))
    theirs = repository.git("rev-list", f"--since={since}T00:00:00Z", "HEAD")
    assert ours == theirs


def test_one_wrong_clock_moves_no_border(repository: Dated, history: History) -> None:
    made = [
        repository.at(f"{day} 12:00:00 +0000")
        for day in ("2025-03-24", "2031-01-01", "2025-03-25", "2025-03-26", "1980-01-01")
    ]
    made.append(repository.at("2025-03-27 12:00:00 +0000"))
    assert found(history, since="2025-03-26", until="2025-03-26") == (made[2], made[4])


@given(st.lists(st.integers(0, 30), max_size=12))
def test_the_most_dates_that_fit_are_believed(days: list[int]) -> None:
    """The length is that of the longest non-falling subsequence, found here by brute force."""
    dates = [datetime(2025, 1, 1, tzinfo=UTC) + timedelta(days=day) for day in days]
    believed = believed_dates(dates)
    assert believed == sorted(believed)
    longest = [0] * len(days)
    for at, day in enumerate(days):
        longest[at] = 1 + max((longest[k] for k in range(at) if days[k] <= day), default=0)
    kept = sum(one == other for one, other in zip(dates, believed, strict=True))
    assert kept >= max(longest, default=0)


def test_dates_in_order_are_all_believed() -> None:
    dates = [datetime(2025, 1, day, tzinfo=UTC) for day in (1, 1, 2, 9)]
    assert believed_dates(dates) == dates
    assert believed_dates([]) == []
