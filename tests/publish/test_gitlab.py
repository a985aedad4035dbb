"""Calls to GitLab.

Calls and fields as in GitLab's documentation of its REST interface, version 4:
https://docs.gitlab.com/api/notes/, /api/merge_requests/, /api/commits/ (commit status),
/api/project_markdown_uploads/ and /api/issues/.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import unquote

import httpx
import pytest
from code_host import FakeClock

from reviewbot.errors import HostError
from reviewbot.publish.gitlab import GitLab
from reviewbot.publish.hosts import ChangeRequest, CommitStatus

WEB = "https://lab.studio.example"
MARKER = "<!-- reviewbot test -->"
BOT = "project_12_bot"
REQUEST = ChangeRequest(repository="studio/sets/props", number=3, head_commit="a" * 40)
PROJECTS = {"studio/sets/props": 12, "runa/props": 40}


@dataclass
class Lab:
    """The host's state."""

    notes: dict[int, dict[str, Any]] = field(default_factory=dict)
    issues: list[dict[str, Any]] = field(default_factory=list)
    requests: list[dict[str, Any]] = field(default_factory=list)
    statuses: list[dict[str, Any]] = field(default_factory=list)
    uploads: dict[str, bytes] = field(default_factory=dict)
    may_delete: bool = True
    seen: list[httpx.Request] = field(default_factory=list)

    def add_note(self, username: str, body: str) -> int:
        number = 300 + len(self.notes)
        self.notes[number] = {"id": number, "body": body, "author": {"username": username}}
        return number

    def answer(self, request: httpx.Request) -> httpx.Response:
        self.seen.append(request)
        assert request.headers["private-token"] == "t"
        path = request.url.raw_path.decode().split("?")[0].removeprefix("/api/v4")
        if path == "/user":
            return httpx.Response(200, json={"id": 9, "username": BOT})
        found = re.fullmatch(r"/projects/([^/]+)(/.*)?", path)
        assert found is not None
        project = unquote(found[1])
        if project not in PROJECTS:
            return httpx.Response(404, json={"message": "404 Project Not Found"})
        return self._in_project(request, PROJECTS[project], found[2] or "")

    def _in_project(  # noqa: PLR0911  one answer a call
        self, request: httpx.Request, project: int, path: str
    ) -> httpx.Response:
        is_json = request.headers.get("content-type", "").startswith("application/json")
        sent = json.loads(request.content) if is_json else None
        match (request.method, *path.strip("/").split("/")):
            case ("GET", ""):
                return httpx.Response(200, json={"id": project})
            case ("GET", "merge_requests"):
                return httpx.Response(200, json=self.requests)
            case ("GET", "merge_requests", _, "notes"):
                return self._page(request, list(self.notes.values()))
            case ("POST", "merge_requests" | "issues", _, "notes"):
                return httpx.Response(201, json=self.notes[self.add_note(BOT, sent["body"])])
            case ("PUT", "merge_requests", _, "notes", number):
                note = self.notes[int(number)]
                assert note["author"]["username"] == BOT
                note["body"] = sent["body"]
                return httpx.Response(200, json=note)
            case ("POST", "statuses", sha):
                self.statuses.append({**sent, "sha": sha})
                return httpx.Response(201, json=sent)
            case ("POST", "uploads"):
                return self._upload(request, project)
            case ("DELETE", "uploads", secret, name):
                if not self.may_delete:
                    return httpx.Response(403, json={"message": "403 Forbidden"})
                gone = self.uploads.pop(f"{secret}/{name}", None)
                return httpx.Response(404 if gone is None else 204)
            case ("GET", "issues"):
                return httpx.Response(200, json=self.issues)
            case ("POST", "issues"):
                number = 1 + len(self.issues)
                url = f"{WEB}/studio/sets/props/-/issues/{number}"
                made = {**sent, "iid": number, "web_url": url, "author": {"username": BOT}}
                self.issues.append(made)
                return httpx.Response(201, json=made)
        return httpx.Response(404, json={"message": "404 Not Found"})

    def _page(self, request: httpx.Request, items: list[Any]) -> httpx.Response:
        page = int(request.url.params.get("page", "1"))
        headers = {}
        if page * 2 < len(items):
            following = request.url.copy_set_param("page", str(page + 1))
            headers["link"] = f'<{following}>; rel="next"'
        return httpx.Response(200, json=items[page * 2 - 2 : page * 2], headers=headers)

    def _upload(self, request: httpx.Request, project: int) -> httpx.Response:
        name = re.search(rb'name="file"; filename="([^"]+)"', request.content)
        assert name is not None
        key = f"{len(self.uploads):032x}/{name[1].decode()}"
        self.uploads[key] = request.content
        url = f"/uploads/{key}"
        body = {"id": 5, "url": url, "full_path": f"/-/project/{project}{url}"}
        return httpx.Response(201, json=body)


