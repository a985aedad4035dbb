"""The scripts of actions and example jobs, run as hosts run them, against stand-ins."""

from __future__ import annotations

import hashlib
import json
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import httpx
import pytest
import yaml
from code_host import API, OPENED, StandIn
from loopback import served
from publish.forge import WEB as FORGE_WEB
from publish.forge import Forge
from publish.lab import WEB as LAB_WEB
from publish.lab import Lab
from repositories import PLAIN, Repository

ROOT = Path(__file__).parent.parent
GITLAB = ROOT / "docs" / "examples" / "gitlab" / "reviewbot.gitlab-ci.yml"
GITEA = ROOT / "docs" / "examples" / "gitea" / "reviewbot.yml"


@pytest.mark.parametrize("script", sorted((ROOT / ".github" / "actions").rglob("*.sh")), ids=str)
def test_the_scripts_are_shell(script: Path) -> None:
    assert subprocess.run(["bash", "-n", script], check=False).returncode == 0


MESH = b"o plate\nv 0 0 0\nv 1 0 0\nv 1 1 0\nf 1 2 3\n"


class LargeFiles:
    """A server of large files, by the batch interface.

    Source: https://github.com/git-lfs/git-lfs/blob/main/docs/api/batch.md
    """

    def __init__(self, *objects: bytes) -> None:
        self.objects = {hashlib.sha256(data).hexdigest(): data for data in objects}
        self.asked: list[httpx.Request] = []

    def answer(self, request: httpx.Request) -> httpx.Response:
        self.asked.append(request)
        if not request.url.path.endswith("/info/lfs/objects/batch"):
            return httpx.Response(200, content=self.objects[request.url.path.rpartition("/")[2]])
        sent = json.loads(request.content)
        root = f"{request.url.scheme}://{request.url.netloc.decode()}"
        found = [
            {**one, "actions": {"download": {"href": f"{root}/object/{one['oid']}"}}}
            for one in sent["objects"]
        ]
        kind = {"content-type": "application/vnd.git-lfs+json"}
        return httpx.Response(
            200, content=json.dumps({"transfer": "basic", "objects": found}), headers=kind
        )


def test_large_files_come_from_the_trusted_server_only(tmp_path: Path) -> None:
    """Whatever the pull request's own settings say of servers."""
    if shutil.which("git-lfs") is None:
        pytest.skip("git-lfs is not on this machine, so nothing brings large files")
    before, after, picture = MESH, MESH + b"# again\n", b"\x89PNG no mesh"
    trusted, hostile = LargeFiles(before, after, picture), LargeFiles()
    repository = Repository(tmp_path / "clone")
    repository.folder.mkdir()
    repository.git("init", "--quiet")
    repository.git("remote", "add", "origin", "https://code.example/studio/props.git")
    repository.write(".gitattributes", b"*.obj filter=lfs\n*.png filter=lfs\n")
    with served(trusted.answer) as good, served(hostile.answer) as bad:
        repository.write(
            ".lfsconfig",
            f'[lfs]\n\turl = {bad}/mine\n[remote "origin"]\n\tlfsurl = {bad}/mine\n'.encode(),
        )
        base = commit_pointers(repository, plate=before, brass=picture)
        head = commit_pointers(repository, plate=after, brass=picture)
        environment = {
            **os.environ,
            **PLAIN,
            "BASE": base,
            "HEAD": head,
            "TOKEN": "ghs_secret",
            "GITHUB_SERVER_URL": good,
            "GITHUB_REPOSITORY": "studio/props",
        }
        done = subprocess.run(
            ["bash", str(ROOT / ".github" / "actions" / "review" / "large-files.sh")],
            cwd=repository.folder,
            env=environment,
            capture_output=True,
            text=True,
            timeout=60,
            check=False,
        )
    assert done.returncode == 0, done.stderr
    assert hostile.asked == []
    assert "ghs_secret" not in done.stdout + done.stderr
    paths = {request.url.path for request in trusted.asked}
    assert "/studio/props.git/info/lfs/objects/batch" in paths
    assert {request.headers["authorization"][:6].lower() for request in trusted.asked} == {"basic "}
    kept = {path.name for path in (repository.folder / ".git" / "lfs" / "objects").rglob("*")}
    assert {hashlib.sha256(data).hexdigest() for data in (before, after)} <= kept
    assert hashlib.sha256(picture).hexdigest() not in kept


def commit_pointers(repository: Repository, **files: bytes) -> str:
    """Commits pointers by hand, so that the bytes are nowhere on this machine."""
    for name, data in files.items():
        text = (
            "version https://git-lfs.github.com/spec/v1\n"
            f"oid sha256:{hashlib.sha256(data).hexdigest()}\nsize {len(data)}\n"
        )
        repository.write(f"{name}.{'png' if name == 'brass' else 'obj'}", text.encode())
    repository.git("add", "--all")
    repository.git("commit", "--quiet", "-m", "Export again")
    return repository.head()


