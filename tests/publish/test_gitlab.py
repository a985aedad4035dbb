"""Calls to GitLab (see lab.py for their sources)."""

from __future__ import annotations

from collections.abc import Iterator

import httpx
import pytest
from code_host import FakeClock
from publish.lab import WEB, Lab

from reviewbot.errors import HostError
from reviewbot.publish.gitlab import GitLab
from reviewbot.publish.hosts import ChangeRequest, CommitStatus

MARKER = "<!-- reviewbot test -->"
REQUEST = ChangeRequest(repository="studio/sets/props", number=3, head_commit="a" * 40)


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
    assert not gitlab.has_comment(REQUEST, marker=MARKER)
    first = gitlab.put_comment(REQUEST, "one", marker=MARKER)
    second = gitlab.put_comment(REQUEST, "two", marker=MARKER)
    assert first == second == f"{WEB}/studio/sets/props/-/merge_requests/3#note_306"
    assert lab.notes[306]["body"] == f"{MARKER}\ntwo"
    assert len(lab.notes) == 7
    assert gitlab.has_comment(REQUEST, marker=MARKER)


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
    for _ in range(2):
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


def test_a_file_is_told_from_another_by_its_id(lab: Lab, gitlab: GitLab) -> None:
    lab.files = {("a" * 40, "ci/review.yml"): "1" * 40}
    ids = [
        gitlab.file_id("studio/sets/props", commit=c * 40, path="ci/review.yml") for c in ("a", "b")
    ]
    assert ids == ["1" * 40, None]
    with pytest.raises(HostError, match="full commit id"):
        gitlab.file_id("studio/sets/props", commit="main", path="ci/review.yml")