@pytest.fixture
def lab() -> Lab:
    return Lab()


@pytest.fixture
def gitlab(lab: Lab) -> Iterator[GitLab]:
    opened = GitLab(
        token="t", clock=FakeClock(), web=WEB, transport=httpx.MockTransport(lab.answer)
    )
    yield opened
    opened.close()


def test_one_note_is_written_and_then_replaced(lab: Lab, gitlab: GitLab) -> None:
    for n in range(5):
        lab.add_note("runa", f"remark {n}")
    lab.add_note("mallory", MARKER)
    first = gitlab.put_comment(REQUEST, "one", marker=MARKER)
    second = gitlab.put_comment(REQUEST, "two", marker=MARKER)
    assert first == second == f"{WEB}/studio/sets/props/-/merge_requests/3#note_306"
    assert lab.notes[306]["body"] == f"{MARKER}\ntwo"
    assert len(lab.notes) == 7


def test_pictures_are_uploads_that_go_with_the_note(lab: Lab, gitlab: GitLab) -> None:
    first = gitlab.put_pictures(REQUEST, {"pictures/a/front.webp": b"\x00front"})
    assert first == {
        "pictures/a/front.webp": f"{WEB}/-/project/12/uploads/{0:032x}/front.webp",
    }
    assert b"\x00front" in lab.uploads[f"{0:032x}/front.webp"]
    gitlab.put_comment(REQUEST, f"<img src='{first['pictures/a/front.webp']}'>", marker=MARKER)
    lab.uploads["f" * 32 + "/concept.png"] = b"an artist's"
    lab.add_note("runa", f"![c](/uploads/{'f' * 32}/concept.png)")
    gitlab.remove_pictures(REQUEST)
    assert list(lab.uploads) == ["f" * 32 + "/concept.png"]


def test_uploads_stay_where_deleting_is_not_allowed(lab: Lab, gitlab: GitLab) -> None:
    lab.may_delete = False
    first = gitlab.put_pictures(REQUEST, {"pictures/a/front.webp": b"1"})
    gitlab.put_comment(REQUEST, first["pictures/a/front.webp"], marker=MARKER)
    gitlab.put_pictures(REQUEST, {"pictures/a/front.webp": b"2"})
    assert len(lab.uploads) == 2


@pytest.mark.parametrize(("is_passed", "state"), [(True, "success"), (False, "failed")])
def test_the_verdict_stands_beside_the_commit(
    lab: Lab, gitlab: GitLab, is_passed: bool, state: str
) -> None:
    status = CommitStatus(is_passed=is_passed, summary="Look.", address="https://e.org/1")
    gitlab.put_status("studio/sets/props", "b" * 40, status)
    assert lab.statuses == [
        {
            "sha": "b" * 40,
            "state": state,
            "name": "reviewbot",
            "description": "Look.",
            "target_url": "https://e.org/1",
        }
    ]


def test_a_request_is_found_by_commit_and_source(lab: Lab, gitlab: GitLab) -> None:
    mine = {"iid": 3, "sha": "a" * 40, "source_project_id": 40}
    lab.requests = [{**mine, "iid": 1, "source_project_id": 12}, {**mine, "sha": "b" * 40}, mine]
    found = gitlab.find_request(
        "studio/sets/props", head_commit="a" * 40, head_repository="runa/props"
    )
    assert found == REQUEST
    missing = gitlab.find_request(
        "studio/sets/props", head_commit="c" * 40, head_repository="runa/props"
    )
    assert missing is None


def test_a_digest_goes_on_in_one_issue(lab: Lab, gitlab: GitLab) -> None:
    first = gitlab.open_issue("studio/sets/props", title="This week", body="one", marker=MARKER)
    second = gitlab.open_issue("studio/sets/props", title="This week", body="two", marker=MARKER)
    assert first == f"{WEB}/studio/sets/props/-/issues/1"
    assert second == f"{WEB}/studio/sets/props/-/issues/1#note_300"
    assert len(lab.issues) == 1


@pytest.mark.parametrize("name", ["", "props", "a/../b", "a/./b", "a/b?x", "a//b", "a/b\n"])
def test_a_project_s_name_cannot_lead_elsewhere(lab: Lab, gitlab: GitLab, name: str) -> None:
    with pytest.raises(HostError, match="group/project"):
        gitlab.put_status(name, "b" * 40, CommitStatus(is_passed=True, summary=""))
    assert lab.seen == []


def test_a_short_commit_id_is_refused(gitlab: GitLab) -> None:
    with pytest.raises(HostError, match="full commit id"):
        gitlab.put_status("studio/sets/props", "main", CommitStatus(is_passed=True, summary=""))
