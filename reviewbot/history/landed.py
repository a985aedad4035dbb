"""What landed between two commits, on whatever branch it was made, and what each commit changed."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass

from reviewbot.errors import RevisionError
from reviewbot.history.changes import ChangedFile, parse_raw_changes
from reviewbot.history.commits import Commit
from reviewbot.history.git import History, read_commit, run_git

_ID = re.compile(rb"[0-9a-f]{40}(?:[0-9a-f]{24})?")


@dataclass(frozen=True, slots=True, kw_only=True)
class LandedCommit:
    """One commit, and the wanted files in which it differs from each of its parents.

    changes  one entry a parent, in their order; for a first commit one, against nothing
    """

    commit: Commit
    changes: tuple[tuple[ChangedFile, ...], ...]

    @property
    def is_merge(self) -> bool:
        return len(self.changes) > 1


def landed_commits(
    history: History, start: str | None, end: str, is_wanted: Callable[[str], bool]
) -> tuple[LandedCommit, ...]:
    """Every commit that `end` reaches and `start` does not: parents first, else by date.

    start, end  full ids; None: from the beginning (in a shallow clone, as far as it goes)
    is_wanted   asked with each path as it is shown

    Two runs of git, however many commits there are. Raises RevisionError where git fails.
    """
    stop = [] if start is None else ["^" + start]
    listed = run_git(
        history.folder, "rev-list", "--parents", "--date-order", "--reverse", end, *stop
    )
    if listed.status:
        raise RevisionError(f"git cannot walk the commits of {history.folder}: {listed.errors}")
    lines = [line.split() for line in listed.out.decode("ascii").splitlines()]
    families = [(commit, parents or [""]) for commit, *parents in lines]
    pairs = [(commit, parent) for commit, parents in families for parent in parents]
    changed = iter(_changes_of(history, pairs, is_wanted))
    return tuple(
        LandedCommit(
            commit=read_commit(history, commit),
            changes=tuple(next(changed) for _ in parents),
        )
        for commit, parents in families
    )


def _changes_of(
    history: History, pairs: list[tuple[str, str]], is_wanted: Callable[[str], bool]
) -> list[tuple[ChangedFile, ...]]:
    """The changes of each commit against one parent, "" for none; renames as in `changed_files`."""
    if not pairs:
        return []
    asked = "".join(f"{commit} {parent}".rstrip() + "\n" for commit, parent in pairs)
    listed = run_git(
        history.folder,
        *("diff-tree", "--stdin", "--root", "--always", "-r", "-z", "--raw", "--no-abbrev"),
        *("-M50%", "-l20000", "--no-ext-diff", "--no-textconv"),
        stdin=asked.encode("ascii"),
    )
    if listed.status:
        raise RevisionError(f"git cannot compare commits of {history.folder}: {listed.errors}")
    return [parse_raw_changes(raw, is_wanted) for raw in _sections(listed.out.split(b"\0"))]


def _sections(fields: Iterable[bytes]) -> list[bytes]:
    """The raw changes behind each commit's id; a path that looks like an id is taken for none."""
    found: list[list[bytes]] = []
    fields = iter(fields)
    for field in fields:
        if _ID.fullmatch(field):
            found.append([])
        elif field.startswith(b":"):
            status = field.rsplit(b" ", 1)[1]
            paths = [next(fields) for _ in range(2 if status[:1] in b"RC" else 1)]
            found[-1] += [field, *paths]
    return [b"\0".join([*section, b""]) for section in found]
