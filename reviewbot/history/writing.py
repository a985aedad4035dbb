"""Writes commits into a repository of our own making; nobody else's is ever written to."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from reviewbot.errors import RevisionError
from reviewbot.history.git import GitOutput, run_git


@dataclass(frozen=True, slots=True, kw_only=True)
class NewCommit:
    """A commit to be made.

    when   aware; author and committer date
    files  whole contents by path; None takes a file away; what is not named stays
    """

    message: str
    author: str
    email: str
    when: datetime
    files: Mapping[str, bytes | None]


def write_repository(folder: Path, commits: tuple[NewCommit, ...]) -> tuple[str, ...]:
    """A new repository with these commits on `main`, checked out; their ids in order.

    The same commits give the same ids on any machine: no hook, filter, signature or line-end
    setting has a say. Raises RevisionError where git fails.
    """
    folder.mkdir(parents=True, exist_ok=True)
    _do(folder, "init", "--quiet", "--template=", "--object-format=sha1", "--initial-branch=main")
    # An artist's files are bytes: git for Windows would otherwise turn their line ends.
    _do(folder, "config", "core.autocrlf", "false")
    stream = b"".join(_stream(commits))
    told = _do(folder, "fast-import", "--quiet", "--date-format=raw", stdin=stream)
    _do(folder, "read-tree", "--reset", "-u", "HEAD")
    return tuple(told.out.decode("ascii").split())


def _do(folder: Path, *arguments: str, stdin: bytes | None = None) -> GitOutput:
    done = run_git(folder, *arguments, stdin=stdin)
    if done.status:
        raise RevisionError(f"git {arguments[0]} failed in {folder}: {done.errors}")
    return done


def _stream(commits: tuple[NewCommit, ...]) -> Iterator[bytes]:
    """What ``git fast-import`` reads; after each commit it is asked for the id."""
    for mark, commit in enumerate(commits, start=1):
        date = f"{int(commit.when.timestamp())} {commit.when:%z}"
        person = f"{commit.author} <{commit.email}> {date}\n"
        head = f"commit refs/heads/main\nmark :{mark}\nauthor {person}committer {person}"
        yield head.encode()
        yield _data(commit.message.encode())
        if mark > 1:
            yield f"from :{mark - 1}\n".encode()
        for path, content in commit.files.items():
            if content is None:
                yield f"D {path}\n".encode()
            else:
                yield f"M 100644 inline {path}\n".encode() + _data(content)
        yield f"get-mark :{mark}\n".encode()
    yield b"done\n"


def _data(content: bytes) -> bytes:
    return b"data %d\n%b\n" % (len(content), content)
