"""Posting as hosted jobs do it: the real command, its own process, a stand-in host on a socket.

The stand-ins hold what they are sent to the published descriptions; see code_host.py, lab.py and
forge.py.
"""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

import httpx
import pytest
from code_host import API, BOT, OPENED, StandIn
from loopback import served
from publish.forge import WEB as FORGE_WEB
from publish.forge import Forge
from publish.lab import BOT as LAB_BOT
from publish.lab import WEB as LAB_WEB
from publish.lab import Lab
from report.sample import lantern_report, picture_bytes
from repositories import PLAIN, Repository

from reviewbot.publish.folder import write_report

TOKEN = "ghs_0123456789secretTOKEN"
GOOD = "o plate\nv 0 0 0\nv 1 0 0\nv 1 0 1\nv 0 0 1\nf 4 3 2 1\n"
FEW_AND_SMALL = b"[pictures]\nviews = 4\nsize = 64\n"
# The last face lies on the first one once more.
BROKEN = GOOD + "f 4 3 2 1\nv 5 5 5\n"
Answer = Callable[[httpx.Request], httpx.Response]


@dataclass
class Watch:
    """Stands between the wire and a stand-in: who carried the token, and who could have seen it.

    carried  headers that held the token
    seen     command lines and addresses that did
    """

    host: Answer
    carried: set[str] = field(default_factory=set)
    seen: list[str] = field(default_factory=list)
    calls: int = 0

    def answer(self, request: httpx.Request) -> httpx.Response:
        self.calls += 1
        self.carried |= {name for name, value in request.headers.items() if TOKEN in value}
        self.seen += [line for line in (*command_lines(), str(request.url)) if TOKEN in line]
        assert TOKEN.encode() not in request.content
        return self.host(request)


def command_lines() -> Iterator[str]:
    """Of every process on this machine."""
    for file in Path("/proc").glob("[0-9]*/cmdline"):
        try:
            yield file.read_bytes().replace(b"\0", b" ").decode("utf-8", "replace")
        except OSError:
            continue  # it has ended


@dataclass
class Job:
    """A hosted job: its folder, its repository with two commits, its variables."""

    folder: Path
    repository: Repository
    variables: dict[str, str]

    def run(self, *words: str, token: str = TOKEN) -> subprocess.CompletedProcess[str]:
        kept = {name: os.environ[name] for name in ("PATH", "HOME", "LANG") if name in os.environ}
        return subprocess.run(
            [sys.executable, "-m", "reviewbot", *words],
            cwd=self.folder,
            env={**kept, **PLAIN, **self.variables, "REVIEWBOT_TOKEN": token},
            capture_output=True,
            text=True,
            timeout=120,
            check=False,
        )

    def review(self, *words: str, **more: str) -> subprocess.CompletedProcess[str]:
        place = ("--out", str(self.folder / "out"), "--workers", "1")
        return self.run("review", str(self.repository.folder), *place, *words, **more)

    def texts(self) -> Iterator[str]:
        for file in self.folder.rglob("*"):
            if file.is_file():
                yield file.read_bytes().decode("latin-1")


@pytest.fixture
def job(tmp_path: Path) -> Job:
    repository = Repository(tmp_path / "props")
    repository.folder.mkdir()
    repository.git("init", "--quiet")
    repository.commit({"plate.obj": GOOD.encode(), "reviewbot.toml": FEW_AND_SMALL})
    head = repository.commit({"plate.obj": BROKEN.encode()})
    pull = OPENED["pull_request"]
    event = {**OPENED, "pull_request": {**pull, "head": {**pull["head"], "sha": head}}}
    (tmp_path / "event.json").write_text(json.dumps(event), encoding="utf-8")
    variables = {
        "GITHUB_ACTIONS": "true",
        "GITHUB_REPOSITORY": "studio/props",
        "GITHUB_EVENT_PATH": str(tmp_path / "event.json"),
        "GITHUB_STEP_SUMMARY": str(tmp_path / "summary.md"),
    }
    return Job(folder=tmp_path, repository=repository, variables=variables)


