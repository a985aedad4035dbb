"""The state's file: whose it is, what it promises, what it refuses."""

from __future__ import annotations

import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from reviewbot.errors import UsageError
from reviewbot.watch.state import NewJob, Position, State, opened_state


@pytest.fixture
def file(tmp_path: Path) -> Path:
    return tmp_path / "desk" / "watch.sqlite"


@pytest.fixture
def state(file: Path) -> Iterator[State]:
    with opened_state(file) as opened:
        yield opened


def job(commit: str, ref: str = "refs/heads/main", base: str | None = None) -> NewJob:
    return NewJob(ref=ref, commit=commit, base=base)


def noted(
    state: State,
    *on_branches: NewJob,
    on_requests: tuple[NewJob, ...] = (),
    repository: str = "props",
) -> int:
    return state.note(
        repository,
        kinds=frozenset({"branches"}),
        positions={"refs/heads/main": Position(commit="c", is_gone=False)},
        on_branches=on_branches,
        on_requests=on_requests,
    )


def all_jobs(state: State, repository: str = "props") -> list[str]:
    """In order; each is finished."""
    found = []
    while (following := state.next_job(repository)) is not None:
        found.append(following.commit)
        state.move(following, "done")
    return found


def test_jobs_come_in_the_order_they_were_noted(state: State) -> None:
    assert noted(state, job("a"), job("b")) == 2
    assert noted(state, job("c")) == 1
    assert all_jobs(state) == ["a", "b", "c"]


def test_a_commit_on_branches_is_one_job_for_ever(state: State) -> None:
    noted(state, job("a"), job("a", "refs/heads/side"))
    assert all_jobs(state) == ["a"]
    assert noted(state, job("a", "refs/heads/third")) == 0
    assert all_jobs(state) == []


def test_a_commit_on_a_request_is_one_job_for_each_request(state: State) -> None:
    two = (job("a", "refs/pull/1/head"), job("a", "refs/pull/2/head"))
    assert noted(state, job("a"), on_requests=two) == 2
    assert noted(state, on_requests=two) == 0


def test_repositories_do_not_know_each_other(state: State) -> None:
    noted(state, job("a"))
    noted(state, job("a"), repository="sets")
    assert all_jobs(state, "sets") == ["a"]
    assert all_jobs(state) == ["a"]
    assert state.positions("nothing") == {}


def test_a_look_is_kept_whole_or_not_at_all(state: State) -> None:
    """The last of its parts fails: none of it stays."""
    broken = NewJob(ref="refs/heads/main", commit=None, base=None)  # type: ignore[arg-type]
    with pytest.raises(sqlite3.IntegrityError):
        noted(state, job("a"), broken)
    assert state.positions("props") == {}
    assert state.looked_at("props") == frozenset()
    assert state.next_job("props") is None


def test_tries_count_for_a_stage(state: State) -> None:
    noted(state, job("a"))
    first = state.next_job("props")
    assert first is not None
    assert state.count_try(state.count_try(first, "x"), "y").tries == 2
    assert state.next_job("props") == state.count_try(state.count_try(first, "x"), "y")
    assert state.move(first, "written").tries == 0
    state.move(first, "failed", "it broke")
    assert state.next_job("props") is None


def test_it_is_there_when_it_is_opened_again(file: Path) -> None:
    with opened_state(file) as state:
        noted(state, job("a", base="b"))
    with opened_state(file) as state:
        following = state.next_job("props")
        assert following is not None
        assert following.commit == "a"
        assert state.positions("props") == {"refs/heads/main": Position(commit="c", is_gone=False)}
        assert state.looked_at("props") == {"branches"}


def test_it_is_written_ahead(file: Path) -> None:
    with opened_state(file):
        looking = sqlite3.connect(file)
        assert looking.execute("PRAGMA journal_mode").fetchone() == ("wal",)
        looking.close()


def test_a_second_watcher_is_refused(file: Path, state: State) -> None:
    with pytest.raises(UsageError, match="another watcher runs with"), opened_state(file):
        raise AssertionError("opened twice")
    noted(state, job("a"))  # the first one goes on


def test_a_second_watcher_is_refused_in_another_process(file: Path, state: State) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "reviewbot", "watch", ".", "--state", str(file), "--once"],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert done.returncode == 2
    assert len(done.stderr.splitlines()) == 1
    assert "another watcher runs" in done.stderr


@pytest.mark.parametrize("size", [100, 5000])
def test_a_file_that_is_no_state(file: Path, size: int) -> None:
    file.parent.mkdir()
    file.write_bytes(b"plain text\n" * size)
    with pytest.raises(UsageError, match="cannot be read or written"), opened_state(file):
        pass
    assert file.read_bytes() == b"plain text\n" * size


def test_another_program_s_file(file: Path) -> None:
    file.parent.mkdir()
    other = sqlite3.connect(file)
    other.executescript("CREATE TABLE places (url TEXT)")
    other.close()
    before = file.read_bytes()
    with pytest.raises(UsageError, match="another program's"), opened_state(file):
        pass
    assert file.read_bytes() == before


def test_another_version_s_file(file: Path) -> None:
    with opened_state(file):
        pass
    other = sqlite3.connect(file)
    other.execute("PRAGMA user_version = 99")
    other.close()
    with pytest.raises(UsageError, match="another version"), opened_state(file):
        pass


def test_a_damaged_file(file: Path) -> None:
    with opened_state(file) as state:
        noted(state, *(job(f"{n:040x}") for n in range(2000)))
    data = bytearray(file.read_bytes())
    data[8192:-8192] = b"\xa5" * (len(data) - 16384)
    file.write_bytes(data)
    with pytest.raises(UsageError, match=r"damaged|cannot be read"), opened_state(file):
        pass


def test_a_place_that_cannot_be_written(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    with (
        pytest.raises(UsageError, match="cannot be kept here"),
        opened_state(tmp_path / "file" / "x.sqlite"),
    ):
        pass
