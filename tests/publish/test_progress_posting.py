"""A period's progress left on an issue: one comment, replaced by the next."""

from __future__ import annotations

import httpx
import pytest
from code_host import BOT, FakeClock, StandIn
from publish.lab import WEB, Lab
from report.progress_sample import period_pictures, period_report, progress

from reviewbot.errors import UsageError
from reviewbot.publish.destination import IssueAddress, hosted_issue
from reviewbot.publish.dry_run import DryRun
from reviewbot.publish.github import GitHub
from reviewbot.publish.gitlab import GitLab
from reviewbot.publish.hosts import ChangeRequest
from reviewbot.publish.posting import PROGRESS_MARKER, post_progress
from reviewbot.report.report import Report

ISSUE = ChangeRequest(repository="studio/props", number=12, head_commit="", is_issue=True)


def quiet_report() -> Report:
    nothing = progress(assets=(), findings=(), people=())
    return period_report(
        assets=(), pictures=(), progress=nothing, verdict="pass", summary="No mesh file changed."
    )


def on_github(host: StandIn, report: Report) -> str:
    github = GitHub(token="t", clock=FakeClock(), transport=host.transport())
    posted = post_progress(github, ISSUE, report, period_pictures())
    github.close()
    return posted.comment


def test_one_comment_with_its_pictures_and_no_status() -> None:
    host = StandIn()
    on_github(host, period_report())
    (comment,) = host.comments.values()
    assert comment["issue_url"].endswith("/issues/12")
    assert comment["body"].startswith(PROGRESS_MARKER + "\n## Progress, 24 to 30 March 2025")
    (commit,) = host.refs.values()
    assert f"/blob/{commit}/pictures/contact-sheet.png?raw=true" in comment["body"]
    assert host.statuses == []


def test_the_next_one_takes_its_place_and_nobody_else_s() -> None:
    host = StandIn()
    host.add_comment("mallory", f"{PROGRESS_MARKER}\nmine", 12)
    first = on_github(host, period_report())
    assert on_github(host, quiet_report()) == first
    bodies = {one["user"]["login"]: one["body"] for one in host.comments.values()}
    assert len(host.comments) == 2
    assert bodies["mallory"] == f"{PROGRESS_MARKER}\nmine"
    assert bodies[BOT] == f"{PROGRESS_MARKER}\nNo mesh file changed.\n"
    assert host.refs == {}


def test_on_gitlab_it_is_an_issue_s_note_too() -> None:
    lab = Lab()
    issue = ChangeRequest(repository="studio/sets/props", number=4, head_commit="", is_issue=True)
    gitlab = GitLab(
        token="t", clock=FakeClock(), web=WEB, transport=httpx.MockTransport(lab.answer)
    )
    first = post_progress(gitlab, issue, period_report(), period_pictures())
    second = post_progress(gitlab, issue, quiet_report(), {})
    gitlab.close()
    assert first.comment == second.comment == f"{WEB}/studio/sets/props/-/issues/4#note_300"
    assert lab.notes[300]["body"] == f"{PROGRESS_MARKER}\nNo mesh file changed.\n"
    assert lab.uploads == {}
    threads = {one.url.path for one in lab.seen if "/notes" in one.url.path}
    assert all("/issues/4/notes" in path for path in threads)


def test_a_dry_run_names_the_issue() -> None:
    said: list[str] = []
    post_progress(DryRun(said.append), ISSUE, period_report(), period_pictures())
    assert any(line.startswith("comment on studio/props, issue 12,") for line in said)


def test_a_hosted_job_knows_its_repository() -> None:
    hosted = {"GITHUB_SERVER_URL": "https://github.com", "GITHUB_REPOSITORY": "studio/props"}
    assert hosted_issue({"GITHUB_ACTIONS": "true", **hosted}, 3) == IssueAddress(
        host="github", server="https://github.com", repository="studio/props", number=3
    )
    both = {"GITHUB_ACTIONS": "true", "FORGEJO_ACTIONS": "true", **hosted}
    assert hosted_issue(both, 3).host == "gitea"
    lab = {"GITLAB_CI": "true", "CI_SERVER_URL": WEB, "CI_PROJECT_PATH": "studio/sets/props"}
    assert hosted_issue(lab, 3).repository == "studio/sets/props"
    with pytest.raises(UsageError, match="--host and --repo"):
        hosted_issue({}, 3)
    with pytest.raises(UsageError, match="does not set"):
        hosted_issue({"GITLAB_CI": "true"}, 3)
