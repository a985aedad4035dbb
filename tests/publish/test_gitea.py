"""Calls to Gitea and Forgejo.

Calls and fields as in the published client `gitea-js` 1.23.0 (npm), which is generated from Gitea's
own OpenAPI description: issueGetComments, issueCreateComment, issueEditComment,
issueCreateIssueAttachment, issueListIssueAttachments, issueDeleteIssueAttachment,
repoCreateStatus, repoListPullRequests, userGetCurrent.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

import httpx
import pytest
from code_host import BOT, FakeClock, StandIn

from reviewbot.errors import HostError
from reviewbot.publish.gitea import Gitea
from reviewbot.publish.hosts import ChangeRequest, CommitStatus

WEB = "https://code.studio.example"
MARKER = "<!-- reviewbot test -->"
REQUEST = ChangeRequest(repository="studio/props", number=2, head_commit="a" * 40)
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


@pytest.fixture
def forge() -> Forge:
    return Forge()


@pytest.fixture
def gitea(forge: Forge) -> Iterator[Gitea]:
    opened = Gitea(
        token="t", clock=FakeClock(), web=WEB + "/", transport=httpx.MockTransport(forge.answer)
    )
    yield opened
    opened.close()


def test_one_comment_is_written_and_then_replaced(forge: Forge, gitea: Gitea) -> None:
    forge.common.add_comment("mallory", MARKER)
    gitea.put_comment(REQUEST, "one", marker=MARKER)
    gitea.put_comment(REQUEST, "two", marker=MARKER)
    written = [c["body"] for c in forge.common.comments.values() if c["user"]["login"] == BOT]
    assert written == [f"{MARKER}\ntwo"]
    assert {request.headers["authorization"] for request in forge.seen} == {"token t"}


def test_pictures_are_attachments_and_later_ones_take_their_place(
    forge: Forge, gitea: Gitea
) -> None:
    forge.attachments[7] = {"id": 7, "name": "concept.png", "browser_download_url": "x"}
    first = gitea.put_pictures(REQUEST, {"pictures/a/front.webp": b"\x00\xfffront"})
    assert first == {"pictures/a/front.webp": f"{WEB}/attachments/1000"}
    assert b"\x00\xfffront" in forge.contents[1000]
    second = gitea.put_pictures(
        REQUEST, {"pictures/a/front.webp": b"2", "pictures/b/front.webp": b"3"}
    )
    assert len(set(second.values())) == 2
    names = sorted(one["name"] for one in forge.attachments.values())
    assert names == ["concept.png", "reviewbot-000-front.webp", "reviewbot-001-front.webp"]
    gitea.remove_pictures(REQUEST)
    assert list(forge.attachments) == [7]


def test_the_verdict_stands_beside_the_commit(forge: Forge, gitea: Gitea) -> None:
    gitea.put_status("studio/props", "b" * 40, CommitStatus(is_passed=False, summary="Look."))
    assert [(s["state"], s["description"]) for s in forge.common.statuses] == [("failure", "Look.")]


def test_a_token_must_be_able_to_say_whose_it_is(forge: Forge, gitea: Gitea) -> None:
    forge.common.may_ask = False
    with pytest.raises(HostError, match="GET /user"):
        gitea.put_comment(REQUEST, "one", marker=MARKER)
