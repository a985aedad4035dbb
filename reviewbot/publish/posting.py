"""A finished review, left on a pull or merge request."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from reviewbot.publish.hosts import ChangeRequest, CommitStatus, Host
from reviewbot.report.markdown import to_markdown
from reviewbot.report.report import Report

MARKER = "<!-- reviewbot review -->"


@dataclass(frozen=True, slots=True, kw_only=True)
class Posted:
    """What was left where. comment  its address; pictures  how many were kept for it"""

    comment: str
    pictures: int


def post_review(
    host: Host,
    request: ChangeRequest,
    report: Report,
    pictures: Mapping[str, bytes],
    *,
    is_passed: bool,
) -> Posted:
    """Pictures first, then the comment that shows them, then the status; again replaces all three.

    pictures   by the file names that the report gives; only those that the comment shows are kept
    is_passed  by the gate

    Raises HostError where the host does not take one of them; what went before stays.
    """
    shown = {name: pictures[name] for name in shown_pictures(report) if name in pictures}
    addresses = host.put_pictures(request, shown) if shown else {}
    if not shown:
        host.remove_pictures(request)
    body = to_markdown(report, picture_url=_looked_up(addresses))
    comment = host.put_comment(request, body, marker=MARKER)
    status = CommitStatus(is_passed=is_passed, summary=report.summary, address=comment)
    host.put_status(request.repository, request.head_commit, status)
    return Posted(comment=comment, pictures=len(shown))


def shown_pictures(report: Report) -> list[str]:
    """The pictures that fit into the report's Markdown, in order, each once."""
    asked: dict[str, str] = {}

    def address(name: str) -> str:
        return asked.setdefault(name, f"{_PLACEHOLDER}{len(asked):06}")

    text = to_markdown(report, picture_url=address)
    return [name for name, placeholder in asked.items() if placeholder in text]


# As long as a real address, so that as many pictures find room.
_PLACEHOLDER = "https://code-host.example/" + "x" * 160 + "/"


def _looked_up(addresses: Mapping[str, str]) -> Callable[[str], str]:
    return lambda name: addresses.get(name, "")
