"""Where a review goes, from what hosted jobs say of themselves.

The pull request event is the published example in tests/publish/github; the event of a finished
workflow has the fields of the published example workflow_run (npm package
`@octokit/webhooks-examples` 7.6.1) that are looked at. Names and meanings of the variables are from
memory of GitHub's docs "Variables" and GitLab's docs "Predefined CI/CD variables".
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from code_host import OPENED, FakeClock, StandIn
from report.sample import lantern_report

from reviewbot.errors import UsageError
from reviewbot.publish.destination import (
    Destination,
    hosted_job,
    requested,
    require_same_workflow,
)
from reviewbot.publish.github import GitHub
from reviewbot.publish.job_summary import LARGEST_SUMMARY, add_job_summary

COMMIT = "a" * 40
WORKFLOW = ".github/workflows/reviewbot-review.yml"


def actions(tmp_path: Path, event: object, **more: str) -> dict[str, str]:
    file = tmp_path / "event.json"
    file.write_text(json.dumps(event), encoding="utf-8")
    return {
        "GITHUB_ACTIONS": "true",
        "GITHUB_SERVER_URL": "https://github.com",
        "GITHUB_REPOSITORY": "studio/props",
        "GITHUB_EVENT_PATH": str(file),
        "GITHUB_SHA": "f" * 40,  # the trial merge, which nobody wrote
        **more,
    }


def after_run(source: str = "guest/props") -> dict[str, dict[str, object]]:
    run = {"head_sha": COMMIT, "head_repository": {"full_name": source}, "path": WORKFLOW}
    return {"workflow_run": run}


def test_a_pull_request_event_names_the_newest_commit_and_not_the_trial_merge(
    tmp_path: Path,
) -> None:
    found = hosted_job(actions(tmp_path, OPENED))
    pull = OPENED["pull_request"]
    assert (found.host, found.server, found.repository) == (
        "github",
        "https://github.com",
        "studio/props",
    )
    assert (found.number, found.head_commit) == (pull["number"], pull["head"]["sha"])
    assert found.head_repository == pull["head"]["repo"]["full_name"]


def test_each_job_says_where_its_report_is_kept(tmp_path: Path) -> None:
    run = "https://github.com/studio/props/actions/runs/7"
    assert hosted_job(actions(tmp_path, OPENED, GITHUB_RUN_ID="7")).more_at == run
    assert hosted_job(actions(tmp_path, OPENED)).more_at is None
    event = after_run()
    event["workflow_run"]["html_url"] = run
    assert hosted_job(actions(tmp_path, event)).more_at == run


def test_gitea_says_who_it_is_beside_the_borrowed_names(tmp_path: Path) -> None:
    found = hosted_job(actions(tmp_path, OPENED, GITEA_ACTIONS="true"))
    assert found.host == "gitea"


@pytest.mark.parametrize("newest", ["", COMMIT])
def test_a_merge_request_pipeline(newest: str) -> None:
    job = {
        "GITLAB_CI": "true",
        "CI_SERVER_URL": "https://code.example.org",
        "CI_PROJECT_PATH": "guest/props",
        "CI_MERGE_REQUEST_PROJECT_PATH": "studio/props",
        "CI_MERGE_REQUEST_SOURCE_PROJECT_PATH": "guest/props",
        "CI_MERGE_REQUEST_IID": "7",
        "CI_MERGE_REQUEST_SOURCE_BRANCH_SHA": newest,
        "CI_COMMIT_SHA": "b" * 40,
    }
    assert hosted_job(job) == Destination(
        host="gitlab",
        server="https://code.example.org",
        repository="studio/props",
        number=7,
        head_commit=newest or "b" * 40,
        head_repository="guest/props",
    )


@pytest.mark.parametrize(
    "event",
    [
        {},
        [],
        {"push": {}},
        {"pull_request": None},
        {"pull_request": {"number": "x", "head": {"sha": COMMIT, "repo": None}}},
        {"workflow_run": {"head_sha": COMMIT, "head_repository": None}},
        {"workflow_run": {"head_sha": COMMIT, "head_repository": {"full_name": "a/b"}}},
        {"workflow_run": {**after_run()["workflow_run"], "head_sha": "main; rm"}},
    ],
)
def test_other_events_lead_nowhere(tmp_path: Path, event: object) -> None:
    with pytest.raises(UsageError):
        hosted_job(actions(tmp_path, event))


def test_outside_a_hosted_job_the_options_are_asked_for() -> None:
    with pytest.raises(UsageError, match="--host"):
        hosted_job({})
    with pytest.raises(UsageError, match="merge request"):
        hosted_job({"GITLAB_CI": "true"})


def pull(number: int, source: str, commit: str = COMMIT) -> dict[str, object]:
    of = OPENED["pull_request"]
    head = {**of["head"], "sha": commit, "repo": {**of["head"]["repo"], "full_name": source}}
    return {**of, "auto_merge": None, "number": number, "head": head}


def test_the_trusted_job_finds_the_request_by_commit_and_repository(tmp_path: Path) -> None:
    stand_in = StandIn(
        pulls=[pull(3, "other/props"), pull(4, "guest/props"), pull(5, "guest/props", "c" * 40)],
        is_odd=True,
    )
    host = GitHub(token="t", clock=FakeClock(), transport=stand_in.transport())
    job = hosted_job(actions(tmp_path, after_run()))
    assert job.number is None
    assert requested(host, job).number == 4
    with pytest.raises(UsageError, match="nothing was posted"):
        requested(host, hosted_job(actions(tmp_path, after_run("stranger/props"))))
    host.close()


TRUSTED = "f" * 40


@pytest.mark.parametrize(
    ("at_trusted", "at_head", "is_the_same"),
    [
        ("name: review", "name: review", True),
        ("name: review", "name: review\nrun: forge", False),
        ("name: review", None, False),
        (None, "name: review", False),
        (None, None, False),
    ],
)
def test_a_report_counts_only_if_the_request_left_alone_what_made_it(
    tmp_path: Path, at_trusted: str | None, at_head: str | None, is_the_same: bool
) -> None:
    texts = {(TRUSTED, WORKFLOW): at_trusted, (COMMIT, WORKFLOW): at_head}
    stand_in = StandIn(files={key: text for key, text in texts.items() if text is not None})
    host = GitHub(token="t", clock=FakeClock(), transport=stand_in.transport())
    event = after_run()
    event["workflow_run"]["path"] += "@refs/heads/main"
    job = hosted_job(actions(tmp_path, event))
    if is_the_same:
        require_same_workflow(host, job)
    else:
        with pytest.raises(UsageError, match="proves nothing"):
            require_same_workflow(host, job)
    host.close()


def test_a_job_that_posts_its_own_report_needs_no_other_workflow(tmp_path: Path) -> None:
    host = GitHub(token="t", clock=FakeClock(), transport=StandIn().transport())
    require_same_workflow(host, hosted_job(actions(tmp_path, OPENED)))
    host.close()


def test_a_job_summary_shows_no_pictures_and_keeps_what_stands_there(tmp_path: Path) -> None:
    file = tmp_path / "summary.md"
    file.write_text("earlier\n", encoding="utf-8")
    add_job_summary(lantern_report(), file)
    text = file.read_text("utf-8")
    assert text.startswith("earlier\n")
    assert len(text) > 200
    assert "<img" not in text


def test_a_job_summary_stays_within_what_the_host_takes(tmp_path: Path) -> None:
    file = tmp_path / "summary.md"
    file.write_bytes(b"x" * (LARGEST_SUMMARY - 10))
    add_job_summary(lantern_report(), file)
    assert file.stat().st_size == LARGEST_SUMMARY - 10
