"""A finished review, left on a pull or merge request."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial

from reviewbot.publish.hosts import ChangeRequest, CommitStatus, Host
from reviewbot.report.markdown import to_markdown
from reviewbot.report.markdown_pictures import PictureUrl
from reviewbot.report.progress_markdown import progress_markdown
from reviewbot.report.report import Report

MARKER = "<!-- reviewbot review -->"
PROGRESS_MARKER = "<!-- reviewbot progress -->"
_PLAIN_ADDRESS = re.compile(r"https?://[A-Za-z0-9._~:/-]{1,500}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Posted:
    """What was left where.

    comment   its address; None where there was nothing to tell, and nothing told before
    pictures  how many were kept for it
    """

    comment: str | None
    pictures: int


def post_review(
    host: Host,
    request: ChangeRequest,
    report: Report,
    pictures: Mapping[str, bytes],
    *,
    is_passed: bool,
    more_at: str | None = None,
) -> Posted:
    """Pictures first, then the comment that shows them, then the status; again replaces all three.

    A request that touches no mesh, and never did, gets the status alone.

    pictures   by the file names that the report gives; only those that the comment shows are kept
    is_passed  by the gate
    more_at    where the whole report is kept, which the comment links to; None for nowhere

    Raises HostError where the host does not take one of them; what went before stays.
    """
    posted = Posted(comment=None, pictures=0)
    if report.assets or report.remarks or host.has_comment(request, marker=MARKER):
        write = partial(_review, report, more_at=more_at)
        posted = _post(host, request, write, pictures, marker=MARKER)
    status = CommitStatus(is_passed=is_passed, summary=report.summary, address=posted.comment)
    host.put_status(request.repository, request.head_commit, status)
    return posted


def post_progress(
    host: Host, issue: ChangeRequest, report: Report, pictures: Mapping[str, bytes]
) -> Posted:
    """A period's report as one comment on an issue; the next one takes its place.

    Raises HostError as `post_review` does.
    """
    return _post(host, issue, partial(_progress, report), pictures, marker=PROGRESS_MARKER)


def _review(report: Report, address: PictureUrl, *, more_at: str | None = None) -> str:
    return to_markdown(report, picture_url=address) + _link(more_at)


def _progress(report: Report, address: PictureUrl) -> str:
    return progress_markdown(report, picture_url=address)


def _post(
    host: Host,
    request: ChangeRequest,
    write: Callable[[PictureUrl], str],
    pictures: Mapping[str, bytes],
    *,
    marker: str,
) -> Posted:
    shown = {name: pictures[name] for name in _shown(write) if name in pictures}
    addresses = host.put_pictures(request, shown) if shown else {}
    if not shown:
        host.remove_pictures(request)
    comment = host.put_comment(request, write(_looked_up(addresses)), marker=marker)
    return Posted(comment=comment, pictures=len(shown))


def _link(address: str | None) -> str:
    """One more line, at most; an address that could be read as anything else is left out."""
    if address is None or not _PLAIN_ADDRESS.fullmatch(address):
        return ""
    return f"\nEverything, as a page of its own, is kept with [the job that reviewed]({address}).\n"


def shown_pictures(report: Report) -> list[str]:
    """The pictures that fit into the report's Markdown, in order, each once."""
    return _shown(partial(_review, report))


def _shown(write: Callable[[PictureUrl], str]) -> list[str]:
    asked: dict[str, str] = {}

    def address(name: str) -> str:
        return asked.setdefault(name, f"{_PLACEHOLDER}{len(asked):06}")

    text = write(address)
    return [name for name, placeholder in asked.items() if placeholder in text]


# As long as a real address, so that as many pictures find room.
_PLACEHOLDER = "https://code-host.example/" + "x" * 160 + "/"


def _looked_up(addresses: Mapping[str, str]) -> Callable[[str], str]:
    return lambda name: addresses.get(name, "")
