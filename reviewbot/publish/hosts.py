"""What a code host must be able to do for a review to be read where the team already reads."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Protocol

STATUS_NAME = "reviewbot"
_COMMIT = re.compile(r"[0-9a-f]{40}(?:[0-9a-f]{24})?")


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeRequest:
    """A pull or merge request, or an issue.

    repository   as the host writes it, such as "studio/props"
    head_commit  full id of its newest commit; "" for an issue
    is_issue     some hosts count issues apart from requests
    """

    repository: str
    number: int
    head_commit: str
    is_issue: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class CommitStatus:
    """The verdict beside a commit.

    is_passed  by the gate
    summary    one plain sentence; what is too long for the host is cut with an ellipsis
    address    where to read more, or None
    """

    is_passed: bool
    summary: str
    address: str | None = None


class Host(Protocol):
    """One code host; every method raises HostError where the host refuses or cannot be reached."""

    def close(self) -> None:
        """Ends the connection."""

    def find_request(
        self, repository: str, *, head_commit: str, head_repository: str
    ) -> ChangeRequest | None:
        """The open request whose newest commit is this one, from this repository or fork."""

    def file_id(self, repository: str, *, commit: str, path: str) -> str | None:
        """The id of a file's bytes at a commit; None where there is no such file."""

    def has_comment(self, request: ChangeRequest, *, marker: str) -> bool:
        """Whether this account left a comment with this marker there already."""

    def put_comment(self, request: ChangeRequest, body: str, *, marker: str) -> str:
        """Leaves one comment with this marker, by this account: the earlier one is replaced.

        marker   an unseen line that begins the comment; a comment that somebody else wrote is
                 left alone, whatever it begins with
        returns  the comment's address
        """

    def put_pictures(self, request: ChangeRequest, pictures: Mapping[str, bytes]) -> dict[str, str]:
        """Keeps these pictures for a request, in place of earlier ones; addresses by name."""

    def remove_pictures(self, request: ChangeRequest) -> None:
        """Drops a request's pictures; none is fine."""

    def put_status(self, repository: str, commit: str, status: CommitStatus) -> None:
        """Sets this tool's status beside a commit, unless it stands there already."""

    def open_issue(self, repository: str, *, title: str, body: str, marker: str) -> str:
        """One open issue with this title and marker, by this account; later bodies become comments.

        returns  the address of what was written
        """


def is_commit(text: str) -> bool:
    """Whether this is a full commit id."""
    return _COMMIT.fullmatch(text) is not None


def shortened(text: str, limit: int) -> str:
    """Text of at most `limit` characters; what is cut ends in an ellipsis."""
    return text if len(text) <= limit else text[: limit - 1].rstrip() + "…"
