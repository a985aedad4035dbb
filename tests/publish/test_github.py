"""Calls to GitHub, each held to its published OpenAPI description (see github/README.md)."""

from __future__ import annotations

import base64
from collections.abc import Iterator
from typing import ClassVar

import httpx
import pytest
from code_host import API, BOT, PULL, FakeClock, StandIn
from loopback import served

from reviewbot.errors import HostError
from reviewbot.publish.api import UnsureError
from reviewbot.publish.clock import SystemClock
from reviewbot.publish.github import GitHub
from reviewbot.publish.hosts import ChangeRequest, CommitStatus

MARKER = "<!-- reviewbot test -->"
REQUEST = ChangeRequest(repository="studio/props", number=2, head_commit="a" * 40)


@pytest.fixture
def host() -> StandIn:
    return StandIn()


@pytest.fixture
def clock() -> FakeClock:
    return FakeClock()


@pytest.fixture
def github(host: StandIn, clock: FakeClock) -> Iterator[GitHub]:
    opened = GitHub(token="t", clock=clock, transport=host.transport())
    yield opened
    opened.close()


def bodies(host: StandIn) -> list[str]:
    return [comment["body"] for comment in host.comments.values()]


class TestComments:
    def test_one_comment_is_written_and_then_replaced(self, host: StandIn, github: GitHub) -> None:
        first = github.put_comment(REQUEST, "one", marker=MARKER)
        again = github.put_comment(REQUEST, "two", marker=MARKER)
        assert first == again == "https://github.com/studio/props/pull/2#issuecomment-101"
        assert bodies(host) == [f"{MARKER}\ntwo"]

    def test_it_is_found_behind_many_others(self, host: StandIn, github: GitHub) -> None:
        host.page_size = 3
        for n in range(10):
            host.add_comment("runa", f"remark {n}")
        github.put_comment(REQUEST, "one", marker=MARKER)
        for n in range(10):
            host.add_comment("runa", f"more {n}")
        github.put_comment(REQUEST, "two", marker=MARKER)
        assert bodies(host).count(f"{MARKER}\ntwo") == 1
        assert len(host.comments) == 21

    def test_a_stranger_s_comment_with_the_marker_is_left_alone(
        self, host: StandIn, github: GitHub
    ) -> None:
        host.add_comment("mallory", f"{MARKER}\nall is well")
        github.put_comment(REQUEST, "one", marker=MARKER)
        assert bodies(host) == [f"{MARKER}\nall is well", f"{MARKER}\none"]

    def test_a_comment_that_quotes_the_marker_is_left_alone(
        self, host: StandIn, github: GitHub
    ) -> None:
        host.add_comment(BOT, f"> {MARKER}")
        github.put_comment(REQUEST, "one", marker=MARKER)
        assert len(host.comments) == 2

    def test_a_deleted_account_s_comment_is_passed_over(
        self, host: StandIn, github: GitHub
    ) -> None:
        host.comments[host.add_comment("gone", MARKER)]["user"] = None
        github.put_comment(REQUEST, "one", marker=MARKER)
        assert len(host.comments) == 2

    def test_a_job_s_token_may_not_ask_who_it_is(self, host: StandIn, github: GitHub) -> None:
        host.may_ask = False
        github.put_comment(REQUEST, "one", marker=MARKER)
        github.put_comment(REQUEST, "two", marker=MARKER)
        assert bodies(host) == [f"{MARKER}\ntwo"]

    def test_a_known_account_is_not_asked_for(self, host: StandIn, clock: FakeClock) -> None:
        known = GitHub(token="t", clock=clock, account=BOT, transport=host.transport())
        known.put_comment(REQUEST, "one", marker=MARKER)
        known.close()
        assert ("GET", "/user") not in host.calls

    @pytest.mark.parametrize("lost", ["after", httpx.ConnectError("gone"), httpx.Response(502)])
    def test_a_write_whose_answer_is_lost_is_not_made_twice(
        self, host: StandIn, lost: httpx.Response | Exception | str
    ) -> None:
        def fail_on_first_write(request: httpx.Request) -> httpx.Response:
            if request.method == "POST" and not getattr(host, "failed", False):
                host.failed = True  # type: ignore[attr-defined]
                host.failures.append(lost)
            return host.answer(request)

        shaky = GitHub(
            token="t", clock=FakeClock(), transport=httpx.MockTransport(fail_on_first_write)
        )
        if lost == "after":
            shaky.put_comment(REQUEST, "one", marker=MARKER)
        else:
            with pytest.raises(UnsureError):
                shaky.put_comment(REQUEST, "one", marker=MARKER)
            shaky.put_comment(REQUEST, "one", marker=MARKER)
        shaky.close()
        assert bodies(host) == [f"{MARKER}\none"]


