"""A stand-in for GitLab: remembers what it was sent.

Calls and fields as in GitLab's documentation of its REST interface, version 4:
https://docs.gitlab.com/api/notes/, /api/merge_requests/, /api/commits/ (commit status),
/api/project_markdown_uploads/, /api/repository_files/ and /api/issues/.
"""

from __future__ import annotations

import json
import re
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import unquote

import httpx

WEB = "https://lab.studio.example"
BOT = "project_12_bot"
PROJECTS = {"studio/sets/props": 12, "runa/props": 40}


@dataclass
class Lab:
    """The host's state."""

    notes: dict[int, dict[str, Any]] = field(default_factory=dict)
    issues: list[dict[str, Any]] = field(default_factory=list)
    requests: list[dict[str, Any]] = field(default_factory=list)
    statuses: list[dict[str, Any]] = field(default_factory=list)
    uploads: dict[str, bytes] = field(default_factory=dict)
    files: dict[tuple[str, str], str] = field(default_factory=dict)  # ids by commit and path
    may_delete: bool = True
    token: str = "t"
    seen: list[httpx.Request] = field(default_factory=list)

    def add_note(self, username: str, body: str) -> int:
        number = 300 + len(self.notes)
        self.notes[number] = {"id": number, "body": body, "author": {"username": username}}
        return number

    def answer(self, request: httpx.Request) -> httpx.Response:
        self.seen.append(request)
        assert request.headers["private-token"] == self.token
        path = request.url.raw_path.decode().split("?")[0].removeprefix("/api/v4")
        if path == "/user":
            return httpx.Response(200, json={"id": 9, "username": BOT})
        found = re.fullmatch(r"/projects/([^/]+)(/.*)?", path)
        assert found is not None
        project = unquote(found[1])
        if project not in PROJECTS:
            return httpx.Response(404, json={"message": "404 Project Not Found"})
        return self._in_project(request, PROJECTS[project], found[2] or "")

    def _in_project(  # noqa: PLR0911, PLR0912  one answer a call
        self, request: httpx.Request, project: int, path: str
    ) -> httpx.Response:
        is_json = request.headers.get("content-type", "").startswith("application/json")
        sent = json.loads(request.content) if is_json else None
        match (request.method, *path.strip("/").split("/")):
            case ("GET", ""):
                return httpx.Response(200, json={"id": project})
            case ("GET", "merge_requests"):
                return httpx.Response(200, json=self.requests)
            case ("GET", "merge_requests" | "issues", _, "notes"):
                return self._page(request, list(self.notes.values()))
            case ("POST", "merge_requests" | "issues", _, "notes"):
                return httpx.Response(201, json=self.notes[self.add_note(BOT, sent["body"])])
            case ("PUT", "merge_requests" | "issues", _, "notes", number):
                note = self.notes[int(number)]
                assert note["author"]["username"] == BOT
                note["body"] = sent["body"]
                return httpx.Response(200, json=note)
            case ("POST", "statuses", sha):
                self.statuses.append({**sent, "sha": sha})
                return httpx.Response(201, json=sent)
            case ("GET", "repository", "commits", sha, "statuses"):
                made = [
                    {**one, "id": 40 + number, "status": one["state"]}
                    for number, one in enumerate(self.statuses)
                    if one["sha"] == sha and one["name"] == request.url.params["name"]
                ]
                return self._page(request, made[::-1])
            case ("POST", "uploads"):
                return self._upload(request, project)
            case ("DELETE", "uploads", secret, name):
                if not self.may_delete:
                    return httpx.Response(403, json={"message": "403 Forbidden"})
                gone = self.uploads.pop(f"{secret}/{name}", None)
                return httpx.Response(404 if gone is None else 204)
            case ("GET", "repository", "files", encoded):
                found = self.files.get((request.url.params["ref"], unquote(encoded)))
                return httpx.Response(200 if found else 404, json={"blob_id": found})
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
