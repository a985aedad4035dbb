"""A finished review, sent to the request that a destination names."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace

from reviewbot.publish.clock import SystemClock
from reviewbot.publish.destination import TOKEN_VARIABLE, Destination, requested
from reviewbot.publish.dry_run import DryRun
from reviewbot.publish.hosts import Host
from reviewbot.publish.known_hosts import open_host
from reviewbot.publish.posting import post_review
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

    Raises UsageError for an unknown host, a missing token or a request that is not there, and
    HostError where the host does not take it.
    """
    host: Host = DryRun(say) if is_dry else _opened(destination, environment)
    try:
        # Who only looks at what would be sent asks no host for the number.
        known = replace(destination, number=destination.number or 0) if is_dry else destination
        request = requested(host, known)
        posted = post_review(host, request, report, pictures, is_passed=gate_status(report) == 0)
    finally:
        host.close()
    if not is_dry:
        say(f"posted: {posted.comment}")


def _opened(destination: Destination, environment: Mapping[str, str]) -> Host:
    token = environment.get(TOKEN_VARIABLE, "")
    return open_host(destination.host, token=token, web=destination.server, clock=SystemClock())
