"""Where branches and requests stand, on real repositories."""

from __future__ import annotations

import pytest
from repositories import PLAIN, Repository

from reviewbot.errors import RevisionError
from reviewbot.history.git import History
from reviewbot.history.refs import is_ancestor, new_commits, read_refs, request_number


def test_branches_and_requests_and_nothing_else(repository: Repository, history: History) -> None:
    first = repository.commit({"jug.obj": b"1"})
    for ref in ("refs/pull/7/head", "refs/merge-requests/3/head", "refs/heads/kit/bolt"):
        repository.git("update-ref", ref, first)
    for ref in ("refs/pull/7/merge", "refs/pull/x/head", "refs/notes/a", "refs/tags/v1"):
        repository.git("update-ref", ref, first)
    found = read_refs(history, with_requests=True)
    assert set(found.tips) == {
        "refs/heads/main",
        "refs/heads/kit/bolt",
        "refs/pull/7/head",
        "refs/merge-requests/3/head",
    }
    assert set(found.tips.values()) == {first}
    assert found.default == "refs/heads/main"


def test_an_empty_repository_has_none(repository: Repository, history: History) -> None:
    assert read_refs(history, with_requests=True).tips == {}


def test_a_detached_head_has_no_branch(repository: Repository, history: History) -> None:
    repository.commit({"jug.obj": b"1"})
    repository.git("checkout", "--quiet", "--detach")
    assert read_refs(history, with_requests=True).default is None


def test_numbers_of_requests() -> None:
    assert request_number("refs/merge-requests/12/head") == 12
    assert request_number("refs/pull/12/merge") is None
    assert request_number("refs/heads/refs/pull/12/head") is None


class TestNewCommits:
    def test_parents_come_first_whatever_the_clocks_say(
        self, repository: Repository, history: History, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        made = []
        for day in (20, 3, 11, 1):
            monkeypatch.setitem(PLAIN, "GIT_COMMITTER_DATE", f"2024-03-{day:02}T12:00:00Z")
            made.append(repository.commit(message=f"Day {day}"))
        assert new_commits(history, made[-1], []) == tuple(made)
        assert new_commits(history, made[-1], [made[1]]) == tuple(made[2:])
        assert new_commits(history, made[1], [made[3]]) == ()

    def test_what_a_merge_brings_is_new_as_well(
        self, repository: Repository, history: History
    ) -> None:
        start = repository.commit()
        repository.git("checkout", "--quiet", "-b", "side")
        side = repository.commit(message="Side")
        repository.git("checkout", "--quiet", "main")
        on_main = repository.commit(message="Main")
        repository.git("merge", "--quiet", "--no-ff", "-m", "Merge", "side")
        found = new_commits(history, repository.head(), [start])
        assert set(found) == {side, on_main, repository.head()}
        assert found[-1] == repository.head()

    def test_known_ids_that_are_gone_are_passed_over(
        self, repository: Repository, history: History
    ) -> None:
        only = repository.commit()
        assert new_commits(history, only, ["f" * 40]) == (only,)

    def test_a_tip_that_is_gone_is_said(self, repository: Repository, history: History) -> None:
        repository.commit()
        with pytest.raises(RevisionError, match="cannot walk"):
            new_commits(history, "f" * 40, [])


def test_ancestors(repository: Repository, history: History) -> None:
    first, second = repository.commit(), repository.commit()
    assert is_ancestor(history, first, second)
    assert not is_ancestor(history, second, first)
    assert not is_ancestor(history, "f" * 40, second)
