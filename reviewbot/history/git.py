"""Git on this machine; only `history.fetch` runs it as well, over a network.

Nothing here touches a checkout, an index or a branch, and nothing in a repository can make it run
code: plumbing commands only, no hook, filter, external diff, text conversion or file monitor, no
network (a partial clone fetches nothing behind our back), no replaced objects, and no GIT_*
variable of an outer git. Object ids are the only foreign words that become arguments, apart from
`resolve`, whose revision stands behind ``--end-of-options``.

GitPython is slow to load and comparing two files needs no git: the first command loads it.
"""

from __future__ import annotations

import hashlib
import os
import re
import shutil
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from subprocess import PIPE
from threading import Lock
from types import TracebackType
from typing import TYPE_CHECKING, Self

from reviewbot.errors import RevisionError
from reviewbot.history.changes import FILE_MODES, ChangeSet, parse_raw_changes
from reviewbot.history.commits import Commit, TreeEntry, parse_commit, parse_tree
from reviewbot.history.paths import visible_text

if TYPE_CHECKING:
    from git import Git

_FULL_ID = re.compile(r"[0-9a-f]{40}(?:[0-9a-f]{24})?")
_FOLDER_MODE = b"40000"

_SAFE_ENVIRONMENT = {
    "GIT_ALLOW_PROTOCOL": "none",
    "GIT_NO_LAZY_FETCH": "1",
    "GIT_NO_REPLACE_OBJECTS": "1",
    "GIT_OPTIONAL_LOCKS": "0",
    "GIT_TERMINAL_PROMPT": "0",
}
_SAFE_OPTIONS = ("--no-pager", "-c", "core.fsmonitor=false", "-c", f"core.hooksPath={os.devnull}")
# Where git lives and what its owner configured is theirs to say; the rest belongs to whatever git
# command called this process.
_KEPT_VARIABLES = re.compile(
    r"GIT_(?:EXEC_PATH|CEILING_DIRECTORIES|CONFIG_(?:GLOBAL|SYSTEM|NOSYSTEM|COUNT|KEY_\d+|VALUE_\d+))"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class GitOutput:
    """What one git command gave.

    status  0 where it went well
    errors  what it said on standard error, as one line
    """

    status: int
    out: bytes
    errors: str


def run_git(folder: Path, *arguments: str, stdin: bytes | None = None) -> GitOutput:
    """Runs one git command in `folder`. Raises RevisionError where there is no git."""
    process = _start_git(folder, arguments)
    out, errors = process.communicate(stdin)
    return GitOutput(status=process.returncode, out=out, errors=one_line(errors))


def _start_git(folder: Path, arguments: Iterable[str]) -> Git.AutoInterrupt:
    # GitPython looks for git when it is imported and fails where there is none: it is said below.
    os.environ.setdefault("GIT_PYTHON_REFRESH", "quiet")
    from git import Git  # noqa: PLC0415

    git = Git.GIT_PYTHON_GIT_EXECUTABLE or "git"
    if shutil.which(git) is None:
        raise RevisionError("git is not installed here, or not on the PATH")
    command = [*_without_outer_git(), git, *_SAFE_OPTIONS, *arguments]
    return Git(folder).execute(command, istream=PIPE, as_process=True, env=_SAFE_ENVIRONMENT)


def _without_outer_git() -> list[str]:
    """A command prefix that takes an outer git's variables away; nothing where there are none."""
    outer = [name for name in outer_variables() if name not in _SAFE_ENVIRONMENT]
    return ["env", *(word for name in outer for word in ("-u", name))] if outer else []


def outer_variables() -> list[str]:
    """Names of the variables that belong to whatever git command called this process."""
    return [
        name
        for name in os.environ
        if name.startswith("GIT_")
        and not _KEPT_VARIABLES.fullmatch(name)
        and not name.startswith("GIT_PYTHON_")
    ]


def one_line(errors: bytes) -> str:
    """What a command said, on one line and fit to show."""
    return visible_text(b" ".join(errors.split()))


class ObjectReader:
    """``git cat-file --batch``, kept open: an object costs a line down a pipe, not a process.

    May be shared between threads. It ends itself on `close` and starts anew when it is asked again.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._lock = Lock()
        self._process: Git.AutoInterrupt | None = None

    def read(self, object_id: str) -> tuple[str, bytes] | None:
        """An object's kind ("blob", "tree", "commit", "tag") and bytes; None where it is missing.

        What is no full id names no object. Raises RevisionError where the object is damaged.
        """
        if not _FULL_ID.fullmatch(object_id):
            return None
        with self._lock:
            if self._process is None:
                self._process = _start_git(self._folder, ("cat-file", "--batch"))
            return self._ask(self._process, object_id)

    def _ask(self, process: Git.AutoInterrupt, object_id: str) -> tuple[str, bytes] | None:
        try:
            process.stdin.write(object_id.encode("ascii") + b"\n")
            process.stdin.flush()
            header = process.stdout.readline().split()
        except BrokenPipeError:
            header = []
        if len(header) == 2:  # "<id> missing"
            return None
        if len(header) == 3:
            data = process.stdout.read(int(header[2]) + 1)
            if len(data) == int(header[2]) + 1:
                return header[1].decode("ascii"), data[:-1]
        errors = self._end()
        raise RevisionError(f"git cannot read object {object_id[:12]}: {errors or 'it is damaged'}")

    def _end(self) -> str:
        """Ends the process; what it said on standard error."""
        process, self._process = self._process, None
        if process is None:
            return ""
        _, errors = process.communicate()
        return one_line(errors)

    def close(self) -> None:
        """Ends the process, if one runs."""
        with self._lock:
            self._end()


@dataclass(frozen=True, slots=True, kw_only=True)
class History:
    """An opened repository; closes its reader at the end of a ``with`` block.

    folder      where git commands run: a work tree, a folder in one, or a bare repository
    git_folder  what all work trees of the repository share; large files lie below it
    is_shallow  the clone holds the newest commits only
    """

    folder: Path
    git_folder: Path
    is_bare: bool
    is_shallow: bool
    objects: ObjectReader

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.objects.close()


def open_history(path: Path) -> History:
    """The repository at `path` or around it.

    Raises RevisionError where there is none, or git refuses it.
    """
    if not path.is_dir():
        raise RevisionError(f"{path} is no folder")
    asked = run_git(
        path, "rev-parse", "--is-bare-repository", "--is-shallow-repository", "--git-common-dir"
    )
    if asked.status:
        if "dubious ownership" in asked.errors:
            raise RevisionError(
                f"{path} belongs to another user, so git does not open it; if you trust it, run: "
                f"git config --global --add safe.directory {path.resolve()}"
            )
        raise RevisionError(f"{path} is in no git repository ({asked.errors})")
    is_bare, is_shallow, common = asked.out.removesuffix(b"\n").split(b"\n", 2)
    return History(
        folder=path,
        git_folder=path.joinpath(os.fsdecode(common)).resolve(),
        is_bare=is_bare == b"true",
        is_shallow=is_shallow == b"true",
        objects=ObjectReader(path),
    )


def resolve(history: History, revision: str) -> str:
    """The full id of the commit that a revision names. Raises RevisionError where it names none."""
    if "\0" not in revision:
        asked = run_git(
            history.folder,
            *("rev-parse", "--verify", "--quiet", "--end-of-options", revision + "^{commit}"),
        )
        commit = asked.out.decode("ascii", "replace").strip()
        if asked.status == 0 and _FULL_ID.fullmatch(commit):
            return commit
    named = visible_text(os.fsencode(revision))
    if revision == "HEAD":
        raise RevisionError(f"{history.folder} has no commit yet: commit something first")
    hint = "; this clone is shallow, `git fetch --unshallow` gets the rest"
    raise RevisionError(
        f"'{named}' names no commit in {history.folder}: give a branch, a tag or a commit id"
        + (hint if history.is_shallow else "")
    )


def changed_files(
    history: History, base: str | None, head: str | None, is_wanted: Callable[[str], bool]
) -> ChangeSet:
    """The wanted files that differ between two revisions; git finds the renames.

    base       a revision: what `head` did since it branched off `base`, that is, from their merge
               base. None: from the first parent of `head`, or from nothing for a first commit.
    head       a revision; None for HEAD
    is_wanted  asked with each path as it is shown (see `paths.visible_text`)

    Raises RevisionError where a revision is unknown, the two have no common commit, or a shallow
    clone lacks the commit that is needed.
    """
    head_commit = resolve(history, "HEAD" if head is None else head)
    if base is None:
        base_commit = _first_parent(history, head_commit)
    else:
        base_commit = merge_base(history, resolve(history, base), head_commit)
    listed = run_git(
        history.folder,
        *("diff-tree", "-r", "-z", "--raw", "--no-abbrev", "-M50%", "-l20000"),
        *("--no-ext-diff", "--no-textconv", "--end-of-options"),
        base_commit or _empty_tree(head_commit),
        head_commit,
    )
    if listed.status:
        raise RevisionError(f"git cannot compare two commits of {history.folder}: {listed.errors}")
    return ChangeSet(
        base_commit=base_commit,
        head_commit=head_commit,
        files=parse_raw_changes(listed.out, is_wanted),
    )


def _first_parent(history: History, commit_id: str) -> str | None:
    parents = read_commit(history, commit_id).parents
    if not parents:
        return None
    if history.is_shallow and history.objects.read(parents[0]) is None:
        raise RevisionError(
            f"the commit before {commit_id[:12]} is not in this shallow clone: "
            "run `git fetch --deepen=1` (in hosted CI, fetch with a depth of at least 2)"
        )
    return parents[0]


def merge_base(history: History, base: str, head: str) -> str:
    """The newest commit that two commits share, by full ids. Raises RevisionError without one."""
    asked = run_git(history.folder, "merge-base", "--end-of-options", base, head)
    commit = asked.out.decode("ascii", "replace").strip()
    if asked.status == 0 and _FULL_ID.fullmatch(commit):
        return commit
    hint = "they do not share any history"
    if history.is_shallow:
        hint = "this clone is shallow, so run `git fetch --unshallow`, or --deepen=100 and again"
    raise RevisionError(f"{base[:12]} and {head[:12]} have no common commit here: {hint}")


def _empty_tree(like: str) -> str:
    """The id of the tree without entries, which git knows without storing it."""
    hashed = hashlib.sha1 if len(like) == 40 else hashlib.sha256
    return hashed(b"tree 0\0").hexdigest()


def read_commit(history: History, commit_id: str) -> Commit:
    """A commit by its full id. Raises RevisionError where it is missing."""
    return parse_commit(commit_id, _read(history, commit_id, "commit"))


def _read(history: History, object_id: str, kind: str) -> bytes:
    found = history.objects.read(object_id)
    if found is None or found[0] != kind:
        raise RevisionError(
            f"{kind} {object_id[:12]} is not in {history.folder}: the clone is shallow, partial or "
            "damaged; `git fetch --refetch` gets all of it"
        )
    return found[1]


def commits_between(
    history: History, base: str | None, head: str | None, *, since: datetime | None = None
) -> tuple[Commit, ...]:
    """Commits from after `base` up to `head`, oldest first, along first parents only.

    base   a revision, or None for all the way back (in a shallow clone: as far as it goes)
    since  leaves out what was committed before; each commit is asked, so clocks may be off
    """
    stop = [] if base is None else ["^" + resolve(history, base)]
    start = resolve(history, "HEAD" if head is None else head)
    listed = run_git(
        history.folder, "rev-list", "--first-parent", "--timestamp", "--reverse", start, *stop
    )
    if listed.status:
        raise RevisionError(f"git cannot walk the commits of {history.folder}: {listed.errors}")
    lines = (line.split() for line in listed.out.decode("ascii").splitlines())
    earliest = float("-inf") if since is None else since.timestamp()
    return tuple(read_commit(history, commit) for when, commit in lines if int(when) >= earliest)


def blob_bytes(history: History, blob_id: str) -> bytes:
    """A file's bytes as git keeps them. Raises RevisionError where the clone lacks them."""
    return _read(history, blob_id, "blob")


def read_blobs(history: History, blob_ids: Iterable[str]) -> Iterator[bytes]:
    """The bytes of each blob in turn, one at a time in memory."""
    return (blob_bytes(history, blob_id) for blob_id in blob_ids)


def file_at(history: History, commit_id: str, raw_path: bytes) -> bytes | None:
    """A file's bytes at a commit, by its full path from the top; None where no file is.

    Only names in that commit's own tree are followed: a link, a submodule, `.`, `..`, an absolute
    path and an empty name lead nowhere. The path is never given to git.
    """
    blob = blob_at(history, commit_id, raw_path)
    return None if blob is None else blob_bytes(history, blob)


def blob_at(history: History, commit_id: str, raw_path: bytes) -> str | None:
    """The object id of what `file_at` reads; None where no file is."""
    entry = TreeEntry(mode=_FOLDER_MODE, object_id=read_commit(history, commit_id).tree_id)
    for name in raw_path.split(b"/"):
        if entry.mode != _FOLDER_MODE:
            return None
        found = parse_tree(
            _read(history, entry.object_id, "tree"), id_bytes=len(entry.object_id) // 2
        ).get(name)
        if found is None:
            return None
        entry = found
    return entry.object_id if entry.mode in FILE_MODES else None
