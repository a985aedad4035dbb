"""Assets followed through renames, merges, removals and returns in real repositories."""

from __future__ import annotations

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

from dated import Dated, leaf

from reviewbot.history.git import History
from reviewbot.history.landed import landed_commits
from reviewbot.snapshot.period import Period
from reviewbot.snapshot.timeline import Timeline, follow


def followed(history: History, start: str | None, end: str) -> tuple[Timeline, ...]:
    moment = datetime(2025, 3, 31, tzinfo=UTC)
    period = Period(since=moment, until=moment, zone=ZoneInfo("UTC"), start=start, end=end)
    landed = landed_commits(history, start, end, lambda path: path.endswith(".obj"))
    return follow(history, period, landed)


def states(timeline: Timeline) -> list[tuple[str, str]]:
    return [(version.state, version.path) for version in timeline.versions]


def ends(timeline: Timeline) -> tuple[bytes | None, bytes | None]:
    start, end = timeline.start, timeline.end
    return start and start.raw_path, end and end.raw_path


def test_a_rename_keeps_the_asset(repository: Dated, history: History) -> None:
    first = repository.at("2025-03-24 12:00:00 +0100", {"a.obj": leaf()})
    repository.at("2025-03-25 12:00:00 +0100", {"a.obj": leaf(2)})
    repository.git("mv", "a.obj", "b.obj")
    repository.at("2025-03-26 12:00:00 +0100")
    repository.at("2025-03-27 12:00:00 +0100", {"b.obj": leaf(3)})
    (one,) = followed(history, first, repository.head())
    assert states(one) == [("changed", "a.obj"), ("renamed", "b.obj"), ("changed", "b.obj")]
    assert ends(one) == (b"a.obj", b"b.obj")
    theirs = repository.git("log", "--follow", "--format=%H", f"{first}..HEAD", "--", "b.obj")
    ours = [version.commit.commit_id for version in reversed(one.versions)]
    assert ours == theirs.decode().split()


def test_a_new_file_where_another_lay_is_another_asset(repository: Dated, history: History) -> None:
    first = repository.at("2025-03-24 12:00:00 +0100", {"a.obj": leaf()})
    repository.git("mv", "a.obj", "b.obj")
    repository.at("2025-03-25 12:00:00 +0100")
    repository.at("2025-03-26 12:00:00 +0100", {"a.obj": b"o other\nv 9 9 9\n" + leaf(7) * 3})
    new, old = followed(history, first, repository.head())
    assert (states(new), ends(new)) == ([("added", "a.obj")], (None, b"a.obj"))
    assert (states(old), ends(old)) == ([("renamed", "b.obj")], (b"a.obj", b"b.obj"))


def test_removed_and_back_is_the_same_asset(repository: Dated, history: History) -> None:
    first = repository.at("2025-03-24 12:00:00 +0100", {"a.obj": leaf()})
    repository.at("2025-03-25 12:00:00 +0100", {"a.obj": None})
    repository.at("2025-03-26 12:00:00 +0100", {"a.obj": leaf(2)})
    (one,) = followed(history, first, repository.head())
    assert states(one) == [("removed", "a.obj"), ("added", "a.obj")]
    assert ends(one) == (b"a.obj", b"a.obj")


def test_what_is_gone_has_no_end(repository: Dated, history: History) -> None:
    first = repository.at("2025-03-24 12:00:00 +0100", {"a.obj": leaf(), "other.txt": b"x"})
    repository.at("2025-03-25 12:00:00 +0100", {"b.obj": leaf(5)})
    repository.at("2025-03-26 12:00:00 +0100", {"a.obj": None, "b.obj": None})
    gone, passing = followed(history, first, repository.head())
    assert (ends(gone), ends(passing)) == ((b"a.obj", None), (None, None))


def test_a_clean_merge_makes_no_version_of_its_own(repository: Dated, history: History) -> None:
    first = repository.at("2025-03-24 12:00:00 +0100", {"a.obj": leaf(), "b.obj": leaf(3)})
    repository.branch("side")
    repository.at("2025-03-25 12:00:00 +0100", {"b.obj": leaf(4)})
    repository.at("2025-03-26 12:00:00 +0100", {"b.obj": leaf(5)})
    repository.switch("main")
    repository.at("2025-03-26 13:00:00 +0100", {"a.obj": leaf(2)})
    repository.merge("2025-03-27 12:00:00 +0100", "side")
    one, other = followed(history, first, repository.head())
    assert states(one) == [("changed", "a.obj")]
    assert states(other) == [("changed", "b.obj")] * 2


