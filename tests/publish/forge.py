"""A stand-in for Gitea and Forgejo: remembers what it was sent.

Calls and fields as in the published client `gitea-js` 1.23.0 (npm), which is generated from Gitea's
own OpenAPI description: issueGetComments, issueCreateComment, issueEditComment,
issueCreateIssueAttachment, issueListIssueAttachments, issueDeleteIssueAttachment,
repoCreateStatus, repoListPullRequests, userGetCurrent.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import Any

import httpx
from code_host import StandIn

WEB = "https://code.studio.example"
ASSETS = re.compile(r"/repos/studio/props/issues/2/assets(?:/(\d+))?")


@dataclass
class Forge:
    """The stand-in of the common calls, and a request's attachments beside it."""

    common: StandIn = field(default_factory=lambda: StandIn(is_odd=True))
    attachments: dict[int, dict[str, Any]] = field(default_factory=dict)
    contents: dict[int, bytes] = field(default_factory=dict)
    seen: list[httpx.Request] = field(default_factory=list)

    def answer(self, request: httpx.Request) -> httpx.Response:
        self.seen.append(request)
        path = request.url.path.removeprefix("/api/v1")
        assert path != request.url.path
        found = ASSETS.fullmatch(path)
        if found:
            return self._asset(request, found[1])
        plain = request.url.copy_with(host="api.github.com", path=path)
        moved = httpx.Request(
            request.method, plain, headers=request.headers, content=request.content
        )
        return self.common.answer(moved)

    def _asset(self, request: httpx.Request, number: str | None) -> httpx.Response:
        if request.method == "GET":
            return httpx.Response(200, json=list(self.attachments.values()))
        if request.method == "DELETE":
            return httpx.Response(204 if self.attachments.pop(int(number or 0), None) else 404)
        name = re.search(rb'name="attachment"; filename="([^"]+)"', request.content)
        assert name is not None
        key = 1000 + len(self.contents)
        self.contents[key] = request.content
        self.attachments[key] = {
            "id": key,
            "name": name[1].decode(),
            "browser_download_url": f"{WEB}/attachments/{key}",
        }
        return httpx.Response(201, json=self.attachments[key])
