"""Reviews on GitLab's merge requests, by its REST interface, version 4.

Source: https://docs.gitlab.com/api/ (merge requests, notes, commits, Markdown uploads, issues).
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from pathlib import PurePosixPath
from urllib.parse import quote

import httpx

from reviewbot.errors import HostError
from reviewbot.publish.api import Api, Json
from reviewbot.publish.clock import Clock
from reviewbot.publish.hosts import (
    STATUS_NAME,
    ChangeRequest,
    CommitStatus,
    is_commit,
    shortened,
)
from reviewbot.publish.marked import first_own, put_once, stands_already

WEB = "https://gitlab.com"
_DESCRIPTION = 255  # characters that a status may have; from memory
_PROJECT = re.compile(r"[A-Za-z0-9_.-]{1,255}(?:/[A-Za-z0-9_.-]{1,255}){1,20}")
_UPLOAD = re.compile(r"/uploads/([0-9a-f]{32})/([A-Za-z0-9_.-]+)")
_GONE = frozenset({404})
# Only a maintainer may delete an upload, and older versions cannot.
_NOT_DELETED = frozenset({403, 404, 405})


class GitLab:
    """A `Host`.

    token  sent in a header and nowhere else
    web    the address of the site; the interface lies below it
    """

    def __init__(
        self,
        *,
        token: str,
        clock: Clock,
        web: str = WEB,
        transport: httpx.BaseTransport | None = None,
    ) -> None:
        self._web = web.rstrip("/")
        headers = {"private-token": token, "user-agent": "reviewbot"}
        self._api = Api(f"{self._web}/api/v4", headers=headers, clock=clock, transport=transport)
        self._account: str | None = None

    def close(self) -> None:
        self._api.close()

    def find_request(
        self, repository: str, *, head_commit: str, head_repository: str
    ) -> ChangeRequest | None:
        """See `Host`."""
        source = self._api.call("GET", _at(head_repository)).body["id"]
        requests = self._api.pages(f"{_at(repository)}/merge_requests", {"state": "opened"})
        for request in requests:
            if request["sha"] == head_commit and request["source_project_id"] == source:
                return ChangeRequest(
                    repository=repository, number=int(request["iid"]), head_commit=head_commit
                )
        return None

    def file_id(self, repository: str, *, commit: str, path: str) -> str | None:
        """See `Host`."""
        if not is_commit(commit):
            raise HostError("a file is looked up at a full commit id")
        where = f"{_at(repository)}/repository/files/{quote(path, safe='')}?ref={commit}"
        answer = self._api.call("GET", where, allow=_GONE)
        return str(answer.body["blob_id"]) if answer.status < 300 else None

    def has_comment(self, request: ChangeRequest, *, marker: str) -> bool:
        """See `Host`."""
        return self._own_note(request, marker) is not None

    def put_comment(self, request: ChangeRequest, body: str, *, marker: str) -> str:
        """See `Host`."""
        notes = _notes(request)
        text = {"body": f"{marker}\n{body}"}

        def write() -> str:
            return self._note(request, self._api.call("POST", notes, json=text, once=True).body)

        def edit(earlier: Json) -> str:
            path = f"{notes}/{int(earlier['id'])}"
            return self._note(request, self._api.call("PUT", path, json=text).body)

        return put_once(lambda: self._own_note(request, marker), write, edit)

    def put_pictures(self, request: ChangeRequest, pictures: Mapping[str, bytes]) -> dict[str, str]:
        """See `Host`. Uploads of the project; earlier ones go as far as that is allowed."""
        self.remove_pictures(request)
        uploads = f"{_at(request.repository)}/uploads"
        found = {}
        for name, data in pictures.items():
            file = (PurePosixPath(name).name, data)
            found[name] = self._web + str(self._api.upload(uploads, "file", file)["full_path"])
        return found

    def remove_pictures(self, request: ChangeRequest) -> None:
        """See `Host`. They are the uploads that this account's comments show."""
        shown = {
            upload
            for note in self._api.pages(_notes(request))
            if (note["author"] or {}).get("username") == self._own()
            for upload in _UPLOAD.findall(note["body"])
        }
        for secret, name in sorted(shown):
            path = f"{_at(request.repository)}/uploads/{secret}/{name}"
            self._api.call("DELETE", path, allow=_NOT_DELETED)

    def put_status(self, repository: str, commit: str, status: CommitStatus) -> None:
        """See `Host`."""
        if not is_commit(commit):
            raise HostError("a status needs a full commit id")
        body = {
            "state": "success" if status.is_passed else "failed",
            "name": STATUS_NAME,
            "description": shortened(status.summary, _DESCRIPTION),
            **({"target_url": status.address} if status.address else {}),
        }
        where = f"{_at(repository)}/repository/commits/{commit}/statuses"
        written = self._api.pages(where, {"name": STATUS_NAME})
        if not stands_already(written, body, name="name"):
            self._api.call("POST", f"{_at(repository)}/statuses/{commit}", json=body)

    def open_issue(self, repository: str, *, title: str, body: str, marker: str) -> str:
        """See `Host`."""
        at = _at(repository)
        text = f"{marker}\n{body}"
        issues = self._api.pages(f"{at}/issues", {"state": "opened"})
        named = (issue for issue in issues if issue["title"] == title)
        found = self._first_own(named, "description", marker)
        if found is not None:
            path = f"{at}/issues/{int(found['iid'])}/notes"
            note = self._api.call("POST", path, json={"body": text}, once=True).body
            return f"{found['web_url']}#note_{note['id']}"
        sent = {"title": title, "description": text}
        return str(self._api.call("POST", f"{at}/issues", json=sent, once=True).body["web_url"])

    def _own_note(self, request: ChangeRequest, marker: str) -> Json | None:
        return self._first_own(self._api.pages(_notes(request)), "body", marker)

    def _first_own(self, written: Iterable[Json], text: str, marker: str) -> Json | None:
        author = ("author", "username")
        return first_own(written, author=author, text=text, account=self._own(), marker=marker)

    def _own(self) -> str:
        if self._account is None:
            self._account = str(self._api.call("GET", "/user").body["username"])
        return self._account

    def _note(self, request: ChangeRequest, note: Json) -> str:
        page = f"{self._web}/{request.repository}/-/{_thread(request)}"
        return f"{page}#note_{int(note['id'])}"


def _thread(request: ChangeRequest) -> str:
    return f"{'issues' if request.is_issue else 'merge_requests'}/{int(request.number)}"


def _notes(request: ChangeRequest) -> str:
    return f"{_at(request.repository)}/{_thread(request)}/notes"


def _at(project: str) -> str:
    if not _PROJECT.fullmatch(project) or any(part in (".", "..") for part in project.split("/")):
        raise HostError("a project on GitLab is given as group/project")
    return f"/projects/{quote(project, safe='')}"