def as_installed(environment: Path) -> None:
    """This very tool, where install.sh would have put it."""
    tool = environment / "bin" / "reviewbot"
    tool.parent.mkdir(parents=True)
    tool.write_text(f'#!/bin/sh\nexec "{sys.executable}" -m reviewbot "$@"\n', "utf-8")
    tool.chmod(0o755)


def shell(script: str, folder: Path, variables: dict[str, str]) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        ["bash", "--noprofile", "--norc", "-eo", "pipefail", "-c", script],
        cwd=folder,
        env={**os.environ, **PLAIN, **variables},
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )


class Runner:
    """As a host runs a composite action's own scripts; other actions' steps are left out."""

    def __init__(self, folder: Path, workspace: Path, **variables: str) -> None:
        self.temp = folder / "temp"
        self.output = folder / "output"
        self.workspace = workspace
        self.variables = variables
        as_installed(self.temp / "reviewbot-environment")

    def run(self, action: str, **inputs: str) -> list[tuple[str, int, str]]:
        """Name, status and output of each step that was run; what follows a failure is not."""
        document = yaml.safe_load((ROOT / f".github/actions/{action}/action.yml").read_text())
        given = {name: one.get("default", "") for name, one in document["inputs"].items()} | inputs
        ran: list[tuple[str, int, str]] = []
        for step in document["runs"]["steps"]:
            if "run" not in step or step["name"] == "Install" or not self._is_meant(step, given):
                continue
            done = self._shell(step, given)
            ran.append((step["name"], done.returncode, done.stdout + done.stderr))
            if done.returncode:
                break
        return ran

    def _is_meant(self, step: dict[str, Any], given: dict[str, str]) -> bool:
        asked = re.fullmatch(r"inputs\.([\w-]+) (==|!=) 'true'", step.get("if", ""))
        return asked is None or (given[asked[1]] == "true") == (asked[2] == "==")

    def _shell(
        self, step: dict[str, Any], given: dict[str, str]
    ) -> subprocess.CompletedProcess[str]:
        self.output.touch()
        told = dict(line.split("=", 1) for line in self.output.read_text("utf-8").splitlines())
        values = {
            "runner.temp": str(self.temp),
            **{f"inputs.{name}": value for name, value in given.items()},
            **{f"steps.review.outputs.{name}": value for name, value in told.items()},
        }
        blank = re.compile(r"\$\{\{ ([\w.-]+) \}\}")
        environment = {
            name: blank.sub(lambda found: values[found[1]], text)
            for name, text in step.get("env", {}).items()
        }
        own = {"GITHUB_OUTPUT": str(self.output), "RUNNER_TEMP": str(self.temp)}
        return shell(step["run"], self.workspace, {**self.variables, **environment, **own})


def faulty(folder: Path) -> tuple[Repository, str, str]:
    """A repository whose second commit doubles a face, and both commits."""
    repository = Repository(folder / "props")
    repository.folder.mkdir()
    repository.git("init", "--quiet")
    small = b"[pictures]\nviews = 4\nsize = 64\n"
    base = repository.commit({"plate.obj": MESH, "reviewbot.toml": small})
    return repository, base, repository.commit({"plate.obj": MESH + b"f 1 2 3\n"})


def test_the_actions_do_what_they_say(tmp_path: Path) -> None:
    """From a pull request with a fault to a red job, a comment, and the pictures' end."""
    workflow = ".github/workflows/reviewbot-review.yml"
    repository, base, head = faulty(tmp_path)
    runner = Runner(tmp_path, repository.folder)
    ran = runner.run("review", base=base, head=head, **{"large-files": "false", "token": "x"})
    assert [(name, status) for name, status, _ in ran] == [("Review", 0), ("Hold to the gate", 1)]
    report = runner.temp / "reviewbot-report"
    assert json.loads((report / "report.json").read_text("utf-8"))["verdict"] == "stop"

    pull = {**OPENED["pull_request"], "auto_merge": None, "number": 2}
    source = {**pull["head"]["repo"], "full_name": "guest/props"}
    host = StandIn(is_odd=True)
    host.pulls = [{**pull, "head": {**pull["head"], "sha": head, "repo": source}}]
    host.files = {(commit, workflow): "name: review" for commit in ("f" * 40, head)}
    run = {"head_sha": head, "head_repository": {"full_name": "guest/props"}, "path": workflow}
    event = tmp_path / "event.json"
    with served(host.answer, below="/api/v3", seen_as=API) as address:
        runner.variables = {
            "GITHUB_ACTIONS": "true",
            "GITHUB_EVENT_PATH": str(event),
            "GITHUB_REPOSITORY": "studio/props",
            "GITHUB_SERVER_URL": address,
            "GITHUB_SHA": "f" * 40,
        }
        event.write_text(json.dumps({"workflow_run": run}), encoding="utf-8")
        (repository.folder / "lax.toml").write_text('[gate]\nfail_on = "never"\n', "utf-8")
        for settings in ("lax.toml", "missing.toml"):
            ran = runner.run("post", report=str(report), settings=settings, token="ghs_secret")
            assert [(name, status) for name, status, _ in ran] == [("Post", 0)], ran
        assert len(host.comments) == len(host.refs) == 1
        assert [status["state"] for status in host.statuses] == ["success", "failure"]
        event.write_text(json.dumps({**OPENED, "action": "closed"}), encoding="utf-8")
        ran = runner.run("post", remove="true", token="ghs_secret")
        assert [(name, status) for name, status, _ in ran] == [("Drop pictures", 0)], ran
    assert host.refs == {}


