"""What would be sent, said instead of sent."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from reviewbot.publish.hosts import ChangeRequest, CommitStatus


class DryRun:
    """A `Host` that sends nothing.

    say  takes a line or more to show
    """

    def __init__(self, say: Callable[[str], None]) -> None:
        self._say = say

    def close(self) -> None:
        """There is no connection to end."""

    def find_request(
        self, repository: str, *, head_commit: str, head_repository: str
    ) -> ChangeRequest | None:
        """See `Host`; none is looked for."""
        self._say(f"look in {repository} for the request of {head_commit} from {head_repository}")
        return None

    def file_id(self, repository: str, *, commit: str, path: str) -> str | None:
        """See `Host`; what is asked has the same answer everywhere."""
        self._say(f"look in {repository} for {path} of {commit}")
        return path

    def has_comment(self, request: ChangeRequest, *, marker: str) -> bool:
        """See `Host`; none is looked for."""
        self._say(f"look for an earlier comment on {_name(request)}: {marker}")
        return False

    def put_comment(self, request: ChangeRequest, body: str, *, marker: str) -> str:
        """See `Host`."""
        self._say(f"comment on {_name(request)}, {len(marker) + 1 + len(body):,} characters:")
        self._say(f"{marker}\n{body}")
        return f"(the comment on {_name(request)})"

    def put_pictures(self, request: ChangeRequest, pictures: Mapping[str, bytes]) -> dict[str, str]:
        """See `Host`; a picture's address is its own name."""
        for name, data in pictures.items():
            self._say(f"picture for {_name(request)}: {name}, {len(data):,} bytes")
        return {name: name for name in pictures}

    def remove_pictures(self, request: ChangeRequest) -> None:
        """See `Host`."""
        self._say(f"drop the pictures of {_name(request)}")

    def put_status(self, repository: str, commit: str, status: CommitStatus) -> None:
        """See `Host`."""
        verdict = "passed" if status.is_passed else "failed"
        self._say(f"status of {commit} in {repository}: {verdict}, {status.summary}")

    def open_issue(self, repository: str, *, title: str, body: str, marker: str) -> str:
        """See `Host`."""
        self._say(f"issue in {repository}: {title}")
        self._say(f"{marker}\n{body}")
        return f"(the issue in {repository})"


def _name(request: ChangeRequest) -> str:
    kind = "issue" if request.is_issue else "request"
    return f"{request.repository}, {kind} {request.number}"
