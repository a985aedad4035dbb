"""Reviews on GitHub, by its REST interface; GitHub Enterprise by another base address.

Source: https://docs.github.com/rest (version 2022-11-28).
"""

from __future__ import annotations

import base64
import re
from collections.abc import Iterator, Mapping
from urllib.parse import quote

import httpx

from reviewbot.errors import HostError
from reviewbot.publish.api import Api, Json, UnsureError
from reviewbot.publish.clock import Clock
from reviewbot.publish.hosts import ChangeRequest, CommitStatus, shortened

API = "https://api.github.com"
WEB = "https://github.com"
ACTIONS_ACCOUNT = "github-actions[bot]"
STATUS_NAME = "reviewbot"
_DESCRIPTION = 140  # characters that a status may have
_REPOSITORY = re.compile(r"[A-Za-z0-9_.-]{1,100}/[A-Za-z0-9_.-]{1,100}")
_COMMIT = re.compile(r"[0-9a-f]{40}")
_NONE = frozenset({404, 422})  # how a reference that is not there is answered
_NO_ACCOUNT = frozenset({403})


class GitHub:
    """A `Host`.

    token    sent in a header and nowhere else
    account  this tool's own login; None asks, and takes the job's own account where a job's token
             may not ask
    """

    def __init__(
        self,
        *,
        token: str,
        clock: Clock,
        api: str = API,
        web: str = WEB,
        account: str | None = None,
        transport: httpx.BaseTransport | None = None,
    ) -> None:
        headers = {
            "accept": "application/vnd.github+json",
            "authorization": f"Bearer {token}",
            "user-agent": "reviewbot",
            "x-github-api-version": "2022-11-28",
        }
        self._api = Api(api, headers=headers, clock=clock, transport=transport)
        self._web = web.rstrip("/")
        self._account = account

    def close(self) -> None:
        self._api.close()

    def find_request(
        self, repository: str, *, head_commit: str, head_repository: str
    ) -> ChangeRequest | None:
        """See `Host`."""
        for pull in self._api.pages(f"{_at(repository)}/pulls", {"state": "open"}):
            head = pull["head"]
            # The fork may be gone: then it is null.
            comes_from = (head["repo"] or {}).get("full_name", "")
            if head["sha"] == head_commit and comes_from.lower() == head_repository.lower():
                return ChangeRequest(
                    repository=repository, number=int(pull["number"]), head_commit=head_commit
                )
        return None

    def put_comment(self, request: ChangeRequest, body: str, *, marker: str) -> str:
        """See `Host`."""
        return self._put_marked(
            _at(request.repository), request.number, f"{marker}\n{body}", marker=marker
        )

    def put_pictures(self, request: ChangeRequest, pictures: Mapping[str, bytes]) -> dict[str, str]:
        """See `Host`. One commit without parents at a reference of the request's own."""
        at = _at(request.repository)
        entries = [
            {"path": name, "mode": "100644", "type": "blob", "sha": self._blob(at, data)}
            for name, data in sorted(pictures.items())
        ]
        tree = self._post(f"{at}/git/trees", {"tree": entries})["sha"]
        commit = {"message": "Pictures of a review", "tree": tree, "parents": []}
        commit_id = self._post(f"{at}/git/commits", commit)["sha"]
        self._point(at, _reference(request), commit_id)
        where = f"{self._web}/{request.repository}/blob/{commit_id}"
        return {name: f"{where}/{quote(name)}?raw=true" for name in pictures}

    def remove_pictures(self, request: ChangeRequest) -> None:
        """See `Host`."""
        path = f"{_at(request.repository)}/git/refs/{_reference(request)}"
        self._api.call("DELETE", path, allow=_NONE)

    def put_status(self, repository: str, commit: str, status: CommitStatus) -> None:
        """See `Host`."""
        if not _COMMIT.fullmatch(commit):
            raise HostError("a status needs a full commit id")
        body = {
            "state": "success" if status.is_passed else "failure",
            "description": shortened(status.summary, _DESCRIPTION),
            "context": STATUS_NAME,
            **({"target_url": status.address} if status.address else {}),
        }
        self._post(f"{_at(repository)}/statuses/{commit}", body)

    def open_issue(self, repository: str, *, title: str, body: str, marker: str) -> str:
        """See `Host`."""
        at = _at(repository)
        for issue in self._api.pages(f"{at}/issues", {"state": "open"}):
            if issue["title"] == title and self._is_own(issue, marker):
                path = f"{at}/issues/{issue['number']}/comments"
                return self._write_once(path, {"body": f"{marker}\n{body}"})
        return self._write_once(f"{at}/issues", {"title": title, "body": f"{marker}\n{body}"})

    def _put_marked(self, at: str, number: int, text: str, *, marker: str) -> str:
        earlier = next(self._own_comments(at, number, marker), None)
        if earlier is None:
            try:
                return self._write_once(f"{at}/issues/{number}/comments", {"body": text})
            except UnsureError:
                earlier = next(self._own_comments(at, number, marker), None)
                if earlier is None:
                    raise
        path = f"{at}/issues/comments/{int(earlier['id'])}"
        return str(self._api.call("PATCH", path, json={"body": text}).body["html_url"])

    def _own_comments(self, at: str, number: int, marker: str) -> Iterator[Json]:
        comments = self._api.pages(f"{at}/issues/{number}/comments")
        return (comment for comment in comments if self._is_own(comment, marker))

    def _is_own(self, written: Json, marker: str) -> bool:
        """Marker and author both: anybody can write the marker."""
        author = (written["user"] or {}).get("login")
        return author == self._own_account() and (written["body"] or "").startswith(marker)

    def _own_account(self) -> str:
        if self._account is None:
            answer = self._api.call("GET", "/user", allow=_NO_ACCOUNT)
            self._account = str(answer.body["login"]) if answer.status < 300 else ACTIONS_ACCOUNT
        return self._account

    def _blob(self, at: str, data: bytes) -> str:
        body = {"content": base64.b64encode(data).decode("ascii"), "encoding": "base64"}
        return str(self._post(f"{at}/git/blobs", body)["sha"])

    def _point(self, at: str, reference: str, commit_id: str) -> None:
        """Makes a reference point at a commit, wherever it pointed before."""
        body = {"sha": commit_id, "force": True}
        moved = self._api.call("PATCH", f"{at}/git/refs/{reference}", json=body, allow=_NONE)
        if moved.status >= 300:
            self._post(f"{at}/git/refs", {"ref": f"refs/{reference}", "sha": commit_id})

    def _write_once(self, path: str, body: Json) -> str:
        """The address of what was written; raises UnsureError where it may have been."""
        return str(self._api.call("POST", path, json=body, once=True).body["html_url"])

    def _post(self, path: str, body: Json) -> Json:
        return self._api.call("POST", path, json=body).body


def _at(repository: str) -> str:
    if not _REPOSITORY.fullmatch(repository) or ".." in repository:
        raise HostError("a repository on GitHub is given as owner/name")
    return f"/repos/{repository}"


def _reference(request: ChangeRequest) -> str:
    return f"reviewbot/pull/{int(request.number)}"
