"""A stand-in for GitHub: remembers what it was sent, and may be told to fail.

Requests and answers are both held to the published OpenAPI description (see
tests/publish/github/README.md).
"""

from __future__ import annotations

import base64
import hashlib
import json
import re
from collections import deque
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import httpx
from openapi_core import OpenAPI
from openapi_core.testing import MockRequest, MockResponse

FOLDER = Path(__file__).parent / "publish" / "github"
API = "https://api.github.com"
BOT = "lantern-bot"
TIME = "2025-03-17T10:12:00Z"
DESCRIPTION = OpenAPI.from_file_path(str(FOLDER / "api.json"))
OPENED: dict[str, Any] = json.loads((FOLDER / "pull_request_opened.json").read_text("utf-8"))


# The example is older than the description.
PULL: dict[str, Any] = {**OPENED["pull_request"], "auto_merge": None}


def user(login: str) -> dict[str, Any]:
    return {**OPENED["sender"], "login": login}


@dataclass
class FakeClock:
    """Time that passes only when somebody waits."""

    seconds: float = 1_700_000_000.0
    waits: list[float] = field(default_factory=list)

    def now(self) -> float:
        return self.seconds

    def sleep(self, seconds: float) -> None:
        self.waits.append(seconds)
        self.seconds += seconds