def test_a_review_that_cannot_run_is_no_finding(tmp_path: Path) -> None:
    repository = Repository(tmp_path / "props")
    repository.folder.mkdir()
    repository.git("init", "--quiet")
    head = repository.commit({"plate.obj": MESH})
    runner = Runner(tmp_path, repository.folder)
    ran = runner.run("review", base="f" * 40, head=head, **{"large-files": "false", "token": "x"})
    assert [(name, status) for name, status, _ in ran] == [("Review", 2)]


@pytest.mark.parametrize("token", ["ghs_secret", ""], ids=["member", "fork"])
def test_the_gitlab_example_does_what_it_says(tmp_path: Path, token: str) -> None:
    repository, base, head = faulty(tmp_path)
    if token:
        repository.git("clone", "--quiet", "--bare", ".", str(tmp_path / "lab.git"))
        repository.git("remote", "add", "origin", str(tmp_path / "lab.git"))
        repository.git("push", "--quiet", "origin", f"{base}:refs/heads/main")
    as_installed(tmp_path / "environment")
    job = yaml.safe_load(GITLAB.read_text("utf-8"))["reviewbot"]
    lab = Lab(token=token)
    with served(lab.answer, seen_as=LAB_WEB) as address:
        variables = {
            "GITLAB_CI": "true",
            "CI_BUILDS_DIR": str(tmp_path),
            "CI_COMMIT_SHA": head,
            "CI_MERGE_REQUEST_DIFF_BASE_SHA": base,
            "CI_MERGE_REQUEST_IID": "3",
            "CI_MERGE_REQUEST_PROJECT_PATH": "studio/sets/props",
            "CI_MERGE_REQUEST_TARGET_BRANCH_NAME": "main",
            "CI_SERVER_URL": address,
            "REVIEWBOT_TOKEN": token,
        }
        done = shell("\n".join(job["script"]), repository.folder, variables)
    assert done.returncode == 1, done.stderr
    assert (len(lab.notes), len(lab.statuses)) == ((1, 1) if token else (0, 0))
    kept = repository.folder / job["artifacts"]["paths"][0] / "report.html"
    assert kept.is_file()
    assert (repository.folder / job["artifacts"]["reports"]["junit"]).is_file()


def test_the_gitea_example_does_what_it_says(tmp_path: Path) -> None:
    repository, base, head = faulty(tmp_path)
    as_installed(tmp_path / "environment")
    job = yaml.safe_load(GITEA.read_text("utf-8"))["jobs"]["review"]
    named = {step.get("name"): step for step in job["steps"]}
    forge, event = Forge(), tmp_path / "event.json"
    pull = {**OPENED["pull_request"], "number": 2}
    pull["head"] = {**pull["head"], "sha": head}
    event.write_text(json.dumps({**OPENED, "pull_request": pull}), encoding="utf-8")
    with served(forge.answer, seen_as=FORGE_WEB) as address:
        variables = {
            "BASE": base,
            "GITEA_ACTIONS": "true",
            "GITHUB_EVENT_PATH": str(event),
            "GITHUB_REPOSITORY": "studio/props",
            "GITHUB_SERVER_URL": address,
            "HEAD": head,
            "REVIEWBOT_TOKEN": "ghs_secret",
            "RUNNER_TEMP": str(tmp_path),
        }
        done = shell(named["Review"]["run"], repository.folder, variables)
        assert done.returncode == 1, done.stderr
        assert len(forge.common.comments) == len(forge.common.statuses) == 1
        assert forge.attachments
        dropping = named["Drop pictures"]["run"]
        calls = len(forge.seen)
        assert (
            shell(dropping, repository.folder, variables | {"REVIEWBOT_TOKEN": ""}).returncode == 0
        )
        assert len(forge.seen) == calls
        assert shell(dropping, repository.folder, variables).returncode == 0
    assert forge.attachments == {}
