"""What landed, and what each commit changed, against git's own porcelain."""

from __future__ import annotations

from pathlib import Path

import pytest
from dated import Dated, leaf

from reviewbot.history.git import open_history
from reviewbot.history.landed import landed_commits


@pytest.fixture
def repository(tmp_path: Path) -> Dated:
    return Dated.new(tmp_path / "studio")


def landed(repository: Dated, start: str | None, end: str):
    with open_history(repository.folder) as history:
        return landed_commits(history, start, end, lambda path: path.endswith(".obj"))


def test_each_commit_with_its_changes(repository: Dated) -> None:
    first = repository.at("2025-03-24 12:00:00 +0100", {"a.obj": leaf(), "notes.txt": b"x"})
    second = repository.at("2025-03-25 12:00:00 +0100", {"a.obj": leaf(2)})
    empty = repository.at("2025-03-26 12:00:00 +0100")
    repository.git("mv", "a.obj", "b.obj")
    third = repository.at("2025-03-27 12:00:00 +0100")
    gone = repository.at("2025-03-28 12:00:00 +0100", {"b.obj": None})
    found = landed(repository, None, gone)
    assert [one.commit.commit_id for one in found] == [first, second, empty, third, gone]
    told = [[(file.status, file.path) for (some) in one.changes for file in some] for one in found]
    assert told == [
        [("added", "a.obj")],
        [("changed", "a.obj")],
        [],
        [("renamed", "b.obj")],
        [("removed", "b.obj")],
    ]
    assert [one.commit.commit_id for one in landed(repository, second, third)] == [empty, third]
    assert landed(repository, gone, gone) == ()


def test_merges_have_an_entry_a_parent(repository: Dated) -> None:
    repository.at("2025-03-24 12:00:00 +0100", {"a.obj": leaf(), "b.obj": leaf(3)})
    repository.branch("side")
    repository.at("2025-03-25 12:00:00 +0100", {"b.obj": leaf(4)})
    repository.switch("main")
    repository.at("2025-03-26 12:00:00 +0100", {"a.obj": leaf(2)})
    merge = repository.merge("2025-03-27 12:00:00 +0100", "side")
    *_, last = landed(repository, None, merge)
    assert last.is_merge
    assert [[file.path for file in some] for some in last.changes] == [["b.obj"], ["a.obj"]]


def test_odd_names_are_names(repository: Dated) -> None:
    """A file called like a commit, or with line ends, is no boundary between commits."""
    names = ["0" * 40 + ".obj", "f" * 40 + "/x.obj", "a\nb.obj", ":100644.obj", "ü\\.obj"]
    for at, name in enumerate(names):
        repository.at(f"2025-03-{24 + at} 12:00:00 +0100", {name: leaf(at + 1)})
    found = landed(repository, None, repository.head())
    raw = [one.changes[0][0].raw_path for one in found]
    assert raw == [name.encode() for name in names]


def test_order_and_number_are_git_s(repository: Dated) -> None:
    repository.at("2025-03-24 12:00:00 +0100", {"a.obj": leaf()})
    for branch, hour in (("one", 9), ("two", 10)):
        repository.git("checkout", "--quiet", "-b", branch, "main")
        for minute in (1, 3, 5):
            when = f"2025-03-25 {hour:02}:0{minute}:00 +0100"
            repository.at(when, {f"{branch}.obj": leaf(hour + minute)})
    repository.switch("main")
    repository.merge("2025-03-26 12:00:00 +0100", "one")
    repository.merge("2025-03-26 13:00:00 +0100", "two")
    theirs = repository.git("log", "--date-order", "--reverse", "--format=%H").decode().split()
    assert [one.commit.commit_id for one in landed(repository, None, "HEAD")] == theirs