class TestPictures:
    PICTURES: ClassVar = {"pictures/front.webp": b"\x00front", "pictures/b b.png": b"\xffback"}

    def test_one_commit_without_parents_holds_them(self, host: StandIn, github: GitHub) -> None:
        found = github.put_pictures(REQUEST, self.PICTURES)
        (commit_id,) = host.refs.values()
        assert host.refs.keys() == {"reviewbot/pull/2"}
        commit = host.commits[commit_id]
        assert commit["parents"] == []
        kept = {
            entry["path"]: base64.b64decode(host.blobs[entry["sha"]])
            for entry in host.trees[commit["tree"]]
        }
        assert kept == self.PICTURES
        assert found == {
            "pictures/front.webp": (
                f"https://github.com/studio/props/blob/{commit_id}/pictures/front.webp?raw=true"
            ),
            "pictures/b b.png": (
                f"https://github.com/studio/props/blob/{commit_id}/pictures/b%20b.png?raw=true"
            ),
        }

    def test_later_ones_take_their_place(self, host: StandIn, github: GitHub) -> None:
        github.put_pictures(REQUEST, self.PICTURES)
        (before,) = host.refs.values()
        github.put_pictures(REQUEST, {"pictures/new.png": b"new"})
        (after,) = host.refs.values()
        assert before != after

    def test_they_are_dropped_when_the_request_closes(self, host: StandIn, github: GitHub) -> None:
        github.put_pictures(REQUEST, self.PICTURES)
        github.remove_pictures(REQUEST)
        assert host.refs == {}
        github.remove_pictures(REQUEST)


class TestStatus:
    @pytest.mark.parametrize(("is_passed", "state"), [(True, "success"), (False, "failure")])
    def test_the_verdict_stands_beside_the_commit(
        self, host: StandIn, github: GitHub, is_passed: bool, state: str
    ) -> None:
        status = CommitStatus(is_passed=is_passed, summary="x" * 500, address="https://e.org/1")
        github.put_status("studio/props", "b" * 40, status)
        (made,) = host.statuses
        assert (made["sha"], made["state"]) == ("b" * 40, state)
        assert made["context"] == "reviewbot"
        assert made["target_url"] == "https://e.org/1"
        assert made["description"] == "x" * 139 + "…"

    def test_it_needs_no_address(self, host: StandIn, github: GitHub) -> None:
        github.put_status("studio/props", "b" * 40, CommitStatus(is_passed=True, summary="Fine."))
        assert host.statuses[0]["target_url"] is None

    def test_a_short_id_is_refused(self, github: GitHub) -> None:
        with pytest.raises(HostError, match="full commit id"):
            github.put_status("studio/props", "main", CommitStatus(is_passed=True, summary=""))


class TestFinding:
    """With a published example of a pull request."""

    HEAD = PULL["head"]["sha"]

    def test_by_its_newest_commit_and_where_it_comes_from(
        self, host: StandIn, github: GitHub
    ) -> None:
        other = {**PULL, "number": 1, "head": {**PULL["head"], "sha": "c" * 40}}
        host.pulls = [other] * 3 + [PULL]
        host.page_size = 2
        found = github.find_request(
            "studio/props", head_commit=self.HEAD, head_repository="codertocat/hello-world"
        )
        assert found == ChangeRequest(repository="studio/props", number=2, head_commit=self.HEAD)

    def test_not_by_the_commit_alone(self, host: StandIn, github: GitHub) -> None:
        """Two forks may hold the same commit."""
        host.pulls = [PULL]
        assert (
            github.find_request(
                "studio/props", head_commit=self.HEAD, head_repository="mallory/hello-world"
            )
            is None
        )

    def test_a_fork_may_be_gone(self, host: StandIn, github: GitHub) -> None:
        gone = {**PULL, "head": {**PULL["head"], "repo": None}}
        host.pulls, host.is_odd = [gone], True
        found = github.find_request(
            "studio/props", head_commit=self.HEAD, head_repository="codertocat/hello-world"
        )
        assert found is None


