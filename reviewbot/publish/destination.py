"""Where a review is to be posted: from the options of a command, or from the hosted job it runs in.

A hosted job says where it runs in environment variables and in a file that the host itself wrote.
Nothing is taken from the report: whoever made it does not choose where it goes.
Names and meanings of the variables are from memory of GitHub's docs "Variables" and GitLab's docs
"Predefined CI/CD variables"; Gitea's and Forgejo's jobs use GitHub's names and say who they are.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, MutableMapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from reviewbot.errors import UsageError
from reviewbot.publish.hosts import ChangeRequest, Host, is_commit

TOKEN_VARIABLE = "REVIEWBOT_TOKEN"
_LARGEST_EVENT = 32 * 2**20  # bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class Workflow:
    """A file that tells a host's machines what to run.

    path            in the repository
    trusted_commit  full id of a commit that holds it as the repository's people wrote it
    """

    path: str
    trusted_commit: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Destination:
    """A pull or merge request on a host.

    host             its name, as `known_hosts.open_host` takes it
    server           address of the site; None for the public one
    number           the request's; None: it is to be found by its newest commit and where that is
    head_repository  where the newest commit lies: the repository itself, or a fork
    made_by          the workflow that made the report for another job to post, or None
    more_at          the host's page of the job that keeps the whole report, or None
    """

    host: str
    server: str | None
    repository: str
    number: int | None
    head_commit: str
    head_repository: str
    made_by: Workflow | None = None
    more_at: str | None = None

    def __post_init__(self) -> None:
        if not is_commit(self.head_commit):
            raise UsageError("a review is posted for a full commit id, 40 hexadecimal digits")


def with_token_taken_out(environment: MutableMapping[str, str]) -> dict[str, str]:
    """The environment as it was; the token is gone from the one that later processes are given."""
    whole = dict(environment)
    environment.pop(TOKEN_VARIABLE, None)
    return whole


@dataclass(frozen=True, slots=True, kw_only=True)
class IssueAddress:
    """An issue on a host; host and server as in `Destination`."""

    host: str
    server: str | None
    repository: str
    number: int


def hosted_issue(environment: Mapping[str, str], number: int) -> IssueAddress:
    """An issue of the repository that a hosted job runs in. Raises UsageError outside one."""
    if environment.get("GITLAB_CI"):
        host, server, project = "gitlab", "CI_SERVER_URL", "CI_PROJECT_PATH"
    elif environment.get("GITHUB_ACTIONS"):
        is_other = environment.get("GITEA_ACTIONS") or environment.get("FORGEJO_ACTIONS")
        host, server, project = (
            "gitea" if is_other else "github",
            "GITHUB_SERVER_URL",
            "GITHUB_REPOSITORY",
        )
    else:
        raise UsageError("this is no job of a code host that is known here: name --host and --repo")
    return IssueAddress(
        host=host,
        server=_named(environment, server),
        repository=_named(environment, project),
        number=number,
    )


def hosted_job(environment: Mapping[str, str]) -> Destination:
    """The request that a hosted job runs for.

    Raises UsageError outside such a job, or where it runs for no request.
    """
    if environment.get("GITLAB_CI"):
        return _gitlab_job(environment)
    if environment.get("GITEA_ACTIONS") or environment.get("FORGEJO_ACTIONS"):
        return _actions_job(environment, host="gitea")
    if environment.get("GITHUB_ACTIONS"):
        return _actions_job(environment, host="github")
    raise UsageError(
        "this is no job of a code host that is known here: "
        "use `reviewbot post` with --host, --repo, --request and --commit"
    )


def require_same_workflow(host: Host, destination: Destination) -> None:
    """Raises UsageError where the request's own commit changes, or brings, what made the report.

    Such a report says what the request's author wants it to say. Where the file is the same in the
    request's newest commit, it is the same in every merge of it, and the report was made by it.
    """
    workflow = destination.made_by
    if workflow is None:
        return
    ids = [
        host.file_id(destination.repository, commit=commit, path=workflow.path)
        for commit in (workflow.trusted_commit, destination.head_commit)
    ]
    if ids[0] is None or ids[0] != ids[1]:
        raise UsageError(
            f"{destination.head_commit[:12]} does not have {workflow.path} as the default branch "
            "has it, so its report proves nothing; nothing was posted. Somebody has to look at "
            "that change, or bring the branch up to date"
        )


def requested(host: Host, destination: Destination) -> ChangeRequest:
    """The request itself, looked for where its number is not known.

    Raises UsageError where the host has no open one with this newest commit, from this repository:
    it was closed, or something newer was pushed that has a review of its own.
    """
    if destination.number is not None:
        return ChangeRequest(
            repository=destination.repository,
            number=destination.number,
            head_commit=destination.head_commit,
        )
    found = host.find_request(
        destination.repository,
        head_commit=destination.head_commit,
        head_repository=destination.head_repository,
    )
    if found is None:
        raise UsageError(
            f"no open request in {destination.repository} has {destination.head_commit[:12]} from "
            f"{destination.head_repository} as its newest commit; nothing was posted"
        )
    return found


def _gitlab_job(environment: Mapping[str, str]) -> Destination:
    number = environment.get("CI_MERGE_REQUEST_IID", "")
    if not number.isdecimal():
        raise UsageError("this job runs for no merge request: run it in a merge request pipeline")
    project = _named(environment, "CI_MERGE_REQUEST_PROJECT_PATH")
    # Where the host tries the merge out, CI_COMMIT_SHA is the merge and not the newest commit.
    newest = environment.get("CI_MERGE_REQUEST_SOURCE_BRANCH_SHA")
    return Destination(
        host="gitlab",
        server=_named(environment, "CI_SERVER_URL"),
        repository=project,
        number=int(number),
        head_commit=newest or _named(environment, "CI_COMMIT_SHA"),
        head_repository=environment.get("CI_MERGE_REQUEST_SOURCE_PROJECT_PATH") or project,
        more_at=environment.get("CI_JOB_URL") or None,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Site:
    """Where a job with the names of GitHub's variables runs."""

    host: str
    server: str
    repository: str