@dataclass
class StandIn:
    """The host's state.

    failures   answers given instead of the next ones: a status with headers, an exception, or
               "after": the call is carried out and its answer lost
    may_ask    whether the token may ask whose it is
    is_odd     answers may be other than described, as real ones are now and then
    page_size  items of a list on one page at the most
    """

    comments: dict[int, dict[str, Any]] = field(default_factory=dict)
    issues: list[dict[str, Any]] = field(default_factory=list)
    pulls: list[dict[str, Any]] = field(default_factory=list)
    statuses: list[dict[str, Any]] = field(default_factory=list)
    blobs: dict[str, str] = field(default_factory=dict)
    trees: dict[str, list[dict[str, str]]] = field(default_factory=dict)
    commits: dict[str, dict[str, Any]] = field(default_factory=dict)
    refs: dict[str, str] = field(default_factory=dict)
    files: dict[tuple[str, str], str] = field(default_factory=dict)  # text by commit and path
    failures: deque[httpx.Response | Exception | str] = field(default_factory=deque)
    calls: list[tuple[str, str]] = field(default_factory=list)
    may_ask: bool = True
    is_odd: bool = False
    page_size: int = 100
    _next: int = 100

    def transport(self) -> httpx.MockTransport:
        return httpx.MockTransport(self.answer)

    def add_comment(self, login: str, body: str, issue: int = 2) -> int:
        self._next += 1
        self.comments[self._next] = self._comment(self._next, login, body, issue)
        return self._next

    def answer(self, request: httpx.Request) -> httpx.Response:
        check_request(request)
        self.calls.append((request.method, request.url.path))
        failure = self.failures.popleft() if self.failures else None
        if isinstance(failure, Exception):
            raise failure
        if isinstance(failure, httpx.Response):
            return failure
        status, body, headers = self._carry_out(request)
        response = httpx.Response(status, json=body, headers=headers)
        if status == 204:
            response = httpx.Response(204)
        if not self.is_odd:
            check_response(request, response)
        if failure == "after":
            raise httpx.ReadTimeout("lost")
        return response

    def _carry_out(self, request: httpx.Request) -> tuple[int, Any, dict[str, str]]:
        sent = json.loads(request.content) if request.content else None
        where = "/".join(request.url.path.strip("/").split("/")[3:])
        if request.url.path == "/user":
            if self.may_ask:
                return 200, user(BOT) | {"public_repos": 0, **_COUNTS}, {}
            return 403, {"message": "Resource not accessible by integration"}, {}
        for pattern, answer in self._routes().items():
            method, _, path = pattern.partition(" ")
            found = re.fullmatch(path, where)
            if found and method == request.method:
                return answer(request, sent, *found.groups())  # type: ignore[no-any-return]
        return 404, {"message": "Not Found"}, {}

    def _routes(self) -> dict[str, Any]:
        return {
            r"GET issues/(\d+)/comments": lambda request, _, issue: self._page(
                request, [c for c in self.comments.values() if c["issue_url"].endswith("/" + issue)]
            ),
            r"POST issues/(\d+)/comments": lambda _, sent, issue: (
                201,
                self.comments[self.add_comment(self._me(), sent["body"], int(issue))],
                {},
            ),
            r"PATCH issues/comments/(\d+)": self._edit,
            r"GET issues": lambda request, _: self._page(request, self.issues),
            r"POST issues": self._open,
            r"GET contents/(.+)": self._show_file,
            r"GET pulls": lambda request, _: self._page(request, self.pulls),
            r"POST statuses/(\w+)": self._set_status,
            r"GET commits/(\w+)/statuses": lambda request, _, sha: self._page(
                request, [made for made in reversed(self.statuses) if made["sha"] == sha]
            ),
            r"POST git/blobs": self._add_blob,
            r"POST git/trees": self._add_tree,
            r"POST git/commits": self._add_commit,
            r"POST git/refs": self._add_ref,
            r"PATCH git/refs/(.+)": self._move_ref,
            r"DELETE git/refs/(.+)": self._drop_ref,
        }

    def _me(self) -> str:
        return BOT if self.may_ask else "github-actions[bot]"

    def _page(self, request: httpx.Request, items: list[Any]) -> tuple[int, Any, dict[str, str]]:
        size = min(self.page_size, int(request.url.params.get("per_page", "30")))
        page = int(request.url.params.get("page", "1"))
        headers = {}
        if page * size < len(items):
            following = request.url.copy_set_param("page", str(page + 1))
            headers["link"] = f'<{following}>; rel="next", <{following}>; rel="last"'
        return 200, items[(page - 1) * size : page * size], headers

    def _comment(self, number: int, login: str, body: str, issue: int) -> dict[str, Any]:
        at = f"{API}/repos/studio/props/issues"
        return {
            "id": number,
            "node_id": "IC",
            "url": f"{at}/comments/{number}",
            "html_url": f"https://github.com/studio/props/pull/{issue}#issuecomment-{number}",
            "issue_url": f"{at}/{issue}",
            "user": user(login),
            "created_at": TIME,
            "updated_at": TIME,
            "author_association": "NONE",
            "body": body,
        }

    def _edit(self, _: httpx.Request, sent: Any, number: str) -> tuple[int, Any, dict[str, str]]:
        comment = self.comments[int(number)]
        if comment["user"]["login"] != self._me():
            return 403, {"message": "You cannot edit this comment."}, {}
        comment["body"] = sent["body"]
        return 200, comment, {}

    def _open(self, _: httpx.Request, sent: Any) -> tuple[int, Any, dict[str, str]]:
        number = 50 + len(self.issues)
        at = f"{API}/repos/studio/props/issues/{number}"
        self.issues.append(
            {
                "id": number,
                "node_id": "I",
                "number": number,
                "url": at,
                "repository_url": f"{API}/repos/studio/props",
                "labels_url": at + "/labels{/name}",
                "comments_url": at + "/comments",
                "events_url": at + "/events",
                "html_url": f"https://github.com/studio/props/issues/{number}",
                "user": user(self._me()),
                "labels": [],
                "state": "open",
                "locked": False,
                "assignee": None,
                "milestone": None,
                "comments": 0,
                "created_at": TIME,
                "updated_at": TIME,
                "closed_at": None,
                "author_association": "NONE",
                "title": sent["title"],
                "body": sent["body"],
            }
        )
        return 201, self.issues[-1], {}

    def _show_file(
        self, request: httpx.Request, _: Any, path: str
    ) -> tuple[int, Any, dict[str, str]]:
        text = self.files.get((request.url.params["ref"], path))
        if text is None:
            return 404, {"message": "Not Found"}, {}
        at = f"{API}/repos/studio/props/contents/{path}"
        shown = {
            "type": "file",
            "encoding": "base64",
            "content": base64.b64encode(text.encode()).decode(),
            "size": len(text),
            "name": path.rpartition("/")[2],
            "path": path,
            "sha": _sha("blob" + text),
            **dict.fromkeys(("url", "git_url", "html_url", "download_url"), at),
            "_links": {"git": at, "self": at, "html": at},
        }
        return 200, shown, {}

    def _set_status(self, _: httpx.Request, sent: Any, sha: str) -> tuple[int, Any, dict[str, str]]:
        if len(sent.get("description") or "") > 140:
            return 422, {"message": "description is too long (maximum is 140 characters)"}, {}
        made = {
            "url": f"{API}/repos/studio/props/statuses/{sha}",
            "avatar_url": None,
            "id": 1 + len(self.statuses),
            "node_id": "S",
            "target_url": sent.get("target_url"),
            "created_at": TIME,
            "updated_at": TIME,
            "creator": user(self._me()),
            **{key: sent[key] for key in ("state", "description", "context")},
        }
        self.statuses.append({**made, "sha": sha})
        return 201, made, {}

    def _add_blob(self, _: httpx.Request, sent: Any) -> tuple[int, Any, dict[str, str]]:
        sha = _sha("blob" + sent["content"])
        self.blobs[sha] = sent["content"]
        return 201, {"sha": sha, "url": f"{API}/repos/studio/props/git/blobs/{sha}"}, {}

    def _add_tree(self, _: httpx.Request, sent: Any) -> tuple[int, Any, dict[str, str]]:
        sha = _sha("tree" + json.dumps(sent))
        self.trees[sha] = sent["tree"]
        url = f"{API}/repos/studio/props/git/trees/{sha}"
        return 201, {"sha": sha, "url": url, "truncated": False, "tree": sent["tree"]}, {}

    def _add_commit(self, _: httpx.Request, sent: Any) -> tuple[int, Any, dict[str, str]]:
        sha = _sha("commit" + json.dumps(sent))
        self.commits[sha] = sent
        url = f"{API}/repos/studio/props/git/commits/{sha}"
        person = {"name": self._me(), "email": "bot@example.org", "date": TIME}
        unsigned = {"verified": False, "reason": "unsigned", "signature": None, "payload": None}
        made = {
            "sha": sha,
            "node_id": "C",
            "url": url,
            "html_url": f"https://github.com/studio/props/commit/{sha}",
            "author": person,
            "committer": person,
            "message": sent["message"],
            "tree": {"sha": sent["tree"], "url": f"{API}/trees"},
            "parents": [],
            "verification": {**unsigned, "verified_at": None},
        }
        return 201, made, {}

    def _ref(self, name: str) -> dict[str, Any]:
        target = {"type": "commit", "sha": self.refs[name], "url": f"{API}/commits"}
        url = f"{API}/repos/studio/props/git/refs/{name}"
        return {"ref": f"refs/{name}", "node_id": "R", "url": url, "object": target}

    def _add_ref(self, _: httpx.Request, sent: Any) -> tuple[int, Any, dict[str, str]]:
        name = sent["ref"].removeprefix("refs/")
        if name in self.refs or sent["ref"].count("/") < 2:
            return 422, {"message": "Reference already exists"}, {}
        self.refs[name] = sent["sha"]
        return 201, self._ref(name), {}

    def _move_ref(self, _: httpx.Request, sent: Any, name: str) -> tuple[int, Any, dict[str, str]]:
        if name not in self.refs:
            return 422, {"message": "Reference does not exist"}, {}
        if not sent.get("force"):
            return 422, {"message": "Update is not a fast forward"}, {}
        self.refs[name] = sent["sha"]
        return 200, self._ref(name), {}

    def _drop_ref(self, _: httpx.Request, __: Any, name: str) -> tuple[int, Any, dict[str, str]]:
        if self.refs.pop(name, None) is None:
            return 422, {"message": "Reference does not exist"}, {}
        return 204, None, {}