class TestIssues:
    def test_a_digest_goes_on_in_one_issue(self, host: StandIn, github: GitHub) -> None:
        first = github.open_issue("studio/props", title="This week", body="one", marker=MARKER)
        second = github.open_issue("studio/props", title="This week", body="two", marker=MARKER)
        assert first == "https://github.com/studio/props/issues/50"
        assert second.startswith("https://github.com/studio/props/pull/50#issuecomment-")
        assert [issue["title"] for issue in host.issues] == ["This week"]
        assert bodies(host) == [f"{MARKER}\ntwo"]

    def test_a_stranger_s_issue_is_not_taken(self, host: StandIn, github: GitHub) -> None:
        github.open_issue("studio/props", title="This week", body="one", marker=MARKER)
        host.issues[0]["user"]["login"] = "mallory"
        github.open_issue("studio/props", title="This week", body="two", marker=MARKER)
        assert len(host.issues) == 2


@pytest.mark.parametrize(
    "name",
    [
        "",
        "props",
        "studio/props/more",
        "../props",
        "studio/..",
        "a/b?x=1",
        "a/b#c",
        "a b/c",
        "a/\n",
    ],
)
def test_a_repository_s_name_cannot_lead_elsewhere(github: GitHub, name: str) -> None:
    with pytest.raises(HostError, match="owner/name"):
        github.put_comment(
            ChangeRequest(repository=name, number=1, head_commit="a" * 40), "", marker=MARKER
        )


def test_enterprise_has_another_address(host: StandIn) -> None:
    seen: list[httpx.URL] = []

    def handler(request: httpx.Request) -> httpx.Response:
        seen.append(request.url)
        plain = request.url.copy_with(
            host="api.github.com", path=request.url.path.removeprefix("/api/v3")
        )
        moved = httpx.Request(
            request.method, plain, headers=request.headers, content=request.content
        )
        return host.answer(moved)

    github = GitHub(
        token="t",
        clock=FakeClock(),
        api="https://code.studio.example/api/v3/",
        web="https://code.studio.example/",
        transport=httpx.MockTransport(handler),
    )
    found = github.put_pictures(REQUEST, {"p.png": b"1"})
    github.close()
    assert {(url.host, url.path.startswith("/api/v3/repos/")) for url in seen} == {
        ("code.studio.example", True)
    }
    assert found["p.png"].startswith("https://code.studio.example/studio/props/blob/")


def test_over_a_real_connection() -> None:
    """The same, through sockets on this machine."""
    host = StandIn()
    with served(host.answer, seen_as=API) as address:
        github = GitHub(token="t", clock=SystemClock(), api=address)
        github.put_pictures(REQUEST, {"p.png": b"1"})
        github.put_comment(REQUEST, "one", marker=MARKER)
        github.put_comment(REQUEST, "two", marker=MARKER)
        github.remove_pictures(REQUEST)
        github.close()
    assert bodies(host) == [f"{MARKER}\ntwo"]
    assert host.refs == {}


def test_a_file_is_told_from_another_by_its_id(host: StandIn, github: GitHub) -> None:
    path = ".github/workflows/reviewbot-review.yml"
    before, after, neither = "a" * 40, "b" * 40, "c" * 40
    host.files = {(before, path): "name: one", (after, path): "name: two"}
    ids = [github.file_id("studio/props", commit=c, path=path) for c in (before, after, neither)]
    assert len(set(ids)) == 3
    assert ids[2] is None
    with pytest.raises(HostError, match="full commit id"):
        github.file_id("studio/props", commit="main", path=path)
