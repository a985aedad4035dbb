"""What GitHub, Gitea and Forgejo have in common: pulls, comments, issues and statuses.

Their REST interfaces agree on these calls and fields; pictures are kept differently.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from urllib.parse import quote

from reviewbot.errors import HostError
from reviewbot.publish.api import Api, Json
from reviewbot.publish.hosts import STATUS_NAME, ChangeRequest, CommitStatus, is_commit, shortened
from reviewbot.publish.marked import first_own, put_once, stands_already

_REPOSITORY = re.compile(r"[A-Za-z0-9_.-]{1,100}/[A-Za-z0-9_.-]{1,100}")
_GONE = frozenset({404})
_DESCRIPTION = 140  # characters that a status may have


class Tracker:
    """The common part of a `Host`.

    account          this tool's own login; None asks
    where_not_asked  the account of a token that may not ask; None lets the host's refusal stand
    """

    def __init__(self, api: Api, *, account: str | None, where_not_asked: str | None) -> None:
        self._api = api
        self._account = account
        self._where_not_asked = where_not_asked

    def close(self) -> None:
        """Ends the connection."""
        self._api.close()

    def find_request(
        self, repository: str, *, head_commit: str, head_repository: str
    ) -> ChangeRequest | None:
        """See `Host`."""
        for pull in self._api.pages(f"{at(repository)}/pulls", {"state": "open"}):
            head = pull["head"]
            # The fork may be gone: then it is null.
            comes_from = (head["repo"] or {}).get("full_name", "")
            if head["sha"] == head_commit and comes_from.lower() == head_repository.lower():
                return ChangeRequest(
                    repository=repository, number=int(pull["number"]), head_commit=head_commit
                )
        return None

    def file_id(self, repository: str, *, commit: str, path: str) -> str | None:
        """See `Host`."""
        if not is_commit(commit):
            raise HostError("a file is looked up at a full commit id")
        where = f"{at(repository)}/contents/{quote(path)}?ref={commit}"
        answer = self._api.call("GET", where, allow=_GONE)
        # A folder is answered by a list.
        is_file = answer.status < 300 and isinstance(answer.body, dict)
        return str(answer.body["sha"]) if is_file else None

    def has_comment(self, request: ChangeRequest, *, marker: str) -> bool:
        """See `Host`."""
        return self._own_comment(request, marker) is not None

    def put_comment(self, request: ChangeRequest, body: str, *, marker: str) -> str:
        """See `Host`."""
        text = {"body": f"{marker}\n{body}"}

        def edit(earlier: Json) -> str:
            path = f"{at(request.repository)}/issues/comments/{int(earlier['id'])}"
            return str(self._api.call("PATCH", path, json=text).body["html_url"])

        return put_once(
            lambda: self._own_comment(request, marker),
            lambda: self._write_once(_comments(request), text),
            edit,
        )

    def put_status(self, repository: str, commit: str, status: CommitStatus) -> None:
        """See `Host`."""
        if not is_commit(commit):
            raise HostError("a status needs a full commit id")
        body = {
            "state": "success" if status.is_passed else "failure",
            "description": shortened(status.summary, _DESCRIPTION),
            "context": STATUS_NAME,
            **({"target_url": status.address} if status.address else {}),
        }
        written = self._api.pages(f"{at(repository)}/commits/{commit}/statuses")
        if not stands_already(written, body, name="context"):
            self._api.call("POST", f"{at(repository)}/statuses/{commit}", json=body)

    def open_issue(self, repository: str, *, title: str, body: str, marker: str) -> str:
        """See `Host`."""
        issues = f"{at(repository)}/issues"
        text = f"{marker}\n{body}"
        named = (
            issue for issue in self._api.pages(issues, {"state": "open"}) if issue["title"] == title
        )
        found = self._first_own(named, marker)
        if found is not None:
            return self._write_once(f"{issues}/{int(found['number'])}/comments", {"body": text})
        return self._write_once(issues, {"title": title, "body": text})

    def _write_once(self, path: str, body: Json) -> str:
        """The address of what was written; raises UnsureError where it may have been."""
        return str(self._api.call("POST", path, json=body, once=True).body["html_url"])

    def _own_comment(self, request: ChangeRequest, marker: str) -> Json | None:
        return self._first_own(self._api.pages(_comments(request)), marker)

    def _first_own(self, written: Iterable[Json], marker: str) -> Json | None:
        return first_own(
            written, author=("user", "login"), text="body", account=self._own(), marker=marker
        )

    def _own(self) -> str:
        if self._account is None:
            may_refuse = frozenset({403} if self._where_not_asked else ())
            answer = self._api.call("GET", "/user", allow=may_refuse)
            refused = answer.status >= 300
            self._account = str(self._where_not_asked if refused else answer.body["login"])
        return self._account


def _comments(request: ChangeRequest) -> str:
    return f"{at(request.repository)}/issues/{int(request.number)}/comments"


def at(repository: str) -> str:
    """Where a repository's calls lie. Raises HostError for what is not owner/name."""
    if not _REPOSITORY.fullmatch(repository) or ".." in repository:
        raise HostError("a repository on this host is given as owner/name")
    return f"/repos/{repository}"