@contextmanager
def github(job: Job, host: StandIn) -> Iterator[Watch]:
    """The stand-in as GitHub Enterprise has it: below /api/v3."""
    watch = Watch(host=host.answer)
    with served(watch.answer, below="/api/v3", seen_as=API) as address:
        job.variables["GITHUB_SERVER_URL"] = address
        yield watch


def test_a_review_is_posted_once_and_then_replaced(job: Job) -> None:
    host = StandIn()
    host.add_comment("mallory", "<!-- reviewbot review -->\nAll is well.")
    with github(job, host) as watch:
        first = job.review("--post")
        assert first.returncode == 1, first.stderr
        (ref,) = host.refs.values()
        assert host.commits[ref]["parents"] == []
        second = job.review("--post")
    assert second.returncode == 1, second.stderr
    bodies = [c["body"] for c in host.comments.values() if c["user"]["login"] == BOT]
    assert len(bodies) == 1
    assert "plate.obj" in bodies[0]
    assert len(host.comments) == 2
    assert list(host.refs) == ["reviewbot/pull/2"]
    (commit,) = host.refs.values()
    assert all(commit in address for address in re.findall(r'src="([^"]+)"', bodies[0]))
    assert f"/blob/{commit}/" in bodies[0]
    assert [(s["sha"], s["state"], s["context"]) for s in host.statuses] == [
        (job.repository.head(), "failure", "reviewbot")
    ]
    assert "plate.obj" in (job.folder / "summary.md").read_text("utf-8")
    assert_kept_secret(job, watch, {"authorization"}, first, second)


def assert_kept_secret(
    job: Job,
    watch: Watch,
    headers: set[str],
    *runs: subprocess.CompletedProcess[str],
) -> None:
    assert watch.calls > 0
    assert watch.carried == headers
    assert watch.seen == []
    for run in runs:
        assert TOKEN not in run.stdout + run.stderr
    assert not any(TOKEN in text for text in job.texts())


def test_the_two_jobs_of_a_fork(job: Job) -> None:
    """One reviews without a token, the other posts what it kept, and later drops the pictures."""
    workflow = ".github/workflows/reviewbot-review.yml"
    trusted, head = "f" * 40, job.repository.head()
    host = StandIn(is_odd=True)
    pull = {**OPENED["pull_request"], "auto_merge": None, "number": 2}
    source = {**pull["head"]["repo"], "full_name": "guest/props"}
    host.pulls = [{**pull, "head": {**pull["head"], "sha": head, "repo": source}}]
    host.files = {(trusted, workflow): "name: review", (head, workflow): "name: review"}
    untrusted = job.review(token="")
    assert untrusted.returncode == 1
    page = "https://github.com/studio/props/actions/runs/7"
    run = {"head_sha": head, "head_repository": {"full_name": "guest/props"}, "path": workflow}
    run["html_url"] = page
    (job.folder / "event.json").write_text(json.dumps({"workflow_run": run}), encoding="utf-8")
    job.variables["GITHUB_SHA"] = trusted
    settings = job.folder / "reviewbot.toml"
    settings.write_text('[gate]\nfail_on = "never"\n', encoding="utf-8")
    with github(job, host) as watch:
        posted = job.run("post", str(job.folder / "out"), "--settings", str(settings))
        assert posted.returncode == 0, posted.stderr
        assert [s["state"] for s in host.statuses] == ["success"]  # by the trusted gate
        (comment,) = host.comments.values()
        assert f"]({page})" in comment["body"]
        host.files[head, workflow] = "name: review\n# forged"
        forged = job.run("post", str(job.folder / "out"))
        assert forged.returncode == 2
        assert "proves nothing" in forged.stderr
        assert len(host.statuses) == len(host.comments) == 1
        event = {"action": "closed", **OPENED}
        (job.folder / "event.json").write_text(json.dumps(event), encoding="utf-8")
        assert host.refs
        for _ in range(2):  # a second time finds nothing, and that is fine
            dropped = job.run("post", "--remove")
            assert dropped.returncode == 0, dropped.stderr
    assert host.refs == {}
    assert_kept_secret(job, watch, {"authorization"}, untrusted, posted, forged, dropped)