def _actions_job(environment: Mapping[str, str], *, host: str) -> Destination:
    event = _event(Path(_named(environment, "GITHUB_EVENT_PATH")))
    server = _named(environment, "GITHUB_SERVER_URL")
    site = _Site(host=host, server=server, repository=_named(environment, "GITHUB_REPOSITORY"))
    try:
        if "pull_request" in event:
            return _for_pull(event["pull_request"], site, environment)
        if "workflow_run" in event:
            return _after_run(event["workflow_run"], site, environment)
    except (AttributeError, KeyError, TypeError, ValueError):
        raise UsageError("the job's event file does not say what it runs for") from None
    raise UsageError("this job runs for no pull request: run it on one, or after such a run")


def _for_pull(pull: Any, site: _Site, environment: Mapping[str, str]) -> Destination:
    run = environment.get("GITHUB_RUN_ID", "")
    page = f"{site.server}/{site.repository}/actions/runs/{run}" if run.isdecimal() else None
    return Destination(
        host=site.host,
        server=site.server,
        repository=site.repository,
        number=int(pull["number"]),
        head_commit=str(pull["head"]["sha"]),
        # The fork may be gone: then it is null.
        head_repository=str((pull["head"]["repo"] or {}).get("full_name", "")),
        more_at=page if site.host == "github" else None,  # others count runs differently
    )


def _after_run(run: Any, site: _Site, environment: Mapping[str, str]) -> Destination:
    page = run.get("html_url")
    return Destination(
        host=site.host,
        server=site.server,
        repository=site.repository,
        number=None,
        head_commit=str(run["head_sha"]),
        head_repository=str(run["head_repository"]["full_name"]),
        made_by=Workflow(
            path=str(run["path"]).partition("@")[0],  # a reference may follow
            trusted_commit=_named(environment, "GITHUB_SHA"),
        ),
        more_at=None if page is None else str(page),
    )


def _event(path: Path) -> dict[str, Any]:
    try:
        if path.stat().st_size > _LARGEST_EVENT:
            raise UsageError("the job's event file is too large")
        event = json.loads(path.read_bytes())
    except (OSError, ValueError, RecursionError):
        raise UsageError("the job's event file cannot be read") from None
    if not isinstance(event, dict):
        raise UsageError("the job's event file does not say what it runs for")
    return event


def _named(environment: Mapping[str, str], name: str) -> str:
    value = environment.get(name, "")
    if not value:
        raise UsageError(f"the hosted job does not set {name}")
    return value
