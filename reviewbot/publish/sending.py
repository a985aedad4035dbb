"""A finished review, sent to the request that a destination names."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace

from reviewbot.errors import UsageError
from reviewbot.publish.clock import SystemClock
from reviewbot.publish.destination import (
    TOKEN_VARIABLE,
    Destination,
    IssueAddress,
    requested,
    require_same_workflow,
)
from reviewbot.publish.dry_run import DryRun
from reviewbot.publish.hosts import ChangeRequest, Host
from reviewbot.publish.known_hosts import open_host
from reviewbot.publish.posting import post_progress, post_review
from reviewbot.report.report import Report
from reviewbot.report.verdict import gate_status


def send(
    report: Report,
    pictures: Mapping[str, bytes],
    destination: Destination,
    *,
    environment: Mapping[str, str],
    say: Callable[[str], None],
    is_dry: bool,
) -> None:
    """Posts a review, or says what would be sent.

    environment  holds the token; a dry run needs none

    Raises UsageError for an unknown host, a missing token, a request that is not there or one that
    changes what made the report, and HostError where the host does not take it.
    """
    host = _opened(destination.host, destination.server, environment, say=say, is_dry=is_dry)
    try:
        require_same_workflow(host, destination)
        # Who only looks at what would be sent asks no host for the number.
        known = replace(destination, number=destination.number or 0) if is_dry else destination
        request = requested(host, known)
        posted = post_review(
            host,
            request,
            report,
            pictures,
            is_passed=gate_status(report) == 0,
            more_at=destination.more_at,
        )
    finally:
        host.close()
    if not is_dry:
        say(f"posted: {posted.comment or 'a status, for no mesh changed'}")


def send_progress(
    report: Report,
    pictures: Mapping[str, bytes],
    address: IssueAddress,
    *,
    environment: Mapping[str, str],
    say: Callable[[str], None],
    is_dry: bool,
) -> None:
    """Posts a period's report on an issue, or says what would be sent; see `send`."""
    host = _opened(address.host, address.server, environment, say=say, is_dry=is_dry)
    issue = ChangeRequest(
        repository=address.repository, number=address.number, head_commit="", is_issue=True
    )
    try:
        posted = post_progress(host, issue, report, pictures)
    finally:
        host.close()
    if not is_dry:
        say(f"posted: {posted.comment}")


def drop_pictures(
    *,
    host: str,
    server: str | None,
    repository: str,
    number: int | None,
    environment: Mapping[str, str],
    say: Callable[[str], None],
    is_dry: bool,
) -> None:
    """Drops the pictures of a request that was closed; none is fine.

    Raises UsageError where the request's number is not known, and as `send` does.
    """
    if number is None:
        raise UsageError("name the request whose pictures are to go: --request")
    opened = _opened(host, server, environment, say=say, is_dry=is_dry)
    try:
        opened.remove_pictures(ChangeRequest(repository=repository, number=number, head_commit=""))
    finally:
        opened.close()
    if not is_dry:
        say(f"request {number} of {repository} has no pictures here any more")


def _opened(
    host: str,
    server: str | None,
    environment: Mapping[str, str],
    *,
    say: Callable[[str], None],
    is_dry: bool,
) -> Host:
    if is_dry:
        return DryRun(say)
    return open_host(
        host, token=environment.get(TOKEN_VARIABLE, ""), web=server, clock=SystemClock()
    )
