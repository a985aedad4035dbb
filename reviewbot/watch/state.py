"""What was seen and what is still to be done, in one SQLite file that outlives any crash.

Where a reference stands and the jobs that follow from its move are written in one transaction, so
no move is forgotten and none counts twice. A lock beside the file keeps a second watcher out.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

from reviewbot.errors import UsageError

Stage = Literal["waiting", "written", "done", "failed"]
Kind = Literal["branches", "requests"]

_APPLICATION = 0x52426F74  # written into the file's head: whose file this is
_VERSION = 1
_SCHEMA = """
CREATE TABLE looks (
    repository TEXT NOT NULL, kind TEXT NOT NULL, PRIMARY KEY (repository, kind)
) STRICT;
CREATE TABLE positions (
    repository TEXT NOT NULL, ref TEXT NOT NULL, commit_id TEXT NOT NULL, is_gone INTEGER NOT NULL,
    PRIMARY KEY (repository, ref)
) STRICT;
CREATE TABLE jobs (
    number INTEGER PRIMARY KEY,
    repository TEXT NOT NULL, ref TEXT NOT NULL, commit_id TEXT NOT NULL, base TEXT,
    stage TEXT NOT NULL DEFAULT 'waiting', tries INTEGER NOT NULL DEFAULT 0,
    reason TEXT NOT NULL DEFAULT '',
    UNIQUE (repository, ref, commit_id)
) STRICT;
CREATE INDEX unfinished ON jobs (repository, number) WHERE stage NOT IN ('done', 'failed');
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Position:
    """Where a reference stood when it was last seen."""

    commit: str
    is_gone: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class NewJob:
    """A commit to be reviewed.

    base  for a request: the commit that it is compared with, at the merge base; None for a commit
          on a branch, compared with its first parent
    """

    ref: str
    commit: str
    base: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """A commit that is being seen to.

    number  jobs are taken in this order
    stage   "waiting" for its review, "written": its report lies in its folder, to be posted
    tries   how often this stage has failed
    """

    number: int
    repository: str
    ref: str
    commit: str
    base: str | None
    stage: Stage
    tries: int


