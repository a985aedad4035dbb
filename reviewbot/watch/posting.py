"""A commit's review where the team reads: on its request, or as the verdict beside the commit."""

from __future__ import annotations

import re
from dataclasses import dataclass

from reviewbot.errors import UsageError
from reviewbot.history.refs import request_number
from reviewbot.publish.clock import Clock, SystemClock
from reviewbot.publish.hosts import ChangeRequest, CommitStatus, Host
from reviewbot.publish.known_hosts import open_host
from reviewbot.publish.posting import post_review
from reviewbot.report.verdict import gate_status
from reviewbot.watch.places import Place
from reviewbot.watch.reports import Kept

_PUBLIC = {"github.com": "github", "gitlab.com": "gitlab"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Board:
    """Where reviews of one repository are posted.

    host        its name, as `known_hosts.open_host` takes it
    server      address of the site; None for the public one
    repository  as the host writes it, such as "studio/props"
    """

    host: str
    server: str | None
    repository: str


def board_of(place: Place, *, host: str | None, server: str | None, repository: str) -> Board:
    """Where a place's reviews go: as told, and where it is not told, as its address says.

    Raises UsageError where neither says it.
    """
    if place.address is None or not place.address.host:
        if host is None or not repository:
            raise UsageError(f"{place.name} has no host in its address: name --host and --repo")
        return Board(host=host, server=server, repository=repository)
    site = place.address.host
    named = host or _PUBLIC.get(site)
    if named is None:
        raise UsageError(f"{site} is no code host that is known here: say what it is with --host")
    if server is None and site not in _PUBLIC:
        # The port of ssh says nothing about that of the site.
        is_https = place.address.url.startswith("https://")
        server = f"https://{site if is_https else re.sub(':[0-9]+$', '', site)}"
    path = place.address.path.removesuffix(".git")
    return Board(host=named, server=server, repository=repository or path)


def post_kept(
    kept: Kept,
    board: Board,
    *,
    ref: str,
    commit: str,
    token: str,
    clock: Clock | None = None,
) -> None:
    """Posts a report; what stands there already is not written again.

    On a request its one comment is written or replaced; beside a commit on a branch goes the
    verdict. Raises UsageError for an unknown host or a missing token, HostError where the host
    does not take it.
    """
    host = open_host(board.host, token=token, web=board.server, clock=clock or SystemClock())
    try:
        _post(host, kept, board.repository, ref=ref, commit=commit)
    finally:
        host.close()


def _post(host: Host, kept: Kept, repository: str, *, ref: str, commit: str) -> None:
    is_passed = gate_status(kept.report) == 0
    number = request_number(ref)
    if number is None:
        status = CommitStatus(is_passed=is_passed, summary=kept.report.summary)
        host.put_status(repository, commit, status)
        return
    request = ChangeRequest(repository=repository, number=number, head_commit=commit)
    post_review(host, request, kept.report, kept.pictures, is_passed=is_passed)