def test_a_merge_that_settles_a_conflict_is_a_version(repository: Dated, history: History) -> None:
    first = repository.at("2025-03-24 12:00:00 +0100", {"a.obj": leaf()})
    repository.branch("side")
    repository.at("2025-03-25 12:00:00 +0100", {"a.obj": leaf(2)})
    repository.switch("main")
    repository.at("2025-03-26 12:00:00 +0100", {"a.obj": leaf(3)})
    repository.merge("2025-03-27 12:00:00 +0100", "side", "--strategy=ours")
    repository.write("a.obj", leaf(9))
    repository.git("add", "--all")
    repository.git("commit", "--quiet", "--amend", "--no-edit")
    (one,) = followed(history, first, repository.head())
    assert [state for state, _ in states(one)] == ["changed", "changed", "merged"]
    assert one.end is not None
    assert one.versions[-1].blob == one.end.blob


def test_a_merge_that_takes_the_older_side_shows_it_again(
    repository: Dated, history: History
) -> None:
    first = repository.at("2025-03-24 12:00:00 +0100", {"a.obj": leaf()})
    repository.branch("side")
    repository.at("2025-03-26 12:00:00 +0100", {"a.obj": leaf(2)})
    repository.switch("main")
    repository.at("2025-03-25 12:00:00 +0100", {"a.obj": leaf(3)})
    repository.merge("2025-03-27 12:00:00 +0100", "side", "--strategy=ours")
    (one,) = followed(history, first, repository.head())
    assert [state for state, _ in states(one)] == ["changed", "changed", "merged"]
    assert one.end is not None
    assert [version.blob for version in one.versions][::2] == [one.end.blob] * 2


def test_an_old_branch_brings_back_nothing(repository: Dated, history: History) -> None:
    """What main changed before the period differs from the branch's old copy, and is no news."""
    repository.at("2025-03-01 12:00:00 +0100", {"a.obj": leaf(), "b.obj": leaf(3)})
    repository.branch("side")
    repository.at("2025-03-02 12:00:00 +0100", {"b.obj": leaf(4)})
    repository.switch("main")
    start = repository.at("2025-03-03 12:00:00 +0100", {"a.obj": leaf(2)})
    repository.merge("2025-03-27 12:00:00 +0100", "side")
    (one,) = followed(history, start, repository.head())
    assert (states(one), ends(one)) == ([("changed", "b.obj")], (b"b.obj", b"b.obj"))


def test_a_rename_on_one_branch_meets_an_edit_on_another(
    repository: Dated, history: History
) -> None:
    long = leaf() * 4
    first = repository.at("2025-03-24 12:00:00 +0100", {"a.obj": long})
    repository.branch("side")
    repository.git("mv", "a.obj", "b.obj")
    repository.at("2025-03-26 12:00:00 +0100")
    repository.switch("main")
    repository.at("2025-03-25 12:00:00 +0100", {"a.obj": long + b"# edited\n"})
    repository.merge("2025-03-27 12:00:00 +0100", "side")
    (one,) = followed(history, first, repository.head())
    assert states(one) == [("changed", "a.obj"), ("renamed", "b.obj"), ("merged", "b.obj")]
    assert ends(one) == (b"a.obj", b"b.obj")


def test_renamed_and_renamed_back(repository: Dated, history: History) -> None:
    first = repository.at("2025-03-24 12:00:00 +0100", {"a.obj": leaf()})
    for old, new, day in (("a.obj", "b.obj", 25), ("b.obj", "a.obj", 26)):
        repository.git("mv", old, new)
        repository.at(f"2025-03-{day} 12:00:00 +0100")
    (one,) = followed(history, first, repository.head())
    assert one.start == one.end


def test_without_a_start_everything_is_new(repository: Dated, history: History) -> None:
    repository.at("2025-03-24 12:00:00 +0100", {"a.obj": leaf(), "b.obj": leaf(2)})
    assert [ends(one)[0] for one in followed(history, None, repository.head())] == [None, None]