_COUNTS = {
    "user_view_type": "public",
    "public_gists": 0,
    "followers": 0,
    "following": 0,
    "created_at": TIME,
    "updated_at": TIME,
    "name": None,
    "company": None,
    "blog": None,
    "location": None,
    "email": None,
    "hireable": None,
    "bio": None,
}


def _sha(text: str) -> str:
    return hashlib.sha1(text.encode()).hexdigest()


def check_request(request: httpx.Request) -> None:
    """Raises where the published description does not allow this request."""
    DESCRIPTION.validate_request(_described(request))


def check_response(request: httpx.Request, response: httpx.Response) -> None:
    """Raises where the published description does not know this answer."""
    if response.status_code >= 400:
        return  # errors are described loosely, where at all
    DESCRIPTION.validate_response(
        _described(request),
        MockResponse(
            response.content,
            status_code=response.status_code,
            content_type=response.headers.get("content-type", "application/json"),
        ),
    )


def _one_segment(path: str) -> str:
    """A name or path as one segment; the description marks it as more (x-multi-segment)."""
    for among in ("/git/refs/", "/contents/"):
        before, found, name = path.partition(among)
        path = before + found + name.replace("/", "%2F")
    return path


def _described(request: httpx.Request) -> MockRequest:
    return MockRequest(
        API,
        request.method.lower(),
        _one_segment(request.url.path),
        args=dict(request.url.params),
        headers=dict(request.headers),
        content_type=request.headers.get("content-type", "application/json"),
        data=request.content or None,
    )
