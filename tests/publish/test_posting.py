"""A review left on a pull request: what is shown, and what a second one replaces."""

from __future__ import annotations

import re
from dataclasses import dataclass, field

import pytest
from code_host import FakeClock, StandIn
from report.sample import lantern_report, picture_bytes, quiet_report

from reviewbot.publish.github import GitHub
from reviewbot.publish.hosts import ChangeRequest, shortened
from reviewbot.publish.posting import MARKER, post_review, shown_pictures

REQUEST = ChangeRequest(repository="studio/props", number=2, head_commit="a" * 40)


@dataclass
class Desk:
    host: StandIn = field(default_factory=StandIn)

    def post(self, report, pictures, **more):
        github = GitHub(token="t", clock=FakeClock(), transport=self.host.transport())
        posted = post_review(github, REQUEST, report, pictures, **more)
        github.close()
        return posted


@pytest.fixture
def desk() -> Desk:
    return Desk()


def test_pictures_comment_and_status_belong_together(desk: Desk) -> None:
    report = lantern_report()
    posted = desk.post(report, picture_bytes(report), is_passed=False)
    (comment,) = desk.host.comments.values()
    assert comment["body"].startswith(MARKER + "\n")
    assert posted.comment == comment["html_url"]
    (commit_id,) = desk.host.refs.values()
    kept = {entry["path"] for entry in desk.host.trees[desk.host.commits[commit_id]["tree"]]}
    assert kept == set(shown_pictures(report))
    assert posted.pictures == len(kept) > 0
    for path in kept:
        assert f"/studio/props/blob/{commit_id}/{path}?raw=true" in comment["body"]
    (status,) = desk.host.statuses
    assert (status["sha"], status["state"]) == ("a" * 40, "failure")
    assert status["target_url"] == posted.comment
    assert status["description"] == shortened(report.summary, 140)


def test_a_second_review_takes_the_place_of_the_first(desk: Desk) -> None:
    report = lantern_report()
    first = desk.post(report, picture_bytes(report), is_passed=False)
    second = desk.post(quiet_report(), {}, is_passed=True)
    assert first.comment == second.comment
    assert len(desk.host.comments) == 1
    assert desk.host.refs == {}
    assert [status["state"] for status in desk.host.statuses] == ["failure", "success"]


def test_what_stands_beside_a_commit_is_not_written_again(desk: Desk) -> None:
    """A run that was cut off may be made again; what changed meanwhile is written."""
    for is_passed in (True, True, False, False, True):
        desk.post(quiet_report(), {}, is_passed=is_passed)
    states = [status["state"] for status in desk.host.statuses]
    assert states == ["success", "failure", "success"]


def test_a_request_without_meshes_gets_a_status_and_no_comment(desk: Desk) -> None:
    quiet = quiet_report().model_copy(update={"assets": (), "remarks": (), "pictures": ()})
    assert desk.post(quiet, {}, is_passed=True).comment is None
    assert desk.host.comments == {}
    assert [status["state"] for status in desk.host.statuses] == ["success"]
    first = desk.post(lantern_report(), {}, is_passed=False)
    # Once the mesh is taken out again, what was said of it has to go.
    assert desk.post(quiet, {}, is_passed=True).comment == first.comment
    (comment,) = desk.host.comments.values()
    assert "lantern" not in comment["body"]


def test_only_what_is_shown_is_kept(desk: Desk) -> None:
    report = lantern_report()
    more = {**picture_bytes(report), "pictures/unused.png": b"x" * 100}
    desk.post(report, more, is_passed=False)
    (commit_id,) = desk.host.refs.values()
    kept = {entry["path"] for entry in desk.host.trees[desk.host.commits[commit_id]["tree"]]}
    assert "pictures/unused.png" not in kept


def test_the_whole_report_is_linked_where_it_is_kept(desk: Desk) -> None:
    page = "https://github.com/studio/props/actions/runs/7"
    desk.post(lantern_report(), {}, is_passed=False, more_at=page)
    (comment,) = desk.host.comments.values()
    assert f"]({page})." in comment["body"].splitlines()[-1]


@pytest.mark.parametrize(
    "address", [None, "javascript:alert(1)", "https://a.example/x) @everyone", "https://a\nb", ""]
)
def test_an_odd_address_is_not_linked(desk: Desk, address: str | None) -> None:
    desk.post(quiet_report(), {}, is_passed=True, more_at=address)
    (comment,) = desk.host.comments.values()
    assert "](" not in comment["body"]


def test_a_full_comment_stays_below_what_hosts_take(desk: Desk) -> None:
    """65,536 characters at GitHub, from memory; ours is 60,000, marker and link in it."""
    report = lantern_report()
    (asset, *_) = report.assets
    many = tuple(asset.model_copy(update={"path": f"props/{n:04}.obj"}) for n in range(400))
    page = "https://github.com/" + "x" * 480
    whole = report.model_copy(update={"assets": many})
    desk.post(whole, {}, is_passed=False, more_at=page)
    (comment,) = desk.host.comments.values()
    assert 50_000 < len(comment["body"]) < 60_000
    assert page in comment["body"]
    assert re.search(r"\d+ (more )?assets", comment["body"])


def test_long_sentences_end_in_an_ellipsis() -> None:
    assert shortened("short", 5) == "short"
    assert shortened("longer word", 8) == "longer…"
    assert len(shortened("x" * 1000, 140)) == 140