def test_a_dry_run_shows_what_would_be_sent_and_sends_nothing(job: Job) -> None:
    host = StandIn()
    with github(job, host) as watch:
        done = job.review("--post", "--dry-run", token="")
    assert done.returncode == 1
    assert "comment on studio/props, request 2" in done.stderr
    assert f"status of {job.repository.head()} in studio/props: failed" in done.stderr
    assert watch.calls == 0


def test_a_host_that_refuses_ends_in_one_line(job: Job) -> None:
    words = {"message": "Bad credentials"}
    watch = Watch(host=lambda _: httpx.Response(401, json=words))
    with served(watch.answer) as address:
        job.variables["GITHUB_SERVER_URL"] = address
        done = job.review("--post", "--quiet")
    assert done.returncode == 2
    last = done.stderr.splitlines()[-1]
    assert re.fullmatch(r"reviewbot: POST /repos/.*401: Bad credentials", last)
    assert (job.folder / "out" / "report.json").is_file()  # the review itself is there
    assert_kept_secret(job, watch, {"authorization"}, done)


def test_a_merge_request_s_pipeline(job: Job) -> None:
    lab = Lab(token=TOKEN)
    watch = Watch(host=lab.answer)
    with served(watch.answer, seen_as=LAB_WEB) as address:
        job.variables = {
            "GITLAB_CI": "true",
            "CI_SERVER_URL": address,
            "CI_MERGE_REQUEST_IID": "3",
            "CI_MERGE_REQUEST_PROJECT_PATH": "studio/sets/props",
            "CI_COMMIT_SHA": job.repository.head(),
        }
        runs = [job.review("--post"), job.run("post", str(job.folder / "out"))]
        kept = len(lab.uploads)
        dropped = job.run("post", "--remove")
    assert [run.returncode for run in runs] == [1, 0], runs[0].stderr
    (note,) = lab.notes.values()
    assert note["author"]["username"] == LAB_BOT
    assert "plate.obj" in note["body"]
    assert [s["state"] for s in lab.statuses] == ["failed"]  # the second says the same
    assert kept > 0
    assert dropped.returncode == 0, dropped.stderr
    assert lab.uploads == {}
    assert_kept_secret(job, watch, {"private-token"}, *runs, dropped)


def test_a_pull_request_on_gitea(job: Job) -> None:
    forge = Forge()
    watch = Watch(host=forge.answer)
    report = lantern_report()
    write_report(report, picture_bytes(report), job.folder / "out")
    with served(watch.answer, seen_as=FORGE_WEB) as address:
        job.variables |= {"GITEA_ACTIONS": "true", "GITHUB_SERVER_URL": address}
        runs = [job.run("post", str(job.folder / "out")) for _ in range(2)]
        kept = len(forge.attachments)
        dropped = job.run("post", "--remove")
    assert [run.returncode for run in runs] == [0, 0], runs[0].stderr
    (comment,) = forge.common.comments.values()
    assert comment["body"].startswith("<!-- reviewbot review -->")
    assert [s["state"] for s in forge.common.statuses] == ["failure"]
    assert kept > 0
    assert dropped.returncode == 0, dropped.stderr
    assert forge.attachments == {}
    assert_kept_secret(job, watch, {"authorization"}, *runs, dropped)


def test_what_is_missing_is_said(job: Job) -> None:
    job.variables = {}
    outside = job.run("post", "out")
    assert (outside.returncode, outside.stdout) == (2, "")
    assert "--host" in outside.stderr
    nothing = job.run("post", "--host", "github", "--repo", "studio/props", "--commit", "a" * 40)
    assert nothing.returncode == 2
    assert "name the report" in nothing.stderr
    unnumbered = job.run("post", "--remove", "--host", "github", "--repo", "studio/props")
    assert unnumbered.returncode == 2
    assert "--request" in unnumbered.stderr