class State:
    """The opened file; see `opened_state`."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self._connection = connection

    def looked_at(self, repository: str) -> frozenset[str]:
        """The kinds of references that were looked at before."""
        asked = "SELECT kind FROM looks WHERE repository = ?"
        return frozenset(kind for (kind,) in self._connection.execute(asked, [repository]))

    def positions(self, repository: str) -> dict[str, Position]:
        """Every reference ever seen, by its full name."""
        asked = "SELECT ref, commit_id, is_gone FROM positions WHERE repository = ?"
        return {
            ref: Position(commit=commit, is_gone=bool(is_gone))
            for ref, commit, is_gone in self._connection.execute(asked, [repository])
        }

    def note(
        self,
        repository: str,
        *,
        kinds: frozenset[Kind],
        positions: Mapping[str, Position],
        on_branches: tuple[NewJob, ...],
        on_requests: tuple[NewJob, ...],
    ) -> int:
        """Keeps a look and the jobs that follow from it, all or nothing; how many jobs are new.

        A commit on a branch that has a job already, on whichever reference, gets none; a commit on
        a request gets none where this request has one for it.
        """
        with self._connection as to:
            looks = [(repository, kind) for kind in sorted(kinds)]
            to.executemany("INSERT OR IGNORE INTO looks VALUES (?, ?)", looks)
            rows = [(repository, r, p.commit, int(p.is_gone)) for r, p in positions.items()]
            to.executemany("INSERT OR REPLACE INTO positions VALUES (?, ?, ?, ?)", rows)
            before = to.total_changes
            to.executemany(
                "INSERT OR IGNORE INTO jobs (repository, ref, commit_id, base) VALUES (?, ?, ?, ?)",
                [(repository, job.ref, job.commit, job.base) for job in on_requests],
            )
            to.executemany(
                "INSERT INTO jobs (repository, ref, commit_id) SELECT ?1, ?2, ?3 WHERE NOT EXISTS"
                " (SELECT 1 FROM jobs WHERE repository = ?1 AND commit_id = ?3)",
                [(repository, job.ref, job.commit) for job in on_branches],
            )
            return to.total_changes - before

    def next_job(self, repository: str) -> Job | None:
        """The first that is not finished, or None."""
        row = self._connection.execute(
            "SELECT number, repository, ref, commit_id, base, stage, tries FROM jobs"
            " WHERE repository = ? AND stage NOT IN ('done', 'failed') ORDER BY number LIMIT 1",
            [repository],
        ).fetchone()
        if row is None:
            return None
        number, repository, ref, commit, base, stage, tries = row
        return Job(
            number=number,
            repository=repository,
            ref=ref,
            commit=commit,
            base=base,
            stage=stage,
            tries=tries,
        )

    def move(self, job: Job, stage: Stage, reason: str = "") -> Job:
        """The job at another stage, with no tries yet."""
        return self._kept(replace(job, stage=stage, tries=0), reason)

    def count_try(self, job: Job, reason: str) -> Job:
        """The job with one more failed try."""
        return self._kept(replace(job, tries=job.tries + 1), reason)

    def _kept(self, job: Job, reason: str) -> Job:
        with self._connection as to:
            to.execute(
                "UPDATE jobs SET stage = ?, tries = ?, reason = ? WHERE number = ?",
                [job.stage, job.tries, reason, job.number],
            )
        return job


@contextmanager
def opened_state(file: Path) -> Iterator[State]:
    """The state in this file, made where there is none, for this process alone.

    Raises UsageError where another watcher has it, and where the file is damaged or another
    program's.
    """
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        with _locked(file.with_name(f"{file.name}-lock")):
            connection = sqlite3.connect(file, timeout=10)
            try:
                _prepare(connection, file)
                yield State(connection)
            finally:
                connection.close()
    except OSError as error:
        raise UsageError(f"{file}: the state cannot be kept here: {error.strerror}") from error
    except sqlite3.DatabaseError as error:
        raise UsageError(
            f"{file}: the state cannot be read or written ({error}); give another --state, or move "
            "this file away to begin anew"
        ) from error


@contextmanager
def _locked(file: Path) -> Iterator[None]:
    """Holds a lock that ends with this process, however it ends."""
    lock = sqlite3.connect(file, timeout=0, isolation_level=None)
    try:
        try:
            lock.execute("BEGIN EXCLUSIVE")
        except sqlite3.OperationalError as error:
            if error.sqlite_errorcode != sqlite3.SQLITE_BUSY:
                raise
            raise UsageError(
                f"another watcher runs with {file.with_name(file.name.removesuffix('-lock'))}; "
                "give this one a --state of its own"
            ) from None
        yield
    finally:
        lock.close()


def _prepare(connection: sqlite3.Connection, file: Path) -> None:
    """Makes a new file ours, and refuses one that is not."""
    (application,) = connection.execute("PRAGMA application_id").fetchone()
    (version,) = connection.execute("PRAGMA user_version").fetchone()
    (tables,) = connection.execute("SELECT count(*) FROM sqlite_master").fetchone()
    if tables and application != _APPLICATION:
        raise UsageError(f"{file} is another program's file; give another --state")
    if tables and version != _VERSION:
        raise UsageError(
            f"{file} was written by another version of reviewbot; give another --state"
        )
    connection.execute("PRAGMA journal_mode = WAL")
    connection.execute("PRAGMA synchronous = FULL")
    if not tables:
        connection.executescript(
            f"BEGIN; PRAGMA application_id = {_APPLICATION}; PRAGMA user_version = {_VERSION};"
            f"{_SCHEMA} COMMIT;"
        )
    (sound,) = connection.execute("PRAGMA quick_check(1)").fetchone()
    if sound != "ok":
        raise UsageError(f"{file} is damaged; move it away to begin anew")
