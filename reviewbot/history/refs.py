"""Where branches and requests stand, and which commits are new on them."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from reviewbot.errors import RevisionError
from reviewbot.history.git import History, run_git
from reviewbot.history.paths import visible_text

BRANCHES = "refs/heads/"
# GitHub, Gitea and Forgejo; GitLab.
_REQUEST = re.compile(r"refs/(?:pull|merge-requests)/([0-9]{1,18})/head")


@dataclass(frozen=True, slots=True, kw_only=True)
class Refs:
    """The references of a repository that may be watched: branches and requests.

    tips     full commit ids by full names, as `paths.visible_text` shows them
    default  full name of the default branch, or of the one that is checked out; None for none
    """

    tips: Mapping[str, str]
    default: str | None


def is_watchable(name: str) -> bool:
    """Whether this is the full name of a branch, or of a request's newest commit."""
    return name.startswith(BRANCHES) or request_number(name) is not None


def request_number(name: str) -> int | None:
    """The number of the request that a reference is for, or None for a branch.

    >>> request_number("refs/pull/7/head"), request_number("refs/heads/pull/7/head")
    (7, None)
    """
    found = _REQUEST.fullmatch(name)
    return None if found is None else int(found[1])


def read_refs(history: History, *, with_requests: bool) -> Refs:
    """Where branches, and requests where they are wanted, stand.

    Raises RevisionError where git cannot say.
    """
    told = run_git(
        history.folder,
        *("for-each-ref", "--format=%(objecttype) %(objectname) %(refname)", BRANCHES),
        *(("refs/pull/", "refs/merge-requests/") if with_requests else ()),
    )
    if told.status:
        raise RevisionError(f"git cannot list the branches of {history.folder}: {told.errors}")
    rows = (line.split(b" ", 2) for line in told.out.splitlines())
    named = ((visible_text(name), id_.decode("ascii")) for kind, id_, name in rows if kind == _KIND)
    head = run_git(history.folder, "symbolic-ref", "--quiet", "HEAD")
    return Refs(
        tips={name: commit for name, commit in named if is_watchable(name)},
        default=visible_text(head.out.strip()) if head.status == 0 else None,
    )


_KIND = b"commit"


def new_commits(history: History, tip: str, known: Iterable[str]) -> tuple[str, ...]:
    """Ids of the commits that `tip` holds and none of `known` does, parents before children.

    Time stamps have no say in what comes before what. Ids of `known` that the repository no
    longer has are passed over. Raises RevisionError where it has no such `tip`.
    """
    asked = "".join(f"^{commit}\n" for commit in known) + f"{tip}\n"
    listed = run_git(
        history.folder,
        *("rev-list", "--topo-order", "--reverse", "--ignore-missing", "--stdin"),
        stdin=asked.encode("ascii"),
    )
    if listed.status or (history.objects.read(tip) or ("", b""))[0] != "commit":
        raise RevisionError(
            f"git cannot walk the commits of {history.folder} from {tip[:12]}: {listed.errors}"
        )
    return tuple(listed.out.decode("ascii").split())


def is_ancestor(history: History, older: str, newer: str) -> bool:
    """Whether `newer` was built on `older`; False where either is missing."""
    asked = run_git(history.folder, "merge-base", "--is-ancestor", "--end-of-options", older, newer)
    return asked.status == 0
