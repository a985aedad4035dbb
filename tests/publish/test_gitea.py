"""Calls to Gitea and Forgejo (see forge.py for their sources)."""

from __future__ import annotations

from collections.abc import Iterator

import httpx
import pytest
from code_host import BOT, FakeClock
from publish.forge import WEB, Forge

from reviewbot.errors import HostError
from reviewbot.publish.gitea import Gitea
from reviewbot.publish.hosts import ChangeRequest, CommitStatus

MARKER = "<!-- reviewbot test -->"
REQUEST = ChangeRequest(repository="studio/props", number=2, head_commit="a" * 40)


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
    assert not gitea.has_comment(REQUEST, marker=MARKER)
    gitea.put_comment(REQUEST, "one", marker=MARKER)
    gitea.put_comment(REQUEST, "two", marker=MARKER)
    written = [c["body"] for c in forge.common.comments.values() if c["user"]["login"] == BOT]
    assert written == [f"{MARKER}\ntwo"]
    assert gitea.has_comment(REQUEST, marker=MARKER)
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
